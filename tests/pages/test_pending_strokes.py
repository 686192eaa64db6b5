"""Between an upload and its trends: strokes say that the trend is still to come, and stop saying it."""

from collections.abc import Callable
from datetime import datetime

import pytest
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.unit import Store
from service.usecases.condition.trend import assess_trends
from tests.builders import Plant, build_plant
from tests.condition.histories import read_monthly
from tests.doors import browser_as, open_app
from tests.pages.standing_builders import set_state, stand
from tests.pages.test_standing import page, text_of

BAR = '<path class="pending" d="M'


@pytest.fixture
def plant(store: Store) -> Plant:
    made = build_plant(store, sites=1, views=2)
    stand(store, made)
    return made


@pytest.fixture
def engineer(store: Store, plant: Plant, now: datetime, clock: Callable[[], datetime]) -> TestClient:
    return browser_as(open_app(store, clock), store, plant, Role.ENGINEER, now)


def strips(html: str) -> str:
    """What is drawn, without the legend that is always there."""
    return html[html.index('<svg class="strip"') : html.index("standing-legend")]


@pytest.mark.parametrize("path", ["/", "/standing/sites/{}"])
def test_a_pending_trend_is_a_bar_in_the_drawing_and_a_word_for_readers(
    engineer: TestClient, store: Store, plant: Plant, path: str
) -> None:
    """Symptom: the stroke of a point whose trend was pending looked like any other."""
    path = path.format(plant.site_ids[0])
    assert BAR not in strips(page(engineer, path))
    set_state(store, plant.point_ids[0], pending=True, level=2, trend="rising")
    set_state(store, plant.point_ids[1], pending=True)
    html = page(engineer, path)
    assert strips(html).count(BAR) == 1
    assert "trend being worked out" in strips(html)
    assert "2\u00a0trends are being worked out." in html
    assert "a bar under the floor: its trend is being worked out" in text_of(html)


def test_the_table_of_a_site_tells_no_trend_that_is_being_worked_out(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    set_state(store, plant.point_ids[0], pending=True, trend="rising")
    html = page(engineer, f"/standing/sites/{plant.site_ids[0]}")
    assert "<td>being worked out</td>" in html
    assert "<td>rising</td>" not in html


def test_the_bar_goes_as_soon_as_the_trend_is_there(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    read_monthly(store, plant.point_ids[0], [0.2, 0.3, 0.2, 0.3])
    set_state(store, plant.point_ids[0], pending=True)
    assert BAR in strips(page(engineer))
    assess_trends(store, point_ids=plant.point_ids[:1], now=now)
    assert BAR not in strips(page(engineer))


def test_an_earlier_day_has_no_trends_to_come(engineer: TestClient, store: Store, plant: Plant) -> None:
    set_state(store, plant.point_ids[0], pending=True)
    assert BAR not in strips(page(engineer, "/?as_at=2026-11-01"))
