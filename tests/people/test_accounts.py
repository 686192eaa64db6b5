"""Accounts, grants and certificates: what an administrator does, and nobody else."""

from dataclasses import replace
from datetime import date, datetime

import pytest

from service.domain.audit import AuditQuestion
from service.domain.people import Certificate, CertificateFields, PersonFields, may_sign
from service.domain.words import Role
from service.errors import Conflict, Forbidden, Invalid, NotFound, Stale
from service.storage.people import person_record
from service.storage.tables.register import SiteRow
from service.storage.unit import Store
from service.usecases.people.accounts import (
    COMMAND,
    add_person,
    edit_person,
    ensure_first_administrator,
    list_colleagues,
    list_people,
    set_active,
    show_person,
)
from service.usecases.people.audit_trail import read_audit
from service.usecases.people.certifying import add_certificate, edit_certificate, remove_certificate
from service.usecases.people.granting import grant, revoke
from service.usecases.people.passwords import change_own_password, set_password
from service.usecases.people.sign_in import actor_by_session
from tests.builders import STAMPS, Plant, add, build_plant
from tests.doors import CHEAP, session_of

PASSWORD = "kettle gravel orbit nine"
ADA = PersonFields(login="ada", name="Ada Penrose", role=Role.ENGINEER)
HELD = CertificateFields(category=2, scope="thermography", number="X-1", expires_on=date(2027, 1, 1))


def test_a_new_account_sees_nothing_until_something_is_granted(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store, sites=2)
    boss = plant.actor(Role.ADMINISTRATOR)
    person_id = add_person(any_store, boss, ADA, PASSWORD, now=now, hasher=CHEAP).person.id

    def sight() -> frozenset[int]:
        return actor_by_session(any_store, session_of(any_store, person_id, now), now=now).sites

    assert sight() == frozenset()
    grant(any_store, boss, person_id, plant.client_id, plant.site_ids[1], now=now)
    assert sight() == {plant.site_ids[1]}
    record = grant(any_store, boss, person_id, plant.client_id, now=now)
    assert sight() == frozenset(plant.site_ids)
    whole = next(given for given in record.grants if given.site_id is None)
    revoke(any_store, boss, person_id, whole.id, version=record.person.version, now=now)
    assert sight() == {plant.site_ids[1]}


def test_a_site_added_later_is_seen_by_those_granted_the_client(store: Store, now: datetime) -> None:
    plant = build_plant(store)
    secret = session_of(store, plant.people[Role.ENGINEER], now)
    with store.begin() as unit:
        site_id = add(unit, SiteRow(client_id=plant.client_id, code="NEW", name="New", **STAMPS)).id
    assert site_id in actor_by_session(store, secret, now=now).sites


def test_granting_twice_is_once(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    boss, person_id = plant.actor(Role.ADMINISTRATOR), plant.people[Role.MANAGER]
    for _ in range(3):
        record = grant(any_store, boss, person_id, plant.client_id, now=now)
    assert len(record.grants) == 1


def test_only_what_there_is_can_be_granted(store: Store, now: datetime, plant: Plant) -> None:
    boss, person_id = plant.actor(Role.ADMINISTRATOR), plant.people[Role.MANAGER]
    for client_id, site_id in ((999, None), (plant.client_id, 999), (999, plant.site_ids[0])):
        with pytest.raises(Invalid):
            grant(store, boss, person_id, client_id, site_id, now=now)


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.ENGINEER, Role.MANAGER])
def test_nobody_but_an_administrator_keeps_accounts(
    store: Store, now: datetime, plant: Plant, role: Role
) -> None:
    asker, person_id = plant.actor(role), plant.people[Role.TECHNICIAN]
    attempts = [
        lambda: list_people(store, asker),
        lambda: show_person(store, asker, person_id),
        lambda: add_person(store, asker, ADA, PASSWORD, now=now, hasher=CHEAP),
        lambda: edit_person(store, asker, person_id, ADA, version=1, now=now),
        lambda: set_active(store, asker, person_id, False, version=1, now=now),
        lambda: set_password(store, asker, person_id, PASSWORD, version=1, now=now, hasher=CHEAP),
        lambda: grant(store, asker, person_id, plant.client_id, now=now),
        lambda: revoke(store, asker, person_id, 1, version=1, now=now),
        lambda: add_certificate(store, asker, person_id, HELD, now=now),
        lambda: edit_certificate(store, asker, person_id, 1, HELD, version=1, now=now),
        lambda: remove_certificate(store, asker, person_id, 1, version=1, now=now),
    ]
    for attempt in attempts:
        with pytest.raises(Forbidden):
            attempt()
    with store.look() as unit:
        assert person_record(unit, person_id) is not None


def test_every_problem_of_an_account_is_told_at_once_and_nothing_is_kept(store: Store, now: datetime) -> None:
    wrong = PersonFields(login="A B", name=" ", role=Role.MANAGER, email="no address")
    with pytest.raises(Invalid) as refusal:
        add_person(store, COMMAND, wrong, "short", now=now, hasher=CHEAP)
    assert [p.field for p in refusal.value.problems] == ["name", "login", "email", "password"]
    assert list_people(store, COMMAND) == ()


def test_two_people_do_not_sign_in_with_one_name(store: Store, now: datetime) -> None:
    first = add_person(store, COMMAND, ADA, PASSWORD, now=now, hasher=CHEAP).person
    with pytest.raises(Invalid) as refusal:
        add_person(store, COMMAND, replace(ADA, login="ADA"), PASSWORD, now=now, hasher=CHEAP)
    assert refusal.value.problems[0].field == "login"
    renamed = edit_person(store, COMMAND, first.id, replace(ADA, name="Ada P."), version=1, now=now)
    assert renamed.person.name == "Ada P.", "one's own name is no clash"


def test_an_edit_on_an_old_version_is_refused(any_store: Store, now: datetime) -> None:
    person = add_person(any_store, COMMAND, ADA, PASSWORD, now=now, hasher=CHEAP).person
    edit_person(any_store, COMMAND, person.id, replace(ADA, name="One"), version=1, now=now)
    for attempt in (
        lambda: edit_person(any_store, COMMAND, person.id, ADA, version=1, now=now),
        lambda: set_active(any_store, COMMAND, person.id, False, version=1, now=now),
        lambda: set_password(any_store, COMMAND, person.id, PASSWORD, version=1, now=now, hasher=CHEAP),
    ):
        with pytest.raises(Stale):
            attempt()
    assert show_person(any_store, COMMAND, person.id).person.name == "One"


def test_the_last_administrator_stays(any_store: Store, now: datetime) -> None:
    first = ensure_first_administrator(
        any_store, login="root1", name="First One", password=PASSWORD, now=now, hasher=CHEAP
    )
    assert first is not None
    fields = PersonFields(login="root1", name="First One", role=Role.ENGINEER)
    with pytest.raises(Conflict):
        edit_person(any_store, COMMAND, first.id, fields, version=1, now=now)
    with pytest.raises(Conflict):
        set_active(any_store, COMMAND, first.id, False, version=1, now=now)
    second = replace(ADA, role=Role.ADMINISTRATOR)
    add_person(any_store, COMMAND, second, PASSWORD, now=now, hasher=CHEAP)
    assert not set_active(any_store, COMMAND, first.id, False, version=1, now=now).person.active


def test_the_first_administrator_is_made_once(store: Store, now: datetime) -> None:
    def make(login: str) -> object:
        return ensure_first_administrator(
            store, login=login, name="First One", password=PASSWORD, now=now, hasher=CHEAP
        )

    assert make("one") is not None
    assert make("two") is None
    assert [person.login for person in list_people(store, COMMAND)] == ["one"]


def test_a_wrong_present_password_changes_nothing(store: Store, now: datetime) -> None:
    person = add_person(store, COMMAND, ADA, PASSWORD, now=now, hasher=CHEAP).person
    actor = actor_by_session(store, session_of(store, person.id, now), now=now)
    with pytest.raises(Invalid) as refusal:
        change_own_password(store, actor, "not it", "too short", now=now, hasher=CHEAP)
    assert [p.field for p in refusal.value.problems] == ["password", "new_password"]
    with pytest.raises(Forbidden):
        change_own_password(
            store, replace(actor, by_token=True), PASSWORD, "violet harbour stone", now=now, hasher=CHEAP
        )
    assert show_person(store, COMMAND, person.id).person.version == 1


@pytest.mark.parametrize(
    ("category", "expires", "signs"),
    [
        (1, date(2030, 1, 1), False),
        (2, date(2026, 11, 25), True),
        (2, date(2026, 11, 24), False),
        (3, date(2030, 1, 1), True),
    ],
)
def test_the_second_category_signs_until_its_last_day(category: int, expires: date, signs: bool) -> None:
    held = Certificate(id=1, person_id=1, category=category, scope="", number="", expires_on=expires)
    assert may_sign([held], on=date(2026, 11, 25)) is signs
    assert not may_sign([], on=date(2026, 11, 25))


def test_certificates_are_kept_corrected_and_removed(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    boss, person_id = plant.actor(Role.ADMINISTRATOR), plant.people[Role.TECHNICIAN]
    made = add_certificate(any_store, boss, person_id, HELD, now=now).certificates[0]
    changed = replace(HELD, category=1)
    record = edit_certificate(any_store, boss, person_id, made.id, changed, version=1, now=now)
    assert record.certificates[0].category == 1
    with pytest.raises(Stale):
        remove_certificate(any_store, boss, person_id, made.id, version=1, now=now)
    with pytest.raises(NotFound):
        remove_certificate(any_store, boss, plant.people[Role.MANAGER], made.id, version=2, now=now)
    assert remove_certificate(any_store, boss, person_id, made.id, version=2, now=now).certificates == ()


def test_an_unlikely_certificate_is_refused_with_every_problem(
    store: Store, now: datetime, plant: Plant
) -> None:
    wrong = CertificateFields(category=7, scope="", number="n" * 200, expires_on=date(1, 1, 1))
    with pytest.raises(Invalid) as refusal:
        add_certificate(store, plant.actor(Role.ADMINISTRATOR), plant.people[Role.ENGINEER], wrong, now=now)
    assert [p.field for p in refusal.value.problems] == ["scope", "number", "category", "expires_on"]


def test_colleagues_are_those_who_share_a_site(store: Store, now: datetime, plant: Plant) -> None:
    stranger = add_person(store, COMMAND, ADA, PASSWORD, now=now, hasher=CHEAP).person
    names = [person.id for person in list_colleagues(store, plant.actor(Role.ENGINEER))]
    assert sorted(names) == sorted(plant.people.values())
    assert stranger.id in [person.id for person in list_colleagues(store, plant.actor(Role.ADMINISTRATOR))]


def test_every_change_to_an_account_is_on_record_without_any_password(
    any_store: Store, now: datetime
) -> None:
    plant = build_plant(any_store)
    boss = plant.actor(Role.ADMINISTRATOR)
    person_id = add_person(any_store, boss, ADA, PASSWORD, now=now, hasher=CHEAP).person.id
    edit_person(any_store, boss, person_id, replace(ADA, name="Ada P."), version=1, now=now)
    new = "violet harbour stone"
    set_password(any_store, boss, person_id, new, version=2, now=now, hasher=CHEAP)
    record = grant(any_store, boss, person_id, plant.client_id, now=now)
    revoke(any_store, boss, person_id, record.grants[0].id, version=4, now=now)
    add_certificate(any_store, boss, person_id, HELD, now=now)
    set_active(any_store, boss, person_id, False, version=5, now=now)
    entries = read_audit(any_store, boss, AuditQuestion())
    assert [(entry.verb, entry.noun) for entry in reversed(entries)] == [
        ("add", "person"),
        ("edit", "person"),
        ("set password", "person"),
        ("grant", "person"),
        ("revoke", "person"),
        ("add", "certificate"),
        ("close", "person"),
    ]
    edited = entries[-2]
    assert edited.before is not None
    assert edited.after is not None
    assert (edited.before["name"], edited.after["name"]) == ("Ada Penrose", "Ada P.")
    assert PASSWORD not in repr(entries)
    assert new not in repr(entries)
    assert "argon2" not in repr(entries)


def test_a_password_made_of_the_name_of_a_site_is_refused(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    with any_store.begin() as unit:
        site = unit.session.get_one(SiteRow, plant.site_ids[0])
        site.name, site.code = "Thornholme Pumping", "THO"
    boss, engineer = plant.actor(Role.ADMINISTRATOR), plant.actor(Role.ENGINEER)
    made_of_it = "thornholme-pumping-2026"
    with pytest.raises(Invalid, match="1 problem"):
        add_person(any_store, boss, ADA, made_of_it, now=now, hasher=CHEAP)
    record = add_person(any_store, boss, ADA, PASSWORD, now=now, hasher=CHEAP)
    with pytest.raises(Invalid, match="1 problem"):
        set_password(
            any_store,
            boss,
            record.person.id,
            made_of_it,
            version=record.person.version,
            now=now,
            hasher=CHEAP,
        )
    own = replace(engineer, person_id=record.person.id)
    with pytest.raises(Invalid, match="1 problem"):
        change_own_password(any_store, own, PASSWORD, made_of_it, now=now, hasher=CHEAP)
