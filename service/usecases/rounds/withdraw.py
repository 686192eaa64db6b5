"""Withdraw a round that is not to be walked, with the reason."""

from datetime import datetime

from service.domain.people import Actor
from service.domain.rounds import Round, check_move
from service.domain.words import RoundState
from service.errors import Invalid
from service.storage import audit, rounds, site_state
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_change
from service.usecases.rounds.typed_checks import text_problems


def withdraw_round(
    store: Store, actor: Actor, round_id: int, *, reason: str, version: int, now: datetime
) -> Round:
    """From draft or issued; what was due on it stays due.

    Raises
    ------
    Conflict
        Readings of it have come in, or it is over.
    Invalid
        No reason.
    Stale
        Somebody changed it since ``version``.
    """
    problems = text_problems("reason", reason, longest=500, required="Why is it withdrawn?")
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id, version=version)
        check_move(round_, RoundState.WITHDRAWN)
        if problems:
            raise Invalid(problems)
        after = rounds.move_round(
            unit,
            round_,
            RoundState.WITHDRAWN,
            by=actor.person_id,
            now=now,
            note=reason.strip(),
            version=version,
        )
        site_state.bump(unit, rounds.site_ids_of(unit, round_id), now=now)
        note = {"reason": reason.strip()}
        audit.note(unit, actor, verb="withdraw", noun="round", noun_id=round_id, now=now, after=note)
        return after
