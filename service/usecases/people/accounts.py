"""Accounts: list, add, edit, close and open again."""

from dataclasses import replace
from datetime import datetime
from typing import Any

from service.domain.people import Account, Actor, Person, PersonFields, PersonRecord
from service.domain.permissions import Verb, require
from service.domain.words import Role
from service.errors import Conflict, Invalid, NotFound
from service.security.passwords import STANDARD, Hasher, password_problems
from service.storage import audit, calendar_feeds, grants, people, sessions, tokens
from service.storage.unit import Store, Unit
from service.usecases.people.typed import person_problems, problem

LAST_ONE = "This is the last administrator who can sign in."
COMMAND = Actor(person_id=None, name="riseline command", role=Role.ADMINISTRATOR, every_site=True)


def list_people(store: Store, actor: Actor, *, after: int = 0, limit: int = 100) -> tuple[Person, ...]:
    """One page of all accounts, by id.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    """
    require(actor, Verb.ADMINISTER)
    with store.look() as unit:
        return people.list_people(unit, after=after, limit=limit)


def show_person(store: Store, actor: Actor, person_id: int) -> PersonRecord:
    """An account with its certificates and grants.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    NotFound
        No such person.
    """
    require(actor, Verb.ADMINISTER)
    with store.look() as unit:
        return record_of(unit, person_id)


def list_colleagues(store: Store, actor: Actor) -> tuple[Person, ...]:
    """Active people who share a granted site or client with the actor (for "who walks", "owner")."""
    require(actor, Verb.SEE)
    with store.look() as unit:
        return people.people_in_sight(unit, sites=actor.site_ids, clients=actor.clients)


def add_person(
    store: Store,
    actor: Actor,
    fields: PersonFields,
    password: str,
    *,
    now: datetime,
    demo: bool = False,
    hasher: Hasher = STANDARD,
) -> PersonRecord:
    """Open an account; it sees nothing until something is granted.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An administrator.
    fields : PersonFields
        Who it is.
    password : str
        The first password, to be told in person.
    now : datetime
        The instant.
    demo : bool
        An invented account that signs in on this machine only.
    hasher : Hasher
        What hashes the password.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    Invalid
        Every problem of the fields and the password.
    """
    require(actor, Verb.ADMINISTER)
    fields = _tidied(fields)
    found = person_problems(fields)
    with store.look() as unit:
        found += password_problems(password, words=words_of(unit, fields))
    _refuse_if_any(store, found, fields, person_id=None)
    encoded = hasher.hash(password)
    with store.begin() as unit:
        person = people.add_person(unit, fields, password_hash=encoded, now=now, demo=demo)
        note_person(unit, actor, "add", person.id, now=now, after=_shown(fields))
        return record_of(unit, person.id)


def edit_person(
    store: Store, actor: Actor, person_id: int, fields: PersonFields, *, version: int, now: datetime
) -> PersonRecord:
    """Change who a person is or what role they have.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    Invalid
        Every problem of the fields.
    NotFound, Stale
        No such person; changed since ``version``.
    Conflict
        It would leave no administrator.
    """
    require(actor, Verb.ADMINISTER)
    fields = _tidied(fields)
    _refuse_if_any(store, person_problems(fields), fields, person_id=person_id)
    with store.begin() as unit:
        before = account_of(unit, person_id).person
        if before.role is Role.ADMINISTRATOR and fields.role is not Role.ADMINISTRATOR:
            _keep_one_administrator(unit, person_id)
        after = people.edit_person(unit, person_id, fields, version=version, now=now)
        note_person(unit, actor, "edit", person_id, now=now, before=_shown(before), after=_shown(after))
        return record_of(unit, person_id)


def set_active(
    store: Store, actor: Actor, person_id: int, active: bool, *, version: int, now: datetime
) -> PersonRecord:
    """Close an account, with its sessions and tokens, or open it again.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    NotFound, Stale
        No such person; changed since ``version``.
    Conflict
        It would leave no administrator.
    """
    require(actor, Verb.ADMINISTER)
    with store.begin() as unit:
        before = account_of(unit, person_id).person
        if not active and before.role is Role.ADMINISTRATOR:
            _keep_one_administrator(unit, person_id)
        people.set_active(unit, person_id, active, version=version, now=now)
        if not active:
            sessions.revoke_sessions_of(unit, person_id, now=now)
            tokens.revoke_tokens_of(unit, person_id, now=now)
            calendar_feeds.revoke_feeds_of(unit, person_id, now=now)
        note_person(unit, actor, "open again" if active else "close", person_id, now=now)
        return record_of(unit, person_id)


def ensure_first_administrator(
    store: Store, *, login: str, name: str, password: str, now: datetime, hasher: Hasher = STANDARD
) -> Person | None:
    """Open the first administrator's account (for the `riseline` command).

    Returns
    -------
    Person or None
        The new administrator; None when there is one who can sign in already, and then nothing
        changes.

    Raises
    ------
    Invalid
        Every problem of the fields and the password.
    """
    with store.begin() as unit:
        if people.count_active_administrators(unit):
            return None
    fields = PersonFields(login=login, name=name, role=Role.ADMINISTRATOR)
    return add_person(store, COMMAND, fields, password, now=now, hasher=hasher).person


def _tidied(fields: PersonFields) -> PersonFields:
    return replace(
        fields,
        login=fields.login.strip().casefold(),
        name=fields.name.strip(),
        email=fields.email.strip(),
    )


def words_of(unit: Unit, person: PersonFields | Person) -> tuple[str, ...]:
    """What an attacker tries first: words of the person, and of the clients and sites kept here."""
    return (person.login, person.name, person.email, *grants.names_of_places(unit))


def _refuse_if_any(store: Store, found: list[Any], fields: PersonFields, *, person_id: int | None) -> None:
    with store.look() as unit:
        same = people.account_by_login(unit, fields.login)
    if same is not None and same.person.id != person_id:
        found.append(
            problem("login", fields.login, "Somebody signs in with this name.", remedy="Take another name.")
        )
    if found:
        raise Invalid(found)


def account_of(unit: Unit, person_id: int) -> Account:
    account = people.account_by_id(unit, person_id)
    if account is None:
        raise NotFound()
    return account


def record_of(unit: Unit, person_id: int) -> PersonRecord:
    record = people.person_record(unit, person_id)
    if record is None:
        raise NotFound()
    return record


def _keep_one_administrator(unit: Unit, person_id: int) -> None:
    if people.count_active_administrators(unit, besides=person_id) == 0:
        raise Conflict(LAST_ONE, remedy="Make somebody else an administrator first.")


def _shown(person: PersonFields | Person) -> dict[str, Any]:
    return {name: getattr(person, name) for name in ("login", "name", "role", "email", "qualified")}


def note_person(
    unit: Unit,
    actor: Actor,
    verb: str,
    person_id: int,
    *,
    now: datetime,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> None:
    audit.note(unit, actor, verb=verb, noun="person", noun_id=person_id, now=now, before=before, after=after)
