"""Passwords: an administrator sets one, everybody changes their own."""

from datetime import datetime

from service.domain.people import Actor, PersonRecord
from service.domain.permissions import Verb, require
from service.errors import Forbidden, Invalid, TooManyTries
from service.security.passwords import STANDARD, Hasher, password_problems
from service.security.tokens import digest
from service.storage import people, sessions
from service.storage.unit import Store
from service.usecases.people.accounts import account_of, note_person, record_of, words_of
from service.usecases.people.sign_in import MOST_TRIES, TRY_WINDOW
from service.usecases.people.typed import problem


def set_password(
    store: Store,
    actor: Actor,
    person_id: int,
    password: str,
    *,
    version: int,
    now: datetime,
    hasher: Hasher = STANDARD,
) -> PersonRecord:
    """Give somebody a new password; every session of theirs ends.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    Invalid
        The password breaks a rule.
    NotFound, Stale
        No such person; changed since ``version``.
    """
    require(actor, Verb.ADMINISTER)
    with store.look() as unit:
        words = words_of(unit, account_of(unit, person_id).person)
    found = password_problems(password, words=words)
    if found:
        raise Invalid(found)
    encoded = hasher.hash(password)
    with store.begin() as unit:
        people.set_password_hash(unit, person_id, encoded, version=version, now=now)
        sessions.revoke_sessions_of(unit, person_id, now=now)
        note_person(unit, actor, "set password", person_id, now=now)
        return record_of(unit, person_id)


def change_own_password(
    store: Store,
    actor: Actor,
    current: str,
    new: str,
    *,
    now: datetime,
    keep_secret: str = "",
    hasher: Hasher = STANDARD,
) -> None:
    """Take a new password of one's own; every other session of one's own ends.

    Raises
    ------
    Invalid
        The current one is wrong or the new one breaks a rule.
    TooManyTries
        Ten tries within a quarter of an hour.
    Forbidden
        A token or the service itself cannot do this.
    """
    if actor.person_id is None or actor.by_token:
        raise Forbidden("A password is changed by its owner, signed in.")
    key = digest(f"own password|{actor.person_id}")
    with store.begin() as unit:
        if sessions.count_and_add_try(unit, key, since=now - TRY_WINDOW, now=now) >= MOST_TRIES:
            raise TooManyTries(remedy="Wait a quarter of an hour, then try again.")
        account = account_of(unit, actor.person_id)
        words = words_of(unit, account.person)
    right, _ = hasher.verify(current, account.password_hash)
    found = list(password_problems(new, words=words, field="new_password"))
    if not right:
        found.insert(0, problem("password", "another one", "This is not your present password."))
    if found:
        raise Invalid(found)
    encoded = hasher.hash(new)
    with store.begin() as unit:
        person = account.person
        people.set_password_hash(unit, person.id, encoded, version=person.version, now=now)
        sessions.forget_tries(unit, key)
        sessions.revoke_sessions_of(
            unit, person.id, now=now, besides=digest(keep_secret) if keep_secret else ""
        )
        note_person(unit, actor, "change own password", person.id, now=now)
