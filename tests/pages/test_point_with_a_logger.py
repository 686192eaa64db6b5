"""A point with thousands of readings: the same page as any other, and nothing of it lost."""

import csv
import io
import re
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

import pytest
from sqlalchemy import insert
from starlette.testclient import TestClient

from service.domain.words import Reason, Role
from service.storage.tables.readings import AssessmentRow, ReadingRow
from service.storage.unit import Store
from service.usecases.condition.point_history import see_point_history
from tests.builders import Plant, build_plant
from tests.doors import browser_as, open_app
from tests.pages.standing_builders import criteria_id, months_before, set_state, visit
from tests.pages.test_standing import page, text_of

MANY = 2000


@pytest.fixture
def plant(store: Store) -> Plant:
    """Its first point is read by a logger, its fourth by hand; both stand at Look again and are steady."""
    made = build_plant(store, sites=1, views=2)
    log(store, made.point_ids[0], MANY)
    log(store, made.point_ids[3], 20)
    for point_id in (made.point_ids[0], made.point_ids[3]):
        set_state(
            store, point_id, level=1, value_k=1.4, common_k=2.6, load_ratio=0.7, reference="over like parts",
            trend="steady", trend_visits=12, last_read_at=months_before(0), last_sentence="Over like parts: 1.4 K.",
        )  # fmt: skip
    return made


@pytest.fixture
def engineer(store: Store, plant: Plant, now: datetime, clock: Callable[[], datetime]) -> TestClient:
    return browser_as(open_app(store, clock), store, plant, Role.ENGINEER, now)


def log(store: Store, point_id: int, count: int) -> None:
    """One reading every half day up to the last visit: 30.0, 30.1 … °C, judged alike."""
    first = months_before(0) - timedelta(hours=12 * (count - 1))
    taken = [first + timedelta(hours=12 * k) for k in range(count)]
    ids = [point_id * 10_000 + k for k in range(count)]
    with store.begin() as unit:
        criteria = criteria_id(unit)
        readings = [
            {
                "id": key, "uid": f"log-{key}", "point_id": point_id, "source": "person 1", "content_hash": str(key),
                "received_at": at, "taken_at": at, "temperature_c": 30 + k % 10 / 10, "current_a": 70.0,
            }
            for k, (key, at) in enumerate(zip(ids, taken, strict=True))
        ]  # fmt: skip
        said = [
            {
                "reading_id": key, "point_id": point_id, "taken_at": at, "assessed_at": at, "criteria_id": criteria,
                "method_version": "test", "level": 1, "band": 1, "at_least": False, "near_line": False,
                "clears": False, "trended": True, "reference": "over like parts", "value_k": 1.0 + k % 10 / 10,
                "common_k": 2.0 + k % 10 / 10, "load_ratio": 0.7, "over_first_line": True, "rule": "1a.2 similar",
                "sentence": "Over like parts.",
            }
            for k, (key, at) in enumerate(zip(ids, taken, strict=True))
        ]  # fmt: skip
        unit.session.execute(insert(ReadingRow), readings)
        unit.session.execute(insert(AssessmentRow), said)


def frame(html: str) -> Iterator[str]:
    """Headings, parts, labels and boxes of a page, without the figures in them."""
    for tag, rest in re.findall(r"<(h1|h2|section|dt|th|aside|nav|button|figure|details)\b([^>]*)>", html):
        named = re.search(r'(?:aria-labelledby|class|id|scope)="([^"]*)"', rest)
        yield f"{tag} {named[1] if named else ''}"
    yield from re.findall(r"<dt>([^<]*)</dt>", html)


def test_a_point_with_many_visits_has_the_frame_of_one_with_few(engineer: TestClient, plant: Plant) -> None:
    many, few = (page(engineer, f"/points/{plant.point_ids[place]}") for place in (0, 3))
    assert list(frame(many)) == list(frame(few))
    assert many.count('<tr>\n        <th scope="row" class="nowrap">') == 12
    assert "12 of 2000 visits." in text_of(many)
    assert "2000 visits, too close to tell apart: a bar spans the lowest to the highest" in text_of(many)


def test_the_page_of_two_thousand_visits_is_hardly_larger(engineer: TestClient, plant: Plant) -> None:
    """Symptom: 180 kB, and 105 ms at 2,000 readings."""
    many, few = (len(page(engineer, f"/points/{plant.point_ids[place]}")) for place in (0, 3))
    assert many < few + 60_000


def test_every_visit_is_in_the_table_the_file_and_the_figure(engineer: TestClient, plant: Plant) -> None:
    own = f"/points/{plant.point_ids[0]}"
    assert page(engineer, f"{own}?visits=all").count('<th scope="row" class="nowrap">') == MANY
    rows = list(csv.reader(io.StringIO(engineer.get(f"{own}/visits.csv").text)))
    assert len(rows) == MANY + 1
    figure = engineer.get(f"{own}/figure.json").json()
    assert len(figure["data"][0]["y"]) == MANY
    assert figure["data"][0]["text"][0].endswith("Look again")


def test_what_is_told_in_short_is_what_is_told_in_full(store: Store, plant: Plant, now: datetime) -> None:
    point_id = plant.point_ids[3]
    visit(
        store, point_id, months_before(1), reading_not_assessable="K", reading_temperature_c=None, level=None
    )
    whole = see_point_history(store, plant.actor(), point_id=point_id, now=now)
    assert len(whole.drawn) == len(whole.visits) == 21
    for short, full in zip(whole.drawn, whole.visits, strict=True):
        for name in set(short._fields) - {"instrument_id"}:
            assert getattr(short, name) == getattr(full, name), name


def test_the_last_that_was_read_is_told_though_a_dozen_could_not_be(
    store: Store, engineer: TestClient, plant: Plant, now: datetime
) -> None:
    point_id = plant.point_ids[3]
    for day in range(15):
        visit(
            store, point_id, now - timedelta(days=1, hours=-day), reading_not_assessable=Reason.OFF.value,
            reading_temperature_c=None, level=None, value_k=None, common_k=None, reference=None,
        )  # fmt: skip
    short = see_point_history(store, plant.actor(), point_id=point_id, told=12, now=now)
    assert short.last_read is not None
    assert short.last_read.taken_at == months_before(0)
    assert len(short.visits) == 12 + 2
    assert page(engineer, f"/points/{point_id}").count("Not assessable:") == 12


def test_a_point_without_visits_is_told_nothing(store: Store, plant: Plant, now: datetime) -> None:
    found = see_point_history(store, plant.actor(), point_id=plant.point_ids[1], told=12, now=now)
    assert (found.drawn, found.visits) == ((), ())


def test_both_databases_tell_the_same_in_short(any_store: Store, now: datetime) -> None:
    made = build_plant(any_store)
    log(any_store, made.point_ids[0], 30)
    found = see_point_history(any_store, made.actor(), point_id=made.point_ids[0], told=5, now=now)
    assert [len(found.drawn), len(found.visits)] == [30, 5]
    assert found.drawn[-1].rise_k == pytest.approx(2.9)
    assert found.drawn[-1].taken_at == months_before(0)
