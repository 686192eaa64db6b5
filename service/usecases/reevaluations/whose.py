"""Whose readings a re-evaluation means, and who may change them."""

from collections.abc import Sequence
from datetime import datetime

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.reevaluation import Asked, KeptReevaluation
from service.domain.words import ReevaluationTarget
from service.errors import Conflict, Invalid, NotFound, Problem
from service.storage import reevaluations, site_state
from service.storage.criteria_choice import take_into_use
from service.storage.reevaluations import Standing
from service.storage.unit import Unit
from service.usecases.rounds.sight import round_to_change

#: More readings than this are evaluated in several steps: by kind, by coating or from a day on.
MOST_READINGS = 50_000


def readings_meant(unit: Unit, actor: Actor, asked: Asked, *, now: datetime) -> list[Standing]:
    """Standing assessments that a re-evaluation is about, its sites locked and its criteria taken into use.

    Raises
    ------
    Invalid
        None is meant, or too many.
    Conflict
        The criteria asked for are switched off, or valid from a later day.
    NotFound, Forbidden
        Out of sight, another client's criteria, or not this role's.
    """
    stands = reevaluations.standing_of_target(
        unit, asked.target, asked.target_id, kind=asked.kind, coating=asked.coating, since=asked.since
    )
    permit_change(unit, actor, stands, asked.target, asked.target_id, now=now)
    if not stands:
        raise _nothing("No reading is meant by this.", "Widen it: another kind, coating or an earlier day.")
    if len(stands) > MOST_READINGS:
        raise _nothing(
            f"{len(stands)} readings are too many at once.", f"At most {MOST_READINGS}: narrow it."
        )
    if asked.criteria_id is not None:
        take_into_use(unit, asked.criteria_id, client_id=stands[0].client_id, on=now.date())
    return stands


def _nothing(message: str, remedy: str) -> Invalid:
    return Invalid([Problem("re-evaluation", "target", "", message, remedy)])


def permit_change(
    unit: Unit,
    actor: Actor,
    stands: Sequence[Standing],
    target: ReevaluationTarget,
    target_id: int,
    *,
    now: datetime,
) -> None:
    """Sight and right first, then the lock of the sites: nobody changes their points meanwhile."""
    sites = {one.site_id for one in stands}
    if target is ReevaluationTarget.ROUND:
        round_to_change(unit, actor, target_id)
    elif target is ReevaluationTarget.SITE:
        sites.add(target_id)
    if not sites:
        require(actor, Verb.KEEP_REGISTER)
        if target is not ReevaluationTarget.ROUND:
            raise NotFound()
    for site_id in sites:
        require(actor, Verb.KEEP_REGISTER, site_id=site_id)
    site_state.bump(unit, {one.site_id for one in stands}, now=now)


def refuse_overtaken(unit: Unit, kept: KeptReevaluation, reading_ids: Sequence[int]) -> None:
    """Raises Conflict where it was taken back already, or a later one changed the same numbers."""
    if kept.undone_by_id is not None:
        raise Conflict(f"Re-evaluation {kept.id} was taken back already by {kept.undone_by_id}")
    own = _names(kept)
    for later in reevaluations.later_reevaluations(unit, kept.id, reading_ids):
        if later.undone_by_id is None and later.undoes_id is None and own & _names(later):
            raise Conflict(
                f"Re-evaluation {later.id} changed the same numbers later", remedy="Take that one back first."
            )


def _names(kept: KeptReevaluation) -> set[str]:
    named = set(kept.changes["changes"])
    return named | {"criteria_id"} if kept.changes.get("criteria_id") is not None else named
