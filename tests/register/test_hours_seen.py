"""Load hours and minutes learned from visits: offered with their numbers, taken by an engineer, never silently."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import text

from service.domain.covers import DRESSING_MIN
from service.domain.hours_seen import SeenPlace, SeenVisit, hours_text, suggested_hours
from service.domain.load_hours import LoadHours, parse_load_hours
from service.domain.minutes_seen import suggested_minutes
from service.domain.words import Access, Role
from service.errors import Conflict, Forbidden, Stale
from service.physics.load_windows import SlotState, load_slots
from service.storage.unit import Store
from service.usecases.register.learn_hours import (
    list_as_visited,
    see_as_visited,
    take_hours,
    take_minutes,
)
from tests.builders import Plant, build_plant
from tests.conftest import NOW
from tests.doors import browser_as, open_app, program_as
from tests.readings.builders import issue
from tests.register.counting import ask

Clock = Callable[[], datetime]
MONDAY = datetime(2026, 1, 5, tzinfo=UTC)


def place(hours: str = "", minutes: int = 20, access: Access = Access.CLOSED_FRONT) -> SeenPlace:
    return SeenPlace(1, 1, 1, "T-1", "Board", "UTC", hours, minutes, access)


def visit(week: int, hour: float, share: float | None, *, day: int = 0, span: float = 10.0) -> SeenVisit:
    return SeenVisit(MONDAY + timedelta(weeks=week, days=day, hours=hour), share, span, 3)


def at(hour: float, share: float, count: int = 6, *, day: int = 0, first: int = 0) -> list[SeenVisit]:
    return [visit(first + week, hour, share, day=day) for week in range(count)]


def test_five_visits_on_five_days_say_that_an_hour_is_loaded() -> None:
    found = suggested_hours(place(), at(8, 0.6, 5))
    assert found.text == "mon-fri 07:30-09:00"
    assert found.offered
    assert (found.visits, found.days, found.loaded) == (5, 5, 5)


@pytest.mark.parametrize(
    "visits",
    [
        at(8, 0.6, 4),
        [visit(0, 8 + minute / 60, 0.6) for minute in range(9)],
        at(8, 0.6, 5) + at(8, 0.1, 4, first=5),
        [visit(week, 8, None) for week in range(9)],
        [],
    ],
    ids=["four visits", "nine on one day", "five of nine", "no amps", "none"],
)
def test_too_few_or_mixed_visits_cannot_tell(visits: list[SeenVisit]) -> None:
    found = suggested_hours(place("mon-fri 07:00-11:30"), visits)
    assert (found.can_tell, found.text, found.offered) == (False, "", False)


def test_what_is_seen_idle_is_taken_out_and_the_rest_stays_as_typed() -> None:
    found = suggested_hours(place("mon-sun 07:15-11:40"), at(8, 0.1, 8) + at(13, 0.7, 6))
    assert found.text == "mon-fri 07:15-07:30, 09:00-11:40, 12:30-14:00; sat-sun 07:15-11:40"
    assert found.offered


def test_what_the_typed_hours_say_already_is_no_news() -> None:
    found = suggested_hours(place("mon-sun 05:00-23:00"), at(8, 0.7, 9))
    assert found.can_tell
    assert not found.offered


def test_equipment_that_is_always_found_idle_is_offered_no_hours() -> None:
    found = suggested_hours(place(), at(8, 0.1, 9))
    assert found.can_tell
    assert (found.text, found.offered) == ("", False)


def test_weekends_speak_for_themselves() -> None:
    found = suggested_hours(place(), at(8, 0.6, 6) + at(10, 0.9, 6, day=5))
    assert found.text == "mon-fri 07:30-09:00; sat-sun 09:30-11:00"


def test_half_years_are_told_apart_only_where_both_have_enough() -> None:
    summer, winter = at(8, 0.7, 8, first=15), at(8, 0.1, 8)
    both = suggested_hours(place("mon-fri 07:00-12:00"), winter + summer)
    assert both.by_season
    assert both.text == "mon-fri 07:00-07:30, 09:00-12:00", "idle in one half-year clears nothing then"
    few = suggested_hours(place("mon-fri 07:00-12:00"), winter + summer[:3])
    assert not few.by_season


def test_visits_are_read_on_the_clock_of_the_site() -> None:
    summer = [visit(week, 7, 0.7) for week in range(16, 22)]
    london = SeenPlace(1, 1, 1, "T-1", "Board", "Europe/London", "", 20, Access.CLOSED_FRONT)
    assert suggested_hours(london, summer).text == "mon-fri 07:30-09:00"


def test_a_piece_of_the_day_counts_days_not_visits() -> None:
    slots = load_slots([480.0] * 9, [0.6] * 9, [1, 1, 1, 2, 2, 2, 3, 3, 4])
    assert slots.visits[16] == 9
    assert (slots.state == SlotState.CANNOT_TELL).all()
    assert np.isnan(load_slots([480.0], [np.nan], [1]).visits.sum()) is np.False_


windows = st.lists(
    st.tuples(st.integers(0, 1439), st.integers(1, 1440)).filter(lambda w: w[0] < w[1]), max_size=3
)


@given(st.lists(windows, min_size=7, max_size=7))
def test_hours_written_are_read_as_they_were(by_day: list[list[tuple[int, int]]]) -> None:
    def apart(day: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
        kept: list[tuple[int, int]] = []
        for low, high in sorted(day):
            if not kept or low > kept[-1][1]:
                kept.append((low, high))
        return tuple(kept)

    hours = LoadHours(tuple(apart(day) for day in by_day))
    written = hours_text(hours)
    assert parse_load_hours(written) == (hours if written else None)


@pytest.mark.parametrize(
    ("spans", "access", "minutes", "capped"),
    [
        ((16, 16, 16, 16, 16), Access.CLOSED_FRONT, 16, False),
        ((16, 2, 40, 18, 15), Access.CLOSED_FRONT, 16, False),
        ((16, 16, 16, 16, 16), Access.HINGED_COVER, 16 + DRESSING_MIN[Access.HINGED_COVER], False),
        ((2, 2, 2, 2, 2), Access.CLOSED_FRONT, 10, True),
        ((90, 90, 90, 90, 90), Access.CLOSED_FRONT, 30, True),
        ((16, 16, 16, 16), Access.CLOSED_FRONT, None, False),
        ((16, 16, 16, 16, 0, 300), Access.CLOSED_FRONT, None, False),
    ],
    ids=[
        "five",
        "median",
        "dressing",
        "half at least",
        "half more at most",
        "four walks",
        "not by the clock",
    ],
)
def test_minutes_of_the_last_five_walks(
    spans: tuple[float, ...], access: Access, minutes: int | None, capped: bool
) -> None:
    walks = [visit(week, 8, 0.5, span=span) for week, span in enumerate(spans)]
    found = suggested_minutes(place(access=access), walks)
    assert (found.minutes, found.capped) == (minutes, capped)


def test_older_walks_do_not_count() -> None:
    walks = [visit(week, 8, 0.5, span=30.0 if week < 6 else 15.0) for week in range(11)]
    assert suggested_minutes(place(), walks).minutes == 15


def walked(store: Store) -> Plant:
    """Six monthly rounds at 08:00 UTC in winter and spring, each reading a minute after the other."""
    plant = build_plant(store, views=2)
    with store.begin() as unit:
        unit.session.execute(text("UPDATE points SET common_load_a = 100"))
        unit.session.execute(text("UPDATE equipment SET minutes = 8"))
    for month in range(1, 7):
        issued = issue(store, plant=plant, day=date(2026, month, 12))
        records = [issued.record(row, 44.0, current_a=70.0) for row in range(len(issued.rows))]
        for minute, record in enumerate(records):
            record["taken_at"] = datetime(2026, month, 12, 8, minute, tzinfo=UTC).isoformat()
        issued.bring(records)
    return plant


def test_an_engineer_takes_hours_and_minutes_with_their_evidence(any_store: Store) -> None:
    plant = walked(any_store)
    board, engineer = plant.equipment_ids[0], plant.actor()
    seen = see_as_visited(any_store, engineer, board, now=NOW)
    assert (seen.hours.visits, seen.hours.loaded) == (6, 6)
    assert seen.minutes.walked == (5.0,) * 5
    shown, version = seen.hours.text, seen.place.version
    before = ask(any_store, "SELECT load_hours, minutes FROM equipment WHERE id = :e", e=board)
    assert before == [("", 8)], "looking takes nothing"
    with pytest.raises(Conflict):
        take_hours(any_store, engineer, board, text="mon 07:00-08:00", version=version, now=NOW)
    with pytest.raises(Stale):
        take_hours(any_store, engineer, board, text=shown, version=version + 1, now=NOW)
    take_hours(any_store, engineer, board, text=shown, version=version, now=NOW)
    with pytest.raises(Stale):
        take_minutes(any_store, engineer, board, minutes=5, version=version, now=NOW)
    take_minutes(any_store, engineer, board, minutes=5, version=version + 1, now=NOW)
    assert ask(any_store, "SELECT load_hours, minutes FROM equipment WHERE id = :e", e=board) == [(shown, 5)]
    trail = str(ask(any_store, "SELECT after FROM audit WHERE noun = 'equipment' AND verb = 'edit'"))
    assert "6 of 6 visits on 6 days at 40 % load or more" in trail
    assert "last 5 walks: 5, 5, 5, 5, 5 min there" in trail
    again = see_as_visited(any_store, engineer, board, now=NOW)
    assert (again.hours.offered, again.minutes.offered) == (False, False)


def test_old_visits_and_other_roles_see_nothing(store: Store) -> None:
    plant = walked(store)
    later = NOW + timedelta(days=4 * 365)
    assert see_as_visited(store, plant.actor(), plant.equipment_ids[0], now=later).hours.visits == 0
    for role in (Role.MANAGER, Role.TECHNICIAN):
        with pytest.raises(Forbidden):
            list_as_visited(store, plant.actor(role), plant.site_ids[0], now=NOW)


def test_equipment_found_off_counts_as_idle(any_store: Store) -> None:
    plant = walked(any_store)
    with any_store.begin() as unit:
        unit.session.execute(text("UPDATE readings SET current_a = NULL, not_assessable = 'O'"))
    seen = see_as_visited(any_store, plant.actor(), plant.equipment_ids[0], now=NOW).hours
    assert (seen.visits, seen.loaded) == (6, 0)


def test_pages_and_api_show_the_numbers_and_one_click_takes_them(
    store: Store, clock: Clock, now: datetime
) -> None:
    plant = walked(store)
    app = open_app(store, clock)
    browser = browser_as(app, store, plant, Role.ENGINEER, now)
    board = plant.equipment_ids[0]
    page = browser.get(f"/equipment/{board}").text.replace("\u00a0", " ").replace("\u202f", " ")
    assert "6 visits on 6 days" in page
    assert '<svg class="load-week"' in page
    assert (
        "As visited" not in browser_as(app, store, plant, Role.MANAGER, now).get(f"/equipment/{board}").text
    )
    listed = browser.get(f"/load-hours?site={plant.site_ids[0]}").text
    assert f'href="/equipment/{board}#visited"' in listed
    assert browser.get("/load-hours").headers["location"] == f"/load-hours?site={plant.site_ids[0]}"
    program = program_as(app, store, plant, Role.ENGINEER, now)
    told = program.get(f"/api/v1/equipment/{board}/as-visited").json()
    assert (told["visits"], told["minutes_suggested"], told["hours_offered"]) == (6, 5, True)
    items = program.get(f"/api/v1/sites/{plant.site_ids[0]}/as-visited").json()["items"]
    assert [one["equipment_id"] for one in items] == plant.equipment_ids
    form = {"version": str(told["version"]), "text": told["hours_suggested"]}
    done = browser.post(f"/equipment/{board}/load-hours", data=form)
    assert (done.status_code, done.headers["location"]) == (303, f"/equipment/{board}")
    form = {"version": str(told["version"] + 1), "minutes": "5"}
    assert browser.post(f"/equipment/{board}/minutes", data=form).status_code == 303
    assert ask(store, "SELECT load_hours, minutes FROM equipment WHERE id = :e", e=board) == [
        (told["hours_suggested"], 5)
    ]
