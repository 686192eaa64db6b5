"""The phrases a client's people pick into the notes of pictures."""

from datetime import datetime

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.pictures import LONGEST_PHRASE, MOST_PHRASES, Phrases
from service.errors import Invalid, NotFound, Problem
from service.storage import audit, phrases
from service.storage.unit import Store, Unit


def list_phrases(store: Store, actor: Actor) -> tuple[Phrases, ...]:
    """The phrases of every client in sight."""
    require(actor, Verb.SEE)
    with store.look() as unit:
        return phrases.phrases_of_clients(unit, None if actor.every_site else actor.clients)


def see_phrases(store: Store, actor: Actor, client_id: int) -> Phrases:
    """The phrases of one client.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    with store.look() as unit:
        return _of(unit, actor, client_id)


def set_phrases(
    store: Store, actor: Actor, client_id: int, lines: tuple[str, ...], *, version: int, now: datetime
) -> Phrases:
    """Put other phrases in their place; notes already written keep what was picked.

    Parameters
    ----------
    lines : tuple of str
        In the order in which they are offered; empty and repeated ones are left out.
    version : int
        The version that was read.

    Raises
    ------
    Invalid
        Too many, or one that is too long.
    NotFound, Forbidden
        Out of sight, or not this role's.
    Stale
        Somebody changed them since ``version``.
    """
    wanted = tuple(dict.fromkeys(line for raw in lines if (line := " ".join(raw.split()))))
    with store.begin() as unit:
        before = _of(unit, actor, client_id)
        require(actor, Verb.KEEP_REGISTER)
        problems = _problems(wanted)
        if problems:
            raise Invalid(problems)
        row_id = phrases.begin_phrases(unit, client_id, now=now)
        phrases.change_phrases(unit, row_id, wanted, version=version, now=now)
        audit.note(
            unit,
            actor,
            verb="set phrases",
            noun="client",
            noun_id=client_id,
            now=now,
            before={"phrases": list(before.lines)},
            after={"phrases": list(wanted)},
        )
        return _of(unit, actor, client_id)


def _of(unit: Unit, actor: Actor, client_id: int) -> Phrases:
    if not actor.sees_client(client_id):
        raise NotFound()
    found = phrases.phrases_of_clients(unit, [client_id])
    if not found:
        raise NotFound()
    return found[0]


def _problems(lines: tuple[str, ...]) -> list[Problem]:
    problems = [
        Problem(
            "form",
            "lines",
            line[:60],
            f"A phrase has at most {LONGEST_PHRASE} letters.",
            "Shorten it, or make two of it.",
        )
        for line in lines
        if len(line) > LONGEST_PHRASE or not line.isprintable()
    ]
    if len(lines) > MOST_PHRASES:
        problems.append(
            Problem(
                "form",
                "lines",
                str(len(lines)),
                f"More than {MOST_PHRASES} phrases.",
                "Keep the common ones.",
            )
        )
    return problems
