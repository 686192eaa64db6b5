"""The list of called points: order, what is expected to be false, and who may see it."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime

import numpy as np
import pytest
from scipy.stats import false_discovery_control

from service.domain.called import CalledPlace, CalledPoint, CalledPoints
from service.domain.words import Level, ReferenceKind, Role, Trend
from service.errors import NotFound
from service.pages import hindsight as page_words
from service.storage.unit import Store
from service.trends.discovery import chance_of_z, divisor_for
from service.usecases.condition.called import see_called_points
from tests.builders import build_plant
from tests.doors import browser_as, open_app
from tests.pages.standing_builders import set_state
from tests.pages.test_standing import page, text_of

PLACE = CalledPlace(1, "Site, Board, L2 (T)", Trend.RISING, Level.LOOK_AGAIN, 6.2, date(2026, 3, 1), 0.4)
ROW = CalledPoint(PLACE, ReferenceKind.LIKE_PARTS, 12, 0.0001, 0.01)


def scored(store: Store, point_ids, **fields: object) -> None:
    """Scores of the first points 12, 11, 10 ... of 20 visits, rising; the fourth is only first seen."""
    for k, point_id in enumerate(point_ids):
        made: dict[str, object] = {
            "trend": Trend.RISING.value if k < 3 else Trend.STEADY.value, "trend_z": 12.0 - k if k < 3 else 0.5 + 0.1 * k,
            "trend_visits": 20, "reference": ReferenceKind.LIKE_PARTS.value, "level": 1,
            "trend_risen_k": 6.0 - k, "trend_onset_on": date(2026, 3, 1),
        }  # fmt: skip
        set_state(store, point_id, **(made | fields))


def test_the_surest_comes_first_and_every_scored_point_counts_as_tried(store: Store) -> None:
    """The shares against scipy.stats.false_discovery_control, a reference library."""
    plant = build_plant(store, sites=2, views=3)
    scored(store, plant.point_ids)
    found = see_called_points(store, plant.actor())
    assert found.scored == len(plant.point_ids)
    assert [row.place.point_id for row in found.points] == list(plant.point_ids[:3])
    z = np.array([12.0 - k if k < 3 else 0.5 + 0.1 * k for k in range(len(plant.point_ids))])
    chances = chance_of_z(z, np.full(len(z), 20), divisor=divisor_for("joint"))
    expected = false_discovery_control(chances)[:3]
    np.testing.assert_allclose([row.false_share for row in found.points], expected, rtol=1e-12)
    np.testing.assert_allclose([row.by_chance for row in found.points], chances[:3], rtol=1e-12)


def test_a_pending_trend_is_not_called_and_still_counts_as_tried(store: Store) -> None:
    plant = build_plant(store)
    scored(store, plant.point_ids)
    set_state(store, plant.point_ids[0], pending=True)
    found = see_called_points(store, plant.actor())
    assert plant.point_ids[0] not in [row.place.point_id for row in found.points]
    assert found.scored == len(plant.point_ids)


def test_one_site_is_listed_alone_and_a_strange_one_is_not_found(store: Store) -> None:
    plant = build_plant(store, sites=2)
    scored(store, plant.point_ids)
    alone = see_called_points(store, plant.actor(), site_id=plant.site_ids[1])
    assert alone.scored < len(plant.point_ids)
    with pytest.raises(NotFound):
        see_called_points(store, plant.actor(), site_id=99_999)


def test_without_any_score_there_is_an_empty_list(store: Store) -> None:
    assert see_called_points(store, build_plant(store).actor()) == CalledPoints(0, ())


def listed(*shares: float) -> CalledPoints:
    return CalledPoints(650, tuple(replace(ROW, false_share=share) for share in shares))


def test_the_words_tell_how_many_and_how_many_of_them_are_expected_to_be_false() -> None:
    def said(called: CalledPoints) -> str:
        return page_words.called_words(called).replace("\N{NO-BREAK SPACE}", " ")

    assert said(listed()) == "No point is called, of 650 points with visits enough."
    assert "is called. It stands in a list" in said(listed(0.001))
    assert (
        "All stand in a list of which at most 5 % is expected to be false: that is fewer than one."
        in said(listed(0.001, 0.01))
    )
    assert "that is about two." in said(listed(*[0.001] * 39, 0.05))
    rest = said(listed(0.01, 0.02, 0.4))
    assert "The first two stand in a list of which at most 5" in rest
    assert rest.endswith("Of the other one more may be chance.")
    assert "None is sure enough" in said(listed(0.4))


def test_the_page_lists_them_and_draws_the_edge_of_the_list_that_holds(
    store: Store, clock: Callable[[], datetime], now: datetime
) -> None:
    plant = build_plant(store, sites=1, views=3)
    scored(store, plant.point_ids)
    set_state(store, plant.point_ids[2], trend_z=3.0)
    engineer = browser_as(open_app(store, clock), store, plant, Role.ENGINEER, now)
    html = page(engineer, "/reports/trends")
    block = html[html.index('id="called-title"') : html.index('id="lines-title"')]
    links = [block.index(f'href="/points/{point}"') for point in plant.point_ids[:3]]
    assert links == sorted(links)
    edge = block.index('class="divider"')
    assert links[1] < edge < links[2]
    assert "Rising: 6.0 K since March 2026" in text_of(block)
