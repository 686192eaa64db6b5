"""Say what holds for all readings of a round that say nothing themselves."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.round_settings import read_round_settings
from service.domain.rounds import Round, check_running
from service.errors import Invalid
from service.storage import audit, rounds
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_change


@dataclass(frozen=True, slots=True)
class Held:
    """The round with what holds for it; ``readings`` were in already and keep what they were judged with."""

    round: Round
    readings: int


def set_round_settings(
    store: Store,
    actor: Actor,
    round_id: int,
    changes: Mapping[str, Mapping[str, object] | None],
    *,
    version: int,
    now: datetime,
    where: str = "form",
) -> Held:
    """Set or take back settings of a round; quantities that are not named stay as they are.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer with grants for its sites.
    round_id : int
        A round in draft, issued or returned.
    changes : mapping
        By quantity: ``value``, ``half_width``, ``standing``, ``how``; None or an empty value
        takes it back.
    version : int
        The version of the round that was read.
    now : datetime
        The instant of the request.

    Raises
    ------
    Invalid
        With every problem; nothing is stored.
    Conflict
        The round is over.
    NotFound, Forbidden
        Out of sight, or not this role's.
    Stale
        Somebody changed it since ``version``.

    Notes
    -----
    Readings brought afterwards are judged with these; those already in are not touched: they
    are evaluated again by a re-evaluation of the round, which tells first what would change.
    """
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id, version=version)
        check_running(round_)
        read, problems = read_round_settings(changes, where=where)
        if problems:
            raise Invalid(problems)
        readings = rounds.count_readings(unit, round_id)
        before = dict(round_.settings)
        after = {name: said for name, said in (before | read).items() if said is not None}
        if after == before:
            return Held(round_, readings)
        touched = rounds.touch_round(unit, round_id, version=version, now=now, settings=after or None)
        changed = sorted(name for name in before.keys() | after.keys() if before.get(name) != after.get(name))
        audit.note(
            unit,
            actor,
            verb="set what holds",
            noun="round",
            noun_id=round_id,
            now=now,
            before={name: before.get(name) for name in changed},
            after={name: after.get(name) for name in changed} | {"readings_already_in": readings},
        )
        return Held(touched, readings)
