"""The first accepted upload or typed page makes a round returned."""

from datetime import datetime

from service.domain.people import Actor
from service.domain.rounds import OPEN_FOR_READINGS, Round
from service.domain.words import RoundState
from service.errors import Conflict, NotFound
from service.storage import audit, rounds
from service.storage.unit import Unit


def mark_returned(unit: Unit, actor: Actor, round_id: int, now: datetime) -> Round:
    """Called inside the transaction that stores readings; the round is held until its end.

    An issued round becomes returned, a returned one stays as it is: more may come.

    Raises
    ------
    NotFound
        No such round.
    Conflict
        It is a draft, withdrawn or signed off, so that no reading may come in.
    """
    round_ = rounds.lock_round(unit, round_id)
    if round_ is None:
        raise NotFound()
    if round_.state not in OPEN_FOR_READINGS:
        later = round_.state is RoundState.SIGNED_OFF
        remedy = "An engineer corrects single readings." if later else "Readings come in once it is issued."
        raise Conflict(f"Round {round_.code} is {round_.state}; it takes no readings", remedy=remedy)
    if round_.state is RoundState.RETURNED:
        return round_
    after = rounds.move_round(
        unit, round_, RoundState.RETURNED, by=actor.person_id, now=now, version=round_.version
    )
    audit.note(unit, actor, verb="return", noun="round", noun_id=round_id, now=now)
    return after
