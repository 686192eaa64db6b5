"""A point's page shows its fan, its outliers and what it said before."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.domain.words import Role
from service.pages.point_verdicts import said_before
from service.storage.tables.people import PersonRow
from service.storage.unit import Store
from service.trends.policy import METHOD
from service.usecases.condition.point_history import VERDICTS
from service.usecases.condition.trend import assess_trends
from tests.builders import Plant, build_plant
from tests.condition.histories import FIRST_VISIT, MONTH, read_monthly
from tests.domain.test_trend_verdicts import RISING, STEADY
from tests.doors import browser_as, open_app
from tests.pages.standing_builders import set_state
from tests.pages.test_standing import page, text_of

LEVEL = [0.2, 0.1, 0.3, 0.2, 0.1, 0.3]
CLIMB = [1.9, 3.2, 4.0, 5.1, 6.2]


@pytest.fixture
def plant(store: Store) -> Plant:
    return build_plant(store, sites=1, views=2)


@pytest.fixture
def app(store: Store, clock: Callable[[], datetime]) -> FastAPI:
    return open_app(store, clock)


@pytest.fixture
def engineer(app: FastAPI, store: Store, plant: Plant, now: datetime) -> TestClient:
    return browser_as(app, store, plant, Role.ENGINEER, now)


@pytest.fixture
def risen(store: Store, plant: Plant, now: datetime) -> int:
    """Steady until the summer of 2026, rising until now; told twice."""
    point = plant.point_ids[0]
    read_monthly(store, point, LEVEL, first=FIRST_VISIT + 11 * MONTH)
    assess_trends(store, point_ids=[point], now=datetime(2026, 6, 1, 9, tzinfo=UTC))
    read_monthly(store, point, CLIMB, first=FIRST_VISIT + 17 * MONTH)
    assess_trends(store, point_ids=[point], now=now)
    return point


def test_the_fan_is_drawn_under_the_bracket_and_told_in_words(engineer: TestClient, risen: int) -> None:
    html = page(engineer, f"/points/{risen}")
    assert html.count('class="fan fan-') >= 4
    assert html.index('class="fan fan-') < html.index('class="bracket bracket-4"')
    assert "where it may go, nine in ten" in html
    assert re.search(
        r"In \w+ 202\d it may stand anywhere from [\d.]+ K to .*: nine chances in ten\.", text_of(html)
    )


def test_while_a_trend_is_worked_out_again_no_fan_stands(
    engineer: TestClient, store: Store, risen: int
) -> None:
    set_state(store, risen, pending=True)
    html = page(engineer, f"/points/{risen}")
    assert 'class="fan' not in html
    assert "it may stand anywhere" not in html


def test_a_point_that_does_not_worsen_has_no_fan(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    point = plant.point_ids[0]
    read_monthly(store, point, LEVEL)
    assess_trends(store, point_ids=[point], now=now)
    assert 'class="fan' not in page(engineer, f"/points/{point}")


def test_in_fahrenheit_the_fan_is_told_in_its_differences(
    engineer: TestClient, store: Store, risen: int
) -> None:
    with store.begin() as unit:
        for person in unit.session.query(PersonRow):
            person.temperature_unit = "f"
    assert re.search(r"it may stand anywhere from [\d.]+ °F to", text_of(page(engineer, f"/points/{risen}")))


def test_an_outlier_is_marked_on_the_drawing_and_in_its_row_and_stays(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    point = plant.point_ids[0]
    read_monthly(store, point, [*LEVEL, 9.5, *LEVEL])
    assess_trends(store, point_ids=[point], now=now)
    html = page(engineer, f"/points/{point}?visits=all")
    # on the wide sheet and in its legend; the year's visits of the narrow one end before it or hold it too
    assert html.count('class="apart"') >= 2
    rows = re.findall(r"<tr[^>]*>.*?</tr>", html[html.index('id="visits"') :], re.DOTALL)
    marked = [row for row in rows if "those about it" in row]
    assert len(marked) == 1
    assert "9.5" in marked[0]
    assert re.search(r"Lies 9\.\d K over those about it\. Kept in every figure\.", text_of(marked[0]))
    assert "lies apart from those about it; kept in every figure" in html


def test_what_was_said_before_is_one_click_away_with_its_cause(engineer: TestClient, risen: int) -> None:
    html = page(engineer, f"/points/{risen}")
    block = html[html.index('id="said-before"') :]
    block = text_of(block[: block.index("</details>")])
    assert "<details" in html[html.index('id="said-before"') - 40 :][:60]
    assert "Steady over six visits" in block or "Steady over 6 visits" in block
    assert "A reading off the round came in." in block
    assert "1 Jun 2026 to" in block
    assert METHOD in block


def test_a_point_that_always_said_the_same_has_no_such_block(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    point = plant.point_ids[0]
    read_monthly(store, point, LEVEL)
    assess_trends(store, point_ids=[point], now=now)
    assert "said-before" not in page(engineer, f"/points/{point}")


def test_of_many_verdicts_the_latest_are_told_each_with_its_cause() -> None:
    many = [replace(RISING, slope_k_month=0.5 + k / 10) for k in range(VERDICTS + 1)]
    told = said_before(many, "UTC")
    assert len(told) == VERDICTS
    assert all(row.because != "The first that is kept." for row in told)
    assert said_before(many[:3], "UTC")[-1].because == "The first that is kept."


def test_a_forecast_of_then_is_told_as_of_then() -> None:
    """Its early end has passed by now; on the day it was told it lay ahead."""
    later = STEADY.__class__(**{name: getattr(STEADY, name) for name in STEADY.__slots__})
    told = said_before((later, RISING), "UTC")
    assert "March 2027 to May 2029" in told[1].when
    assert told[0].when == ""
    assert told[1].days == "25 Nov 2026 to 25 Nov 2026"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"round_id": 9, "round_code": "M-0711", "newest_on": RISING.newest_on + timedelta(days=30)}, "Round M-0711 came in."),
        ({"method": "shape-bank/2"}, "The rule became shape-bank/2."),
        ({"criteria_id": 2, "criteria": "Own, version 3"}, "The criteria became Own, version 3."),
        ({"episode": 1}, "A repair or another cut began a new series."),
        ({"slope_k_month": 0.9}, "Earlier visits were corrected or evaluated again"),
    ],
    ids=["round", "rule", "criteria", "repair", "revised"],
)  # fmt: skip
def test_each_cause_has_its_sentence(change: dict[str, object], words: str) -> None:
    after = replace(RISING, **change)  # type: ignore[arg-type]
    assert said_before((after, RISING), "UTC")[0].because.startswith(words)
