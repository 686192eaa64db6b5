"""Who can walk on which day: hours, absences, holidays, certificates and grants."""

from datetime import UTC, date, datetime, timedelta

import pytest

from service.domain.load_hours import parse_load_hours
from service.domain.planning import WalkingHours, WalkPart, WorkingDay
from service.domain.walking_hours import runs_over_midnight
from service.domain.words import Role
from service.storage.tables.people import CertificateRow, GrantRow, PersonRow
from service.storage.unit import Store
from service.usecases.plans.walkers import add_absence, set_walking_hours
from service.usecases.plans.working_days import working_days
from tests.builders import STAMPS, Plant, add, build_plant
from tests.rounds.builders import change

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
#: a Monday
MONDAY = date(2026, 12, 21)
SUNDAY = MONDAY + timedelta(days=6)


def week(store: Store, plant: Plant, *, sites: list[int] | None = None) -> list[WorkingDay]:
    wanted = plant.site_ids if sites is None else sites
    with store.look() as unit:
        return list(working_days(unit, client_id=plant.client_id, site_ids=wanted, first=MONDAY, last=SUNDAY))


def says(store: Store, plant: Plant, role: Role = Role.TECHNICIAN, **fields: object) -> WalkingHours:
    wanted = WalkingHours(person_id=plant.people[role], **fields)  # type: ignore[arg-type]
    return set_walking_hours(store, plant.actor(), wanted, version=0, now=NOW)


def test_of_whom_nothing_is_known_technicians_read_and_engineers_stay(any_store: Store) -> None:
    plant = build_plant(any_store)
    days = week(any_store, plant)
    assert {day.person_id for day in days} == {plant.people[Role.TECHNICIAN]}
    assert [day.day for day in days] == [MONDAY + timedelta(days=k) for k in range(7)]
    assert [(day.start_min, day.end_min) for day in days] == [(450, 930)] * 5 + [(0, 0)] * 2
    assert [day.why_not for day in days[5:]] == ["no hours on a Saturday", "no hours on a Sunday"]
    assert all(day.part is WalkPart.READS and day.free is (day.why_not != "") for day in days)


def test_hours_of_each_weekday_begin_with_the_first_and_end_with_the_last(store: Store) -> None:
    plant = build_plant(store)
    says(store, plant, hours="mon-thu 07:00-11:30, 12:15-15:30; fri 08:00-12:00")
    days = week(store, plant)
    assert [(day.start_min, day.end_min) for day in days[:5]] == [(420, 930)] * 4 + [(480, 720)]


def test_an_engineer_walks_once_that_is_said_from_the_place_that_is_said(store: Store) -> None:
    plant = build_plant(store)
    says(
        store,
        plant,
        Role.ENGINEER,
        part=WalkPart.GOES_ALONG,
        start_place="North depot",
        start_latitude=54.6,
        start_longitude=-2.7,
    )
    day = next(day for day in week(store, plant) if day.person_id == plant.people[Role.ENGINEER])
    assert (day.part, day.name) == (WalkPart.GOES_ALONG, "Test engineer")
    assert (day.start_place, day.start_latitude, day.start_longitude) == ("North depot", 54.6, -2.7)
    assert (day.qualified, day.category) == (True, 2)


def test_who_does_not_walk_is_left_out(store: Store) -> None:
    plant = build_plant(store)
    says(store, plant, part=WalkPart.NONE, hours="")
    assert week(store, plant) == []


def test_leave_and_public_holidays_are_free_and_say_why(any_store: Store) -> None:
    plant = build_plant(any_store)
    says(any_store, plant, hours="daily 08:00-16:00", holidays_of="gb-eng")
    first, last = MONDAY, MONDAY + timedelta(days=1)
    person = plant.people[Role.TECHNICIAN]
    add_absence(any_store, plant.actor(), person, from_on=first, to_on=last, note="course", now=NOW)
    told = [day.why_not for day in week(any_store, plant)]
    assert told == [
        "on leave: course",
        "on leave: course",
        "",
        "",
        "public holiday: Christmas Day (holidays of GB-ENG)",
        "public holiday: Boxing Day (holidays of GB-ENG)",
        "",
    ]
    free = [day for day in week(any_store, plant) if day.free]
    assert {(day.start_min, day.end_min) for day in free} == {(0, 0)}


def test_a_certificate_counts_up_to_its_last_day_and_the_best_one_is_told(store: Store) -> None:
    plant = build_plant(store)
    person = plant.people[Role.TECHNICIAN]
    with store.begin() as unit:
        for category, last in ((1, SUNDAY), (2, MONDAY + timedelta(days=1))):
            add(unit, CertificateRow(person_id=person, category=category, expires_on=last, **STAMPS))
    assert [day.category for day in week(store, plant)] == [2, 2, 1, 1, 1, 1, 1]
    change(store, PersonRow, person, qualified=False)
    assert {day.qualified for day in week(store, plant)} == {False}


def test_each_day_names_the_sites_that_the_grants_reach(any_store: Store) -> None:
    plant = build_plant(any_store, sites=3)
    one, two, three = plant.site_ids
    with any_store.begin() as unit:
        narrow = add(
            unit, PersonRow(login="narrow", name="Narrow", role="technician", password_hash="!", **STAMPS)
        )
        for site in (one, three):
            add(unit, GrantRow(person_id=narrow.id, client_id=plant.client_id, site_id=site))
    reached = {day.name: day.site_ids for day in week(any_store, plant)}
    assert reached == {"Narrow": {one, three}, "Test technician": {one, two, three}}
    assert {day.name for day in week(any_store, plant, sites=[two])} == {"Test technician"}


def test_whose_account_is_closed_does_not_walk(store: Store) -> None:
    plant = build_plant(store)
    change(store, PersonRow, plant.people[Role.TECHNICIAN], active=False)
    assert week(store, plant) == []


@pytest.mark.parametrize(
    ("hours", "over"),
    [
        ("mon 22:00-06:00", True),
        ("sun 20:00-04:00", True),
        ("mon 22:00-24:00; wed 00:00-06:00", False),
        ("daily 00:00-24:00", True),
        ("mon-fri 07:30-15:30", False),
    ],
)
def test_hours_over_midnight_are_known_as_such(hours: str, *, over: bool) -> None:
    parsed = parse_load_hours(hours)
    assert parsed is not None
    assert runs_over_midnight(parsed) is over
