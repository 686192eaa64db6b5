"""Signing in: what it refuses, how it counts, what a session is."""

import sqlite3
import statistics
import time
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from sqlalchemy import event, func, select

from service.domain.people import Actor, PersonFields
from service.domain.words import Role
from service.errors import NotSignedIn, TooManyTries, Unavailable
from service.security.passwords import Hasher
from service.storage.tables.people import PersonRow, SessionRow
from service.storage.tables.record import AuditRow
from service.storage.unit import Store
from service.usecases.people import accounts
from service.usecases.people.accounts import add_person, set_active
from service.usecases.people.passwords import change_own_password, set_password
from service.usecases.people.sign_in import actor_by_session, actor_by_token, sign_in, sign_out
from tests.builders import Plant, build_plant
from tests.doors import CHEAP, session_of, token_of

PASSWORD = "kettle gravel orbit nine"
ADA = PersonFields(login="ada", name="Ada Penrose", role=Role.ENGINEER)


def enter(store: Store, login: str, password: str, now: datetime, **change: object) -> tuple[Actor, str]:
    options: dict[str, object] = {"address": "192.0.2.7", "now": now, "hasher": CHEAP} | change
    return sign_in(store, login, password, **options)  # type: ignore[arg-type]


def open_account(store: Store, now: datetime, **change: object) -> int:
    fields = replace(ADA, **{k: v for k, v in change.items() if k != "demo"})  # type: ignore[arg-type]
    record = add_person(
        store, accounts.COMMAND, fields, PASSWORD, now=now, hasher=CHEAP, demo=bool(change.get("demo"))
    )
    return record.person.id


def test_the_right_password_begins_a_session_that_says_who_asks(any_store: Store, now: datetime) -> None:
    person_id = open_account(any_store, now)
    actor, secret = enter(any_store, " Ada ", PASSWORD, now)
    assert actor.person_id == person_id
    assert actor_by_session(any_store, secret, now=now) == actor
    with any_store.look() as unit:
        kept = unit.session.scalars(select(SessionRow.secret_hash)).all()
    assert secret not in kept, "only a digest is kept"


def test_the_grants_make_the_sight(store: Store, now: datetime) -> None:
    plant = build_plant(store, sites=2)
    actor = actor_by_session(store, session_of(store, plant.people[Role.ENGINEER], now), now=now)
    assert actor.sites == frozenset(plant.site_ids)
    assert actor.clients == actor.whole_clients == {plant.client_id}
    assert not actor.every_site
    assert actor.client_name == "Merrowdale Water"


def test_an_administrator_sees_every_site(store: Store, now: datetime) -> None:
    plant = build_plant(store)
    actor = actor_by_session(store, session_of(store, plant.people[Role.ADMINISTRATOR], now), now=now)
    assert actor.every_site
    assert actor.site_ids is None


@pytest.mark.parametrize(
    ("login", "password"),
    [
        ("ada", PASSWORD + " "),
        ("ada", PASSWORD[:-1]),
        ("ada", ""),
        ("nobody", PASSWORD),
        ("", PASSWORD),
        ("ada\x00", PASSWORD),
        ("ada\ud800", PASSWORD),
        ("ada' OR 1=1 --", PASSWORD),
        ("x" * 5000, PASSWORD),
        ("ada", "\ud800" * 20),
        ("closed", PASSWORD),
        ("unhashed", PASSWORD),
        ("demo", PASSWORD),
    ],
)
def test_every_refusal_has_the_same_words(any_store: Store, now: datetime, login: str, password: str) -> None:
    open_account(any_store, now)
    closed = open_account(any_store, now, login="closed")
    set_active(any_store, accounts.COMMAND, closed, False, version=1, now=now)
    open_account(any_store, now, login="demo", demo=True)
    unhashed = open_account(any_store, now, login="unhashed")
    with any_store.begin() as unit:
        unit.session.get_one(PersonRow, unhashed).password_hash = "!"
    with pytest.raises(NotSignedIn) as refusal:
        enter(any_store, login, password, now)
    assert str(refusal.value) == "The name or the password is not right."


def test_a_demonstration_account_opens_only_where_it_is_allowed(store: Store, now: datetime) -> None:
    open_account(store, now, login="demo", demo=True)
    with pytest.raises(NotSignedIn):
        enter(store, "demo", PASSWORD, now)
    assert enter(store, "demo", PASSWORD, now, demo_allowed=True)[0].name == "Ada Penrose"


def test_the_eleventh_try_in_a_quarter_of_an_hour_is_refused_even_when_right(
    any_store: Store, now: datetime
) -> None:
    open_account(any_store, now)
    for k in range(10):
        with pytest.raises(NotSignedIn):
            enter(any_store, "ada", "wrong", now + timedelta(seconds=k))
    with pytest.raises(TooManyTries):
        enter(any_store, "ADA", PASSWORD, now + timedelta(minutes=14))
    assert enter(any_store, "ada", PASSWORD, now, address="192.0.2.8"), "another address may try"
    assert enter(any_store, "ada", PASSWORD, now + timedelta(minutes=16)), "no permanent lock-out"


def test_unknown_names_are_limited_alike(store: Store, now: datetime) -> None:
    for _ in range(10):
        with pytest.raises(NotSignedIn):
            enter(store, "nobody", "wrong", now)
    with pytest.raises(TooManyTries):
        enter(store, "nobody", "wrong", now)


def test_signing_in_forgets_the_tries(store: Store, now: datetime) -> None:
    open_account(store, now)
    for _ in range(3):
        for _ in range(9):
            with pytest.raises(NotSignedIn):
                enter(store, "ada", "wrong", now)
        enter(store, "ada", PASSWORD, now)


class Watched(Hasher):
    """Says of which cost each hash was that it checked."""

    def __init__(self) -> None:
        super().__init__(time_cost=1, memory_kib=16, parallelism=1)
        self.costs: list[str] = []

    def verify(self, password: str, encoded: str) -> tuple[bool, str | None]:
        self.costs.append(encoded.split("$")[3])
        return super().verify(password, encoded)


@pytest.mark.parametrize("login", ["ada", "nobody", "closed", "demo", "", "ada\x00"])
def test_every_refusal_costs_one_hash_of_the_present_cost(store: Store, now: datetime, login: str) -> None:
    hasher = Watched()
    for name in ("ada", "closed", "demo"):
        fields = replace(ADA, login=name)
        add_person(store, accounts.COMMAND, fields, PASSWORD, now=now, hasher=hasher, demo=name == "demo")
        if name == "closed":
            set_active(store, accounts.COMMAND, 2, False, version=1, now=now)
    with pytest.raises(NotSignedIn):
        enter(store, login, "wrong", now, hasher=hasher)
    assert hasher.costs == ["m=16,t=1,p=1"]


@pytest.mark.torture
def test_an_unknown_name_takes_as_long_as_a_wrong_password(store: Store, now: datetime) -> None:
    hasher = Hasher()
    add_person(store, accounts.COMMAND, ADA, PASSWORD, now=now, hasher=hasher)
    hasher.spend("once, so that the hash of nobody is made")

    def seconds(login: str, k: int) -> float:
        begun = time.perf_counter()
        with pytest.raises(NotSignedIn):
            enter(store, login, "wrong", now, hasher=hasher, address=f"192.0.2.{k}")
        return time.perf_counter() - begun

    pairs = [(seconds("ada", k), seconds("nobody", k)) for k in range(100)]
    known, unknown = (statistics.fmean(sorted(times)[:80]) for times in zip(*pairs, strict=True))
    assert abs(unknown / known - 1) <= 0.05


def test_a_new_session_ends_the_one_the_browser_carried(store: Store, now: datetime) -> None:
    open_account(store, now)
    _, old = enter(store, "ada", PASSWORD, now)
    _, new = enter(store, "ada", PASSWORD, now, old_secret=old)
    assert new != old
    with pytest.raises(NotSignedIn):
        actor_by_session(store, old, now=now)


def test_a_session_ends_by_itself_after_its_hours(store: Store, now: datetime) -> None:
    open_account(store, now)
    _, secret = enter(store, "ada", PASSWORD, now, hours=2)
    assert actor_by_session(store, secret, now=now + timedelta(minutes=119))
    with pytest.raises(NotSignedIn):
        actor_by_session(store, secret, now=now + timedelta(hours=2))


def test_signing_out_ends_this_session_alone_and_twice_is_no_fault(store: Store, now: datetime) -> None:
    open_account(store, now)
    actor, here = enter(store, "ada", PASSWORD, now)
    _, elsewhere = enter(store, "ada", PASSWORD, now)
    sign_out(store, actor, here, now=now)
    sign_out(store, actor, here, now=now)
    with pytest.raises(NotSignedIn):
        actor_by_session(store, here, now=now)
    assert actor_by_session(store, elsewhere, now=now)
    with store.look() as unit:
        assert unit.session.scalar(select(func.count()).where(AuditRow.verb == "sign out")) == 1


def test_a_closed_account_loses_sessions_and_tokens_and_they_stay_lost(store: Store, now: datetime) -> None:
    person_id = open_account(store, now)
    _, session = enter(store, "ada", PASSWORD, now)
    token = token_of(store, person_id, now)
    record = set_active(store, accounts.COMMAND, person_id, False, version=1, now=now)
    set_active(store, accounts.COMMAND, person_id, True, version=record.person.version, now=now)
    with pytest.raises(NotSignedIn):
        actor_by_session(store, session, now=now)
    with pytest.raises(NotSignedIn):
        actor_by_token(store, token, now=now)


def test_a_new_password_ends_every_session(store: Store, now: datetime) -> None:
    person_id = open_account(store, now)
    _, session = enter(store, "ada", PASSWORD, now)
    new = "violet harbour stone eleven"
    set_password(store, accounts.COMMAND, person_id, new, version=1, now=now, hasher=CHEAP)
    with pytest.raises(NotSignedIn):
        actor_by_session(store, session, now=now)
    with pytest.raises(NotSignedIn):
        enter(store, "ada", PASSWORD, now)
    assert enter(store, "ada", new, now)


def test_changing_ones_own_password_keeps_the_session_in_which_it_was_changed(
    store: Store, now: datetime
) -> None:
    open_account(store, now)
    actor, here = enter(store, "ada", PASSWORD, now)
    _, elsewhere = enter(store, "ada", PASSWORD, now)
    new = "violet harbour stone eleven"
    change_own_password(store, actor, PASSWORD, new, now=now, keep_secret=here, hasher=CHEAP)
    assert actor_by_session(store, here, now=now)
    with pytest.raises(NotSignedIn):
        actor_by_session(store, elsewhere, now=now)
    assert enter(store, "ada", new, now)


def test_a_hash_of_an_older_cost_is_renewed_at_sign_in(store: Store, now: datetime) -> None:
    person_id = open_account(store, now)
    enter(store, "ada", PASSWORD, now, hasher=Hasher(time_cost=2, memory_kib=16, parallelism=1))
    with store.look() as unit:
        assert "m=16,t=2,p=1" in unit.session.get_one(PersonRow, person_id).password_hash


@pytest.mark.parametrize("secret", ["", "x", "\ud800", "a" * 100_000, "' OR 1=1 --"])
def test_what_is_no_secret_opens_nothing(store: Store, now: datetime, secret: str, plant: Plant) -> None:
    with pytest.raises(NotSignedIn):
        actor_by_session(store, secret, now=now)
    with pytest.raises(NotSignedIn):
        actor_by_token(store, secret, now=now)


def test_a_session_secret_is_no_token_nor_the_other_way_round(
    store: Store, now: datetime, plant: Plant
) -> None:
    person_id = plant.people[Role.ENGINEER]
    with pytest.raises(NotSignedIn):
        actor_by_token(store, session_of(store, person_id, now), now=now)
    with pytest.raises(NotSignedIn):
        actor_by_session(store, token_of(store, person_id, now), now=now)


def test_use_is_noted_but_never_refuses_a_reader(store: Store, now: datetime, plant: Plant) -> None:
    secret = session_of(store, plant.people[Role.ENGINEER], now)
    later = now + timedelta(hours=2)
    assert actor_by_session(store, secret, now=later)
    with store.look() as unit:
        assert unit.session.scalars(select(SessionRow.seen_at)).one() == later
    store.engine.dispose()

    @event.listens_for(store.engine, "connect")
    def refuse_updates(connection: sqlite3.Connection, _record: object) -> None:
        connection.set_authorizer(
            lambda action, *_: sqlite3.SQLITE_DENY if action == sqlite3.SQLITE_UPDATE else sqlite3.SQLITE_OK
        )

    with pytest.raises(Unavailable):
        sign_out(store, actor_by_session(store, secret, now=later), secret, now=later)
    assert actor_by_session(store, secret, now=later + timedelta(hours=2))
