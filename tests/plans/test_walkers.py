"""Keep who walks when: checked at once, versioned, audited, and only of people and sites in sight."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from service.domain.audit import AuditQuestion
from service.domain.planning import WalkingHours, WalkPart
from service.domain.words import Role
from service.errors import Forbidden, Invalid, NotFound, Stale
from service.storage.tables.people import GrantRow, PersonRow
from service.storage.tables.register import ClientRow, SiteRow
from service.storage.unit import Store
from service.usecases.people.audit_trail import read_audit
from service.usecases.plans import walkers
from service.usecases.plans.typed_spans import LONGEST_DAYS
from tests.builders import STAMPS, Plant, add, build_plant
from tests.doors import browser_as, open_app, program_as

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
TODAY = NOW.date()
DAY = date(2026, 12, 8)
Clock = Callable[[], datetime]


def hours(plant: Plant, role: Role = Role.TECHNICIAN, **fields: Any) -> WalkingHours:
    return WalkingHours(person_id=plant.people[role], **fields)


def stranger(store: Store) -> tuple[int, int]:
    """A technician of another client, and that client's site."""
    with store.begin() as unit:
        client = add(unit, ClientRow(code="X", name="Elsewhere", **STAMPS))
        site = add(unit, SiteRow(client_id=client.id, code="X1", name="Elsewhere works", **STAMPS))
        person = add(unit, PersonRow(login="far", name="Far", role="technician", password_hash="!", **STAMPS))
        add(unit, GrantRow(person_id=person.id, client_id=client.id))
        return person.id, site.id


def test_every_problem_of_the_hours_is_told_at_once_and_nothing_is_stored(store: Store) -> None:
    plant = build_plant(store)
    wrong = hours(plant, hours="someday 7-9", start_latitude=91.0, holidays_of="UK")
    with pytest.raises(Invalid) as told:
        walkers.set_walking_hours(store, plant.actor(), wrong, version=0, now=NOW)
    fields = [problem.field for problem in told.value.problems]
    assert fields == ["hours", "start_latitude", "start_longitude", "holidays_of"]
    assert all(problem.remedy for problem in told.value.problems)
    assert walkers.read_walker(store, plant.actor(), wrong.person_id, today=TODAY).told is False


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"hours": ""}, "hours"),
        ({"hours": "mon 22:00-06:00"}, "hours"),
        ({"hours": "mon 07:00-15:00\x00"}, "hours"),
        ({"start_place": "x" * 121}, "start_place"),
        ({"start_latitude": float("nan"), "start_longitude": 1.0}, "start_latitude"),
        ({"start_latitude": 54.0, "start_longitude": -180.5}, "start_longitude"),
        ({"start_longitude": 1.0}, "start_latitude"),
        ({"holidays_of": "GB-XX"}, "holidays_of"),
        ({"holidays_of": "England"}, "holidays_of"),
    ],
)
def test_hours_that_no_plan_could_use_are_refused(store: Store, fields: dict[str, Any], field: str) -> None:
    plant = build_plant(store)
    with pytest.raises(Invalid) as told:
        walkers.set_walking_hours(store, plant.actor(), hours(plant, **fields), version=0, now=NOW)
    assert [problem.field for problem in told.value.problems] == [field]


def test_a_manager_is_given_no_hours(store: Store) -> None:
    plant = build_plant(store)
    with pytest.raises(Invalid, match="1 problem"):
        walkers.set_walking_hours(store, plant.actor(), hours(plant, Role.MANAGER), version=0, now=NOW)


def test_who_changes_old_hours_is_told_and_the_first_row_counts_as_one_too(any_store: Store) -> None:
    plant = build_plant(any_store)
    engineer = plant.actor()
    first = walkers.set_walking_hours(any_store, engineer, hours(plant), version=0, now=NOW)
    assert first.version == 1
    with pytest.raises(Stale) as told:
        walkers.set_walking_hours(any_store, engineer, hours(plant), version=0, now=NOW)
    assert told.value.current_version == 1
    changed = hours(plant, part=WalkPart.GOES_ALONG, hours="tue 08:00-12:00")
    assert walkers.set_walking_hours(any_store, engineer, changed, version=1, now=NOW).version == 2
    with pytest.raises(Stale):
        walkers.set_walking_hours(any_store, engineer, hours(plant, Role.ENGINEER), version=5, now=NOW)


def test_people_and_sites_of_others_are_told_like_absent_ones(store: Store) -> None:
    plant = build_plant(store)
    person, site = stranger(store)
    engineer, day = plant.actor(), {"from_on": DAY, "to_on": DAY}
    with pytest.raises(NotFound):
        walkers.read_walker(store, engineer, person, today=TODAY)
    with pytest.raises(NotFound):
        walkers.set_walking_hours(store, engineer, WalkingHours(person_id=person), version=0, now=NOW)
    with pytest.raises(NotFound):
        walkers.add_absence(store, engineer, person, note="", now=NOW, **day)
    with pytest.raises(NotFound):
        walkers.add_closure(store, engineer, site, reason="shut", now=NOW, **day)
    page = walkers.read_walkers(store, engineer, today=TODAY)
    assert {line.person.name for line in page.walkers} == {"Test technician", "Test engineer"}
    assert [line.id for line in page.sites] == plant.site_ids


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER, Role.ADMINISTRATOR])
def test_only_an_engineer_keeps_them(store: Store, role: Role) -> None:
    plant = build_plant(store)
    actor, day = plant.actor(role), {"from_on": DAY, "to_on": DAY, "now": NOW}
    person, site = plant.people[Role.TECHNICIAN], plant.site_ids[0]
    absence = walkers.add_absence(store, plant.actor(), person, note="", **day)
    closure = walkers.add_closure(store, plant.actor(), site, reason="shut", **day)
    for ask in (
        lambda: walkers.set_walking_hours(store, actor, hours(plant), version=0, now=NOW),
        lambda: walkers.add_absence(store, actor, person, note="", **day),
        lambda: walkers.remove_absence(store, actor, absence.id, now=NOW),
        lambda: walkers.add_closure(store, actor, site, reason="shut", **day),
        lambda: walkers.remove_closure(store, actor, closure.id, now=NOW),
    ):
        with pytest.raises(Forbidden):
            ask()


def test_technicians_do_not_read_who_is_absent(store: Store) -> None:
    plant = build_plant(store)
    technician = plant.actor(Role.TECHNICIAN)
    with pytest.raises(Forbidden):
        walkers.list_absences(store, technician, from_on=DAY, to_on=DAY)
    with pytest.raises(Forbidden):
        walkers.read_walkers(store, technician, today=TODAY)


def test_days_of_an_absence_are_checked_at_once(store: Store) -> None:
    plant = build_plant(store)
    person, engineer = plant.people[Role.TECHNICIAN], plant.actor()
    back = {"from_on": DAY, "to_on": DAY - timedelta(days=1)}
    with pytest.raises(Invalid) as told:
        walkers.add_absence(store, engineer, person, note="n" * 121, now=NOW, **back)
    assert [problem.field for problem in told.value.problems] == ["to_on", "note"]
    with pytest.raises(Invalid):
        long = DAY + timedelta(days=LONGEST_DAYS)
        walkers.add_absence(store, engineer, person, from_on=DAY, to_on=long, note="", now=NOW)
    with pytest.raises(Invalid):
        walkers.add_closure(store, engineer, plant.site_ids[0], from_on=DAY, to_on=DAY, reason=" ", now=NOW)


def test_a_span_is_found_by_any_of_its_days(any_store: Store) -> None:
    plant = build_plant(any_store)
    engineer, site = plant.actor(), plant.site_ids[0]
    last = DAY + timedelta(days=2)
    walkers.add_closure(any_store, engineer, site, from_on=DAY, to_on=last, reason="shut", now=NOW)
    for first, end, found in (
        (DAY - timedelta(days=5), DAY - timedelta(days=1), 0),
        (DAY - timedelta(days=5), DAY, 1),
        (DAY + timedelta(days=1), DAY + timedelta(days=1), 1),
        (last, last + timedelta(days=9), 1),
        (last + timedelta(days=1), last + timedelta(days=9), 0),
    ):
        assert len(walkers.list_closures(any_store, engineer, from_on=first, to_on=end)) == found


def test_what_is_kept_and_taken_away_stands_in_the_audit_trail(store: Store) -> None:
    plant = build_plant(store)
    engineer, day = plant.actor(), {"from_on": DAY, "to_on": DAY, "now": NOW}
    walkers.set_walking_hours(store, engineer, hours(plant, holidays_of="gb-sct"), version=0, now=NOW)
    absence = walkers.add_absence(store, engineer, plant.people[Role.TECHNICIAN], note=" course ", **day)
    closure = walkers.add_closure(store, engineer, plant.site_ids[0], reason="shut", **day)
    walkers.remove_absence(store, engineer, absence.id, now=NOW)
    walkers.remove_closure(store, engineer, closure.id, now=NOW)
    with pytest.raises(NotFound):
        walkers.remove_absence(store, engineer, absence.id, now=NOW)
    entries = read_audit(store, plant.actor(Role.ADMINISTRATOR), AuditQuestion(limit=20))
    told = [(entry.verb, entry.noun) for entry in reversed(entries)]
    assert told == [
        ("edit", "walking hours"),
        ("add", "absence"),
        ("add", "site closure"),
        ("remove", "absence"),
        ("remove", "site closure"),
    ]
    assert entries[-1].after is not None
    assert entries[-1].after["holidays_of"] == "GB-SCT"
    assert entries[1].before is not None
    assert entries[1].before["note"] == "course"


# ---- the two doors ---------------------------------------------------------------------------


def test_the_page_keeps_hours_and_a_form_with_problems_keeps_what_was_typed(
    store: Store, clock: Clock
) -> None:
    plant = build_plant(store)
    client = browser_as(open_app(store, clock), store, plant, Role.ENGINEER, NOW)
    person = plant.people[Role.TECHNICIAN]
    page = client.get(f"/rounds/people/{person}").text
    assert "by default" in page
    typed = {"version": "0", "part": "reads", "hours": "mon 07:00-25:00", "holidays_of": "DE-BY"}
    wrong = client.post(f"/rounds/people/{person}/hours", data=typed)
    assert wrong.status_code == 422
    assert "mon 07:00-25:00" in wrong.text
    assert "is not on the clock" in wrong.text
    good = client.post(f"/rounds/people/{person}/hours", data=typed | {"hours": "mon 07:00-15:00"})
    assert good.headers["location"] == f"/rounds/people/{person}"
    page = client.get(f"/rounds/people/{person}").text
    assert "walks Mon 07:00 to 15:00" in page
    assert "Second Day of Christmas" in page, "26 December is a holiday in Bavaria"


def test_the_page_notes_and_takes_away_absences_and_closures(store: Store, clock: Clock) -> None:
    plant = build_plant(store)
    client = browser_as(open_app(store, clock), store, plant, Role.ENGINEER, NOW)
    person, site = plant.people[Role.TECHNICIAN], plant.site_ids[0]
    none = client.post(f"/rounds/people/{person}/absences", data={"from_on": "", "note": "course"})
    assert none.status_code == 422
    assert "From which day?" in none.text
    one = client.post(f"/rounds/people/{person}/absences", data={"from_on": "2026-12-08", "note": "course"})
    assert one.status_code == 303
    shut = {"site_id": str(site), "from_on": "2026-12-15", "to_on": "2026-12-16", "reason": "shutdown"}
    assert client.post("/rounds/people/closures", data=shut).status_code == 303
    page = client.get("/rounds/people").text
    assert "8 Dec 2026: course" in page
    assert "15 Dec to 16 Dec 2026" in page
    for address in re.findall(r'action="([^"]+/remove)"', page + client.get(f"/rounds/people/{person}").text):
        assert client.post(address).status_code == 303
    page = client.get("/rounds/people").text
    assert "course" not in page
    assert "No closure ahead is on record." in page


def test_json_speaks_of_the_version_of_hours(store: Store, clock: Clock) -> None:
    plant = build_plant(store)
    client = program_as(open_app(store, clock), store, plant, Role.ENGINEER, NOW)
    address = f"/api/v1/walking-hours/{plant.people[Role.TECHNICIAN]}"
    seen = client.get(address)
    assert (seen.headers["etag"], seen.json()["hours"]) == ('"0"', "mon-fri 07:30-15:30")
    body = {"part": "goes along", "hours": "tue 08:00-12:00"}
    kept = client.put(address, json=body, headers={"If-Match": '"0"'})
    assert (kept.status_code, kept.headers["etag"]) == (200, '"1"')
    assert client.put(address, json=body, headers={"If-Match": '"0"'}).status_code == 412
    assert client.get(address).json()["part"] == "goes along"
    absence = {"person_id": plant.people[Role.TECHNICIAN], "from_on": "2026-12-08", "to_on": "2026-12-09"}
    made = client.post("/api/v1/absences", json=absence)
    assert made.status_code == 201
    assert client.get("/api/v1/absences?from_on=2026-12-09&to_on=2026-12-09").json() == [made.json()]
    assert client.get("/api/v1/absences?from_on=9999-12-30").json() == []
    assert client.delete(f"/api/v1/absences/{made.json()['id']}").status_code == 204
    assert client.get("/api/v1/absences").json() == []
