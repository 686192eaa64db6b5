"""Sign in and out, and say who asks behind a session or a token."""

from collections.abc import Callable
from datetime import datetime, timedelta

from service.domain.people import Account, Actor, Person, Sight
from service.domain.words import Role
from service.errors import NotSignedIn, StorageFull, TooManyTries, Unavailable
from service.security.passwords import STANDARD, Hasher
from service.security.sessions import alive, session_end, worth_noting
from service.security.tokens import digest, new_secret
from service.storage import audit, grants, people, sessions, tokens
from service.storage.unit import Store, Unit

MOST_TRIES = 10
TRY_WINDOW = timedelta(minutes=15)
SESSION_HOURS = 12
LONGEST_LOGIN = 100
ENDED = "Your session has ended, or you had not signed in."
REFUSED = "The name or the password is not right."


def actor_by_session(store: Store, secret: str, *, now: datetime) -> Actor:
    """Who holds a session.

    Raises
    ------
    NotSignedIn
        The session is unknown, ended or revoked, or the account is closed.
    """
    with store.look() as unit:
        found = sessions.session_by_digest(unit, digest(secret))
        if found is None:
            raise NotSignedIn(ENDED, remedy="Sign in again.")
        session, person = found
        ended = not alive(expires_at=session.expires_at, revoked_at=session.revoked_at, now=now)
        if ended or not person.active:
            raise NotSignedIn(ENDED, remedy="Sign in again.")
        actor = actor_for(person, grants.sights_of(unit, person.id))
    if worth_noting(session.seen_at, now=now):
        note_quietly(store, lambda unit: sessions.note_session_seen(unit, session.id, now=now))
    return actor


def actor_by_token(store: Store, secret: str, *, now: datetime) -> Actor:
    """Who holds a token; one made for a round sees the sites of that round only.

    Raises
    ------
    NotSignedIn
        The token is unknown, expired or revoked, or its owner's account is closed.
    """
    with store.look() as unit:
        found = tokens.token_by_digest(unit, digest(secret))
        if found is None:
            raise NotSignedIn("This token is not known, has expired or was revoked.")
        token, person = found
        ended = not alive(expires_at=token.expires_at, revoked_at=token.revoked_at, now=now)
        if ended or not person.active:
            raise NotSignedIn("This token is not known, has expired or was revoked.")
        actor = actor_for(person, grants.sights_of(unit, person.id), device=token.name, by_token=True)
        if token.round_id is not None:
            actor = _narrowed(actor, token.round_id, tokens.sites_of_round(unit, token.round_id))
    if worth_noting(token.used_at, now=now):
        note_quietly(store, lambda unit: tokens.note_token_used(unit, token.id, now=now))
    return actor


def sign_in(
    store: Store,
    login: str,
    password: str,
    *,
    address: str,
    now: datetime,
    hours: int = SESSION_HOURS,
    demo_allowed: bool = False,
    hasher: Hasher = STANDARD,
    old_secret: str = "",
) -> tuple[Actor, str]:
    """Begin a session; an earlier one of the same browser ends.

    Parameters
    ----------
    store : Store
        Where accounts are.
    login, password : str
        As typed.
    address : str
        Where the request came from; tries are counted per account and address.
    now : datetime
        The instant of the request.
    hours : int
        How long the session lives [h].
    demo_allowed : bool
        Whether accounts of the demonstration may sign in from there.
    hasher : Hasher
        What checks the password.
    old_secret : str
        Session the browser still carries; it is revoked, so that secrets rotate.

    Returns
    -------
    tuple of Actor and str
        Who signed in, and the secret for the cookie (only its digest is kept).

    Raises
    ------
    TooManyTries
        Ten tries within a quarter of an hour; it passes by itself.
    NotSignedIn
        Unknown account, closed account or wrong password, told alike and after the same time.
    """
    name = login.strip().casefold()[:LONGEST_LOGIN]
    key = digest(f"{name}|{address}")
    with store.begin() as unit:
        sessions.forget_ended(unit, now=now)
        if sessions.count_and_add_try(unit, key, since=now - TRY_WINDOW, now=now) >= MOST_TRIES:
            raise TooManyTries(
                "Ten tries in a quarter of an hour.", remedy="Wait a quarter of an hour, then try again."
            )
    with store.look() as unit:
        account = people.account_by_login(unit, name) if name.isprintable() else None
    fresh_hash = _checked(account, password, demo_allowed=demo_allowed, hasher=hasher)
    assert account is not None
    secret = new_secret()
    with store.begin() as unit:
        actor = actor_for(account.person, grants.sights_of(unit, account.person.id))
        sessions.forget_tries(unit, key)
        if old_secret:
            sessions.revoke_session(unit, digest(old_secret), now=now)
        sessions.add_session(
            unit,
            account.person.id,
            secret_digest=digest(secret),
            now=now,
            expires_at=session_end(now, hours=hours),
        )
        if fresh_hash:
            people.keep_password_hash(unit, account.person.id, fresh_hash)
        audit.note(unit, actor, verb="sign in", noun="person", noun_id=actor.person_id, now=now)
    return actor, secret


def sign_out(store: Store, actor: Actor, secret: str, *, now: datetime) -> None:
    """End one session; ending it twice is no fault."""
    with store.begin() as unit:
        if sessions.revoke_session(unit, digest(secret), now=now):
            audit.note(unit, actor, verb="sign out", noun="person", noun_id=actor.person_id, now=now)


def _checked(account: Account | None, password: str, *, demo_allowed: bool, hasher: Hasher) -> str | None:
    """A hash of the present cost when the stored one has another; raises when it is not the password."""
    if account is None or not account.password_hash.startswith("$argon2"):
        hasher.spend(password)
        raise NotSignedIn(REFUSED, remedy="Check both, then try again.")
    right, fresh = hasher.verify(password, account.password_hash)
    if not right or not account.person.active or (account.demo and not demo_allowed):
        raise NotSignedIn(REFUSED, remedy="Check both, then try again.")
    return fresh


def actor_for(
    person: Person, sights: tuple[Sight, ...], *, device: str = "", by_token: bool = False
) -> Actor:
    """The actor that a person is, with what the grants open."""
    names = {sight.client_name for sight in sights}
    return Actor(
        person_id=person.id,
        name=person.name,
        role=person.role,
        sites=frozenset(sight.site_id for sight in sights if sight.site_id is not None),
        clients=frozenset(sight.client_id for sight in sights),
        whole_clients=frozenset(sight.client_id for sight in sights if sight.whole_client),
        every_site=person.role is Role.ADMINISTRATOR,
        device=device,
        by_token=by_token,
        client_name=next(iter(names)) if len(names) == 1 else "",
        temperature_unit=person.temperature_unit,
    )


def _narrowed(actor: Actor, round_id: int, round_sites: frozenset[int]) -> Actor:
    return Actor(
        person_id=actor.person_id,
        name=actor.name,
        role=actor.role,
        sites=round_sites if actor.every_site else actor.sites & round_sites,
        device=actor.device,
        by_token=True,
        only_round=round_id,
        client_name=actor.client_name,
        temperature_unit=actor.temperature_unit,
    )


def note_quietly(store: Store, write: Callable[[Unit], None]) -> None:
    """Noting use must never refuse a reader, not even on a full disk."""
    try:
        with store.begin() as unit:
            write(unit)
    except (StorageFull, Unavailable):
        return
