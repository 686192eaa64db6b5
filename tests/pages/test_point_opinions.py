"""Second opinions on a point's page: one click away, each with its reason where it is silent."""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.domain.second_opinions import (
    ChangeOpinion,
    ChartOpinion,
    OrderOpinion,
    RelatedOpinion,
    SlopeOpinion,
)
from service.domain.words import Role
from service.pages import view
from service.pages.point_opinions import opinions_told
from service.storage.tables.people import PersonRow
from service.storage.tables.register import SeriesCutRow
from service.storage.unit import Store
from service.trends.unsaid import Unsaid
from service.usecases.condition.point_history import see_point_history
from service.usecases.condition.second_opinions import second_opinions
from tests.builders import Plant, build_plant
from tests.doors import browser_as, open_app
from tests.pages.standing_builders import months_before, set_state, visit
from tests.pages.test_standing import page, text_of

LEVEL = (4.0, 4.6, 3.7, 4.2, 4.4, 3.9, 4.1, 4.5, 3.8, 4.3, 4.7, 3.6)


@pytest.fixture
def plant(store: Store) -> Plant:
    return build_plant(store, sites=1, views=2)


@pytest.fixture
def app(store: Store, clock: Callable[[], datetime]) -> FastAPI:
    return open_app(store, clock)


@pytest.fixture
def engineer(app: FastAPI, store: Store, plant: Plant, now: datetime) -> TestClient:
    return browser_as(app, store, plant, Role.ENGINEER, now)


def read(store: Store, plant: Plant, rises: Sequence[float], *, u_k: float | None = 0.5) -> int:
    """Rises at common load, one every thirty days, the last on 17 November 2026."""
    point_id = plant.point_ids[1]
    for step, rise in enumerate(rises):
        at = months_before(len(rises) - 1 - step)
        visit(store, point_id, at, value_k=rise * 0.5, common_k=rise, u_k=u_k, u_common_k=u_k)
    set_state(store, point_id, level=0, reference="over like parts", trend="steady", trend_visits=len(rises))
    return point_id


def rows(html: str) -> dict[str, tuple[str, str]]:
    """What each opinion says, and its figures."""
    block = html.split('id="opinions"')[1].split("</details>")[0]
    found = re.findall(r'<th scope="row">(.*?)</th><td>(.*?)</td><td class="muted">(.*?)</td>', block)
    return {name: (text_of(says), text_of(figures)) for name, says, figures in found}


def opinions(store: Store, plant: Plant, now: datetime, point_id: int):
    return second_opinions(see_point_history(store, plant.actor(), point_id=point_id, now=now))


# ---- the block ------------------------------------------------------------------------------------


def test_the_block_is_closed_and_needs_no_script(engineer: TestClient, store: Store, plant: Plant) -> None:
    html = page(engineer, f"/points/{read(store, plant, LEVEL)}")
    assert '<details class="as-table" id="opinions"><summary>Second opinions</summary>' in html
    said = text_of(html)
    assert "These do not decide the trend. They are what an engineer may know from elsewhere." in said
    assert (
        "Worked out on 12 visits since 22 Dec 2025, as drawn: what a round shares is still in them." in said
    )
    assert len(rows(html)) == 8


def test_each_opinion_says_when_it_has_too_few_visits(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    found = rows(page(engineer, f"/points/{read(store, plant, LEVEL[:4])}"))
    assert {name: says for name, (says, figures) in found.items() if not figures} == {
        "Theil–Sen slope": "Needs 5 visits; four so far.",
        "Mann–Kendall test": "Needs 5 visits; four so far.",
        "Mann–Kendall after Hamed and Rao": "Needs 20 visits; four so far.",
        "Change of level after Pettitt": "Needs 20 visits; four so far.",
        "CUSUM": "Needs 6 visits; four so far.",
        "EWMA": "Needs 6 visits; four so far.",
        "Local linear trend, Kalman filter": "Needs 5 visits; four so far.",
        "Outliers after Hampel": "Needs 7 visits; four so far.",
    }


def test_a_point_never_read_has_no_second_opinions(engineer: TestClient, plant: Plant) -> None:
    assert 'id="opinions"' not in page(engineer, f"/points/{plant.point_ids[1]}")


def test_a_level_series_says_so_in_every_way(engineer: TestClient, store: Store, plant: Plant) -> None:
    found = rows(page(engineer, f"/points/{read(store, plant, LEVEL * 2)}"))
    assert found["Theil–Sen slope"][0] == "No clear direction: its range takes in no change at all."
    assert found["Mann–Kendall test"][0].startswith("No clear order: chance alone does as much in ")
    assert "tied pairs" in found["Mann–Kendall test"][1]
    assert found["Mann–Kendall test"][1].endswith("one-sided and by the normal law")
    assert found["Change of level after Pettitt"][0] == "No change of level stands out."
    assert found["CUSUM"][0] == found["EWMA"][0] == "Within its line."
    assert found["Outliers after Hampel"][0] == "No visit lies apart from those about it."


def test_a_rising_series_says_so_in_every_way(engineer: TestClient, store: Store, plant: Plant) -> None:
    rising = [value + max(0, k - 9) * 1.0 for k, value in enumerate(LEVEL * 2)]
    found = rows(page(engineer, f"/points/{read(store, plant, rising)}"))
    assert re.match(r"Rises by 0\.\d K a month\.", found["Theil–Sen slope"][0])
    assert re.match(r"0\.\d K a month \(0\.\d to 0\.\d\), nine chances in ten", found["Theil–Sen slope"][1])
    assert found["Mann–Kendall test"][0] == "Rises: chance alone would order visits so in under 1 % of cases."
    assert found["Mann–Kendall after Hamed and Rao"][0].startswith("With neighbours that resemble each other")
    assert re.match(
        r"Another level after \d+ \w+ 202[56]: [\d.]+ K before, [\d.]+ K since",
        found["Change of level after Pettitt"][0],
    )
    assert re.match(r"Over its line since \d+ \w+ 202[56], upwards\.", found["CUSUM"][0])
    assert "in standard deviations from 4.1 K, the median of the first four visits" in found["CUSUM"][1]
    assert re.match(
        r"Rises by [\d.]+ K a month at the last visit", found["Local linear trend, Kalman filter"][0]
    )


def test_outliers_are_named_by_date_and_stay_in_the_series(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    values = list(LEVEL)
    values[6] = 16.5
    point_id = read(store, plant, values)
    says, figures = rows(page(engineer, f"/points/{point_id}"))["Outliers after Hampel"]
    assert says.startswith("20 Jun 2026, 16.5 K: 12.2 K over those about it.")
    assert "Kept in the series" in says
    assert figures.startswith("1 of 12 visits")
    assert opinions(store, plant, now, point_id).visits == 12


def test_what_was_kept_without_uncertainty_gets_no_chart(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    found = rows(page(engineer, f"/points/{read(store, plant, LEVEL, u_k=None)}"))
    for name in ("CUSUM", "EWMA", "Local linear trend, Kalman filter"):
        assert found[name] == ("Needs the uncertainty of each visit, which not all were kept with.", "")
    assert found["Theil–Sen slope"][1]


def test_visits_at_unequal_steps_get_no_neighbours(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = read(store, plant, LEVEL)
    for step in range(10):
        visit(store, point_id, months_before(0) - timedelta(days=1200 + 7 * step), common_k=4.0 + step % 3)
    says, figures = rows(page(engineer, f"/points/{point_id}"))["Mann–Kendall after Hamed and Rao"]
    assert (says, figures) == ("Needs visits at equal steps of time, which these are not.", "")


def test_they_never_reach_across_a_repair(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    point_id = read(store, plant, LEVEL)
    for step in range(5):
        visit(store, point_id, months_before(0) + timedelta(days=1 + step), common_k=1.0 + step, episode=1)
    with store.begin() as unit:
        unit.session.add(
            SeriesCutRow(
                point_id=point_id, at=months_before(0) + timedelta(hours=1), reason="repaired", note=""
            )
        )
    set_state(store, point_id, episode=1)
    found = opinions(store, plant, now, point_id)
    assert found.visits == 5
    assert isinstance(found.slope, SlopeOpinion)
    assert found.slope.k_month == pytest.approx(30.4375)
    assert isinstance(found.order, OrderOpinion)
    assert (found.order.s, found.order.pairs, found.order.exact) == (10, 10, True)
    assert found.order.p == pytest.approx(1 / 120)


def test_several_readings_of_one_day_are_one_visit(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    point_id = read(store, plant, LEVEL)
    for hour, rise in ((1, 9.0), (2, 30.0)):
        visit(store, point_id, months_before(0) + timedelta(hours=hour), common_k=rise, u_common_k=0.5)
    found = opinions(store, plant, now, point_id)
    assert (found.visits, found.same_day, found.earlier) == (12, 2, 0)
    assert "of several readings of one day the middle one" in opinions_told(found, "UTC").lead


def test_a_long_series_is_told_by_its_latest_visits(store: Store, plant: Plant, now: datetime) -> None:
    point_id = plant.point_ids[1]
    for day in range(125):
        visit(store, point_id, months_before(0) - timedelta(days=day), common_k=4.0 + day % 7, u_common_k=1.0)
    set_state(store, point_id, level=0, reference="over like parts")
    found = opinions(store, plant, now, point_id)
    assert (found.visits, found.earlier) == (120, 5)
    assert "(5 earlier visits left out)" in opinions_told(found, "UTC").lead.replace("\u00a0", " ")
    assert isinstance(found.related, RelatedOpinion)
    assert isinstance(found.change, ChangeOpinion)


def test_a_chart_that_came_back_says_when_it_was_over(store: Store, plant: Plant, now: datetime) -> None:
    values = [4.0, 4.1, 3.9, 4.0, 12.0, 12.0, 12.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.0]
    found = opinions(store, plant, now, read(store, plant, values))
    assert isinstance(found.ewma, ChartOpinion)
    assert (found.ewma.over_since, found.ewma.last_over_up) == (None, True)
    told = {row.name: row for row in opinions_told(found, "UTC").rows}
    assert re.match(r"Within its line; last over it on \d+ \w+ 2026, upwards\.", told["EWMA"].says)


def test_in_fahrenheit_speeds_and_rises_are_told_so(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = read(store, plant, [4.0 + k for k in range(12)])
    with store.begin() as unit:
        for person in unit.session.query(PersonRow):
            person.temperature_unit = "f"
    found = rows(page(engineer, f"/points/{point_id}"))
    assert found["Theil–Sen slope"][0] == "Rises by 1.8 °F a month."
    assert "9.9 °F, the median of the first four visits" in found["CUSUM"][1]
    assert not re.search(r"\bK\b", " ".join(words for row in found.values() for words in row))


def test_the_answer_over_json_carries_them(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = read(store, plant, [4.0 + k for k in range(12)])
    told = engineer.get(f"/api/v1/points/{point_id}/standing").json()["second_opinions"]
    assert told["visits"] == 12
    assert told["order"] == {"s": 66, "pairs": 66, "tied_pairs": 0, "p": pytest.approx(2.0877e-9, rel=1e-4), "exact": True}  # fmt: skip
    assert told["not_told"] == {"related": "too few visits", "change": "too few visits"}
    assert told["related"] is None
    assert told["apart"] == []


@pytest.mark.parametrize("reason", list(Unsaid)[1:])
def test_every_reason_has_its_sentence(store: Store, plant: Plant, now: datetime, reason: Unsaid) -> None:
    found = replace(opinions(store, plant, now, plant.point_ids[1]), related=reason)
    row = next(row for row in opinions_told(found, "UTC").rows if "Hamed" in row.name)
    assert row.says.endswith(".")
    assert row.figures == ""
    assert view.sentence_case(row.says) == row.says
