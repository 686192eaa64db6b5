"""Who may read what of the audit trail."""

from datetime import datetime

import pytest

from service.domain.audit import AuditEntry, AuditQuestion
from service.domain.people import Actor
from service.domain.words import Role
from service.errors import Forbidden
from service.pages.audit import changes
from service.storage import audit
from service.storage.tables.people import GrantRow, PersonRow
from service.storage.tables.register import ClientRow, SiteRow
from service.storage.tables.rounds import RoundRow, RouteRow, RouteStopRow, StopRow
from service.storage.unit import Store
from service.usecases.people.audit_trail import read_audit
from tests.builders import STAMPS, Plant, add, build_plant


def write(store: Store, actor: Actor, verb: str, site_id: int | None, now: datetime) -> None:
    with store.begin() as unit:
        audit.note(unit, actor, verb=verb, noun="point", noun_id=7, now=now, site_id=site_id)


def read(store: Store, actor: Actor, **question: object) -> list[str]:
    entries = read_audit(store, actor, AuditQuestion(**question))  # type: ignore[arg-type]
    return [entry.verb for entry in entries]


def foreign_person(store: Store, *, also: int | None = None) -> Actor:
    """An engineer of another client (and of a second one)."""
    with store.begin() as unit:
        client = add(unit, ClientRow(code="ZZ", name="Other Works", **STAMPS))
        site = add(unit, SiteRow(client_id=client.id, code="Z1", name="Far", **STAMPS))
        person = add(unit, PersonRow(login="zoe", name="Zoe", role="engineer", password_hash="!", **STAMPS))
        add(unit, GrantRow(person_id=person.id, client_id=client.id))
        if also is not None:
            add(unit, GrantRow(person_id=person.id, client_id=also))
        return Actor(person.id, "Zoe", Role.ENGINEER, frozenset({site.id}), frozenset({client.id}))


def test_an_engineer_reads_own_sites_a_manager_own_people_too_an_administrator_all(
    any_store: Store, now: datetime
) -> None:
    plant = build_plant(any_store, sites=2)
    engineer, zoe = plant.actor(Role.ENGINEER), foreign_person(any_store)
    write(any_store, engineer, "first site", plant.site_ids[0], now)
    write(any_store, engineer, "second site", plant.site_ids[1], now)
    write(any_store, engineer, "no site", None, now)
    write(any_store, zoe, "foreign site", next(iter(zoe.sites)), now)
    write(any_store, zoe, "foreign no site", None, now)
    half = frozenset({plant.site_ids[0]})
    assert read(any_store, plant.actor(Role.ENGINEER, sites=half)) == ["first site"]
    assert read(any_store, engineer) == ["second site", "first site"]
    assert read(any_store, plant.actor(Role.MANAGER)) == ["no site", "second site", "first site"]
    narrow = plant.actor(Role.MANAGER, sites=half, whole_clients=frozenset())
    assert read(any_store, narrow) == ["first site"]
    assert len(read(any_store, plant.actor(Role.ADMINISTRATOR))) == 5


def test_a_manager_does_not_read_what_somebody_did_who_also_works_elsewhere(
    any_store: Store, now: datetime
) -> None:
    plant = build_plant(any_store)
    both = foreign_person(any_store, also=plant.client_id)
    write(any_store, both, "perhaps elsewhere", None, now)
    assert read(any_store, plant.actor(Role.MANAGER)) == []


def test_an_engineer_reads_of_rounds_and_routes_whose_every_stop_is_in_sight(
    any_store: Store, now: datetime
) -> None:
    plant = build_plant(any_store, sites=2)
    with any_store.begin() as unit:
        for k, reach in enumerate(((0,), (0, 1))):
            walk = add(
                unit,
                RoundRow(client_id=plant.client_id, code=f"R{k}", name="x", planned_on=now.date(), **STAMPS),
            )
            route = add(unit, RouteRow(client_id=plant.client_id, name=f"T{k}", **STAMPS))
            for place in reach:
                stop = {"equipment_id": plant.equipment_ids[place], "position": place}
                add(unit, StopRow(round_id=walk.id, site_id=plant.site_ids[place], minutes=5, **stop))
                add(unit, RouteStopRow(route_id=route.id, **stop))
            for noun, row in (("round", walk), ("route", route)):
                audit.note(unit, plant.actor(), verb=f"{noun} {k}", noun=noun, noun_id=row.id, now=now)
    narrow = plant.actor(Role.ENGINEER, sites=frozenset({plant.site_ids[0]}))
    assert read(any_store, narrow) == ["route 0", "round 0"]
    assert len(read(any_store, plant.actor(Role.ENGINEER))) == 4


def test_a_technician_reads_nothing_of_it(store: Store, plant: Plant) -> None:
    with pytest.raises(Forbidden):
        read(store, plant.actor(Role.TECHNICIAN))


def test_pages_of_the_trail_neither_skip_nor_repeat(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    boss = plant.actor(Role.ADMINISTRATOR)
    for k in range(7):
        write(any_store, boss, f"verb {k}", None, now)
    seen: list[int] = []
    question = AuditQuestion(limit=3)
    while entries := read_audit(any_store, boss, question):
        seen += [entry.id for entry in entries]
        question = AuditQuestion(limit=3, before_id=seen[-1])
    assert seen == sorted(seen, reverse=True)
    assert len(seen) == 7


def test_the_trail_is_asked_by_noun_thing_site_and_person(store: Store, now: datetime, plant: Plant) -> None:
    boss, engineer = plant.actor(Role.ADMINISTRATOR), plant.actor(Role.ENGINEER)
    write(store, engineer, "a", plant.site_ids[0], now)
    write(store, boss, "b", plant.site_ids[1], now)
    assert read(store, boss, site_id=plant.site_ids[0]) == ["a"]
    assert read(store, boss, person_id=boss.person_id) == ["b"]
    assert read(store, boss, noun="point", noun_id=7) == ["b", "a"]
    assert read(store, boss, noun="round") == []


def test_only_fields_that_changed_are_told(store: Store, now: datetime, plant: Plant) -> None:
    boss = plant.actor(Role.ADMINISTRATOR)
    with store.begin() as unit:
        audit.note(
            unit,
            boss,
            verb="edit",
            noun="point",
            noun_id=1,
            now=now,
            before={"name": "L1", "rated_rise_k": 50.0, "gone": "x"},
            after={"name": "L2", "rated_rise_k": 50.0, "note": ""},
        )
    (entry,) = read_audit(store, boss, AuditQuestion())
    assert changes(entry) == ["name: L2, was L1", "note: nothing", "gone was x"]


def test_the_page_of_the_trail_tells_days_and_lists_in_words() -> None:
    after = {
        "due_on": "2026-10-25",
        "valid_from": "2026-10-19T07:30:00+01:00",
        "stops": [1, 2],
        "at": "2026-99-99",
    }
    entry = AuditEntry(1, STAMPS["created_at"], 1, "A", "edit", "finding", 1, None, "", None, after)
    assert changes(entry) == [
        "due on: 25 Oct 2026",
        "valid from: 19 Oct 2026, 07:30 (UTC+01:00)",
        "stops: 1, 2",
        "at: 2026-99-99",
    ]
