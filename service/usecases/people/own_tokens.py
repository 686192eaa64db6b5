"""Tokens of one's own: for programs, and for a device that walks one round."""

from dataclasses import replace
from datetime import datetime, timedelta

from service.domain.people import Actor, Token
from service.domain.permissions import Verb, require
from service.domain.rounds import Round
from service.domain.words import RoundState
from service.errors import Conflict, Forbidden, Invalid, NotFound, NotSignedIn, Problem
from service.security.tokens import digest, new_token, prefix
from service.storage import audit, rounds, tokens
from service.storage.unit import Store, Unit
from service.usecases.people.typed import line_problems, problem
from service.usecases.rounds.sight import round_to_see, sight_of

LONGEST_DAYS = 365
LONGEST_ROUND_DAYS = 7
MOST_ALIVE = 50


def make_token(
    store: Store, actor: Actor, name: str, days: int, *, round_id: int | None = None, now: datetime
) -> tuple[Token, str]:
    """Make a token of one's own.

    Parameters
    ----------
    store : Store
        Where its digest is kept.
    actor : Actor
        The owner, signed in (a token makes no token).
    name : str
        By which the owner tells it from others.
    days : int
        How long it lives: up to 365 days, for one round up to 7.
    round_id : int, optional
        The one round it opens; without it, it may all that its owner may.
    now : datetime
        The instant.

    Returns
    -------
    tuple of Token and str
        The token, and the secret that is shown this once.

    Raises
    ------
    Forbidden
        A token or the service itself asked.
    Invalid
        Every problem of name and days.
    NotFound
        The round is not in sight.
    Conflict
        There are fifty already.
    """
    owner = _owner(actor)
    most = LONGEST_DAYS if round_id is None else LONGEST_ROUND_DAYS
    found = _problems(name, days, most)
    if found:
        raise Invalid(found)
    secret = new_token()
    draft = Token(
        id=0,
        person_id=owner,
        name=name.strip(),
        prefix=prefix(secret),
        round_id=round_id,
        created_at=now,
        expires_at=now + timedelta(days=days),
        used_at=None,
        revoked_at=None,
    )
    with store.begin() as unit:
        if round_id is not None:
            round_to_see(unit, actor, round_id)
        return _keep(unit, actor, draft, secret_digest=digest(secret)), secret


def list_tokens(store: Store, actor: Actor) -> tuple[Token, ...]:
    """One's own tokens, the newest first, ended ones included."""
    require(actor, Verb.OWN_TOKEN)
    if actor.person_id is None:
        raise NotSignedIn()
    with store.look() as unit:
        return tokens.tokens_of(unit, actor.person_id)


def rounds_to_walk(store: Store, actor: Actor) -> tuple[Round, ...]:
    """Rounds in sight that are out or came back in part: those a device may take along."""
    require(actor, Verb.OWN_TOKEN)
    with store.look() as unit:
        return rounds.list_rounds(unit, sight_of(actor), states=(RoundState.ISSUED, RoundState.RETURNED))


def revoke_token(store: Store, actor: Actor, token_id: int, *, now: datetime) -> Token:
    """End a token at once: one's own, or for an administrator anybody's; twice is once.

    Raises
    ------
    NotFound
        No such token, or somebody else's.
    """
    require(actor, Verb.OWN_TOKEN)
    with store.begin() as unit:
        token = tokens.token_by_id(unit, token_id)
        own = token is not None and token.person_id == actor.person_id
        if token is None or not (own or _administers(actor)):
            raise NotFound()
        if token.revoked_at is not None:
            return token
        tokens.revoke_token(unit, token_id, now=now)
        audit.note(unit, actor, verb="revoke", noun="token", noun_id=token_id, now=now)
        return replace(token, revoked_at=now)


def _owner(actor: Actor) -> int:
    require(actor, Verb.OWN_TOKEN)
    if actor.person_id is None or actor.by_token:
        raise Forbidden(
            "A token is made by its owner, signed in.", remedy="Sign in and make it under Set-up."
        )
    return actor.person_id


def _keep(unit: Unit, actor: Actor, draft: Token, *, secret_digest: str) -> Token:
    """Write a token down, with the line of who made it, unless its owner has too many."""
    if tokens.count_alive(unit, draft.person_id, now=draft.created_at) >= MOST_ALIVE:
        raise Conflict(f"You have {MOST_ALIVE} tokens.", remedy="Revoke those that are not used.")
    made = tokens.add_token(unit, draft, secret_digest=secret_digest)
    after = {"name": made.name, "round_id": made.round_id, "expires_at": made.expires_at}
    audit.note(unit, actor, verb="make", noun="token", noun_id=made.id, now=made.created_at, after=after)
    return made


def _administers(actor: Actor) -> bool:
    try:
        require(actor, Verb.ADMINISTER)
    except Forbidden:
        return False
    return True


def _problems(name: str, days: int, most: int) -> list[Problem]:
    found = line_problems("name", name, longest=60)
    if not 1 <= days <= most:
        found.append(
            problem("days", days, f"A token lives 1 to {most} days.", remedy=f"Take at most {most}.")
        )
    return found
