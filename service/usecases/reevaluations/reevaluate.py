"""Change a setting after the visits: see what would follow, do it, take it back by another revision."""

import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.reevaluation import (
    QUANTITIES,
    Asked,
    KeptReevaluation,
    Moved,
    NewValue,
    Reevaluated,
    StandingMoved,
    check_asked,
    edit_of,
    half_width_of,
)
from service.domain.settings import Inputs, inputs_of_text
from service.domain.visits import Judged, grave
from service.domain.words import ReevaluationTarget, SettingSource
from service.errors import Conflict, Invalid, NotFound, Problem
from service.storage import audit, reevaluations, site_state
from service.storage.criteria_choice import take_into_use
from service.storage.reevaluations import Standing
from service.storage.unit import Store, Unit
from service.usecases.condition.assess import Assessed, assess_changed
from service.usecases.condition.trend import trends_that_would_change
from service.usecases.condition.visit_work import Work
from service.usecases.rounds.sight import round_to_change
from service.usecases.rounds.upload import follow_readings

#: More readings than this are evaluated in several steps: by kind, by coating or from a day on.
MOST_READINGS = 50_000
Edit = Callable[[Inputs], Inputs]


class _OnlyLooked(Exception):
    """Thrown to roll a preview back."""


def preview_reevaluation(store: Store, actor: Actor, *, asked: Asked, now: datetime) -> Reevaluated:
    """What a re-evaluation would do: it is done in full, looked at, and rolled back.

    Parameters
    ----------
    store : Store
        Where it is kept; nothing is.
    actor : Actor
        An engineer of the site.
    asked : Asked
        What is to change, and whose readings.
    now : datetime
        The instant of the call.

    Returns
    -------
    Reevaluated
        Levels, standings and trends before and after.

    Raises
    ------
    Invalid
        Nothing would change, or a number is out of range.
    Conflict
        The criteria asked for are switched off, or valid from a later day.
    NotFound, Forbidden
        Out of sight, another client's criteria, or not this role's.
    """
    check_asked(asked, reason=None)
    found: Reevaluated | None = None
    try:
        with store.begin() as unit:
            stands = _stands(unit, actor, asked, now=now)
            done = _do(unit, stands, _edits(asked, stands), _sets(asked, stands), None, now=now)
            changed = trends_that_would_change(unit, done[0].touched, now=now)
            found = _outcome(unit, stands, *done, trends_changed=changed)
            raise _OnlyLooked
    except _OnlyLooked:
        pass
    assert found is not None
    return found


def reevaluate(store: Store, actor: Actor, *, asked: Asked, reason: str, now: datetime) -> Reevaluated:
    """Change what figures rest on, with everything that follows; history keeps both.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer of the site.
    asked : Asked
        What is to change, and whose readings.
    reason : str
        Why; kept with the record.
    now : datetime
        The instant of the call.

    Returns
    -------
    Reevaluated
        What moved; the trend follows by a job.

    Raises
    ------
    Invalid
        Nothing would change, a number is out of range, or no reason was given.
    Conflict
        The criteria asked for are switched off, or valid from a later day.
    NotFound, Forbidden
        Out of sight, another client's criteria, or not this role's.

    Notes
    -----
    Readings are not touched: each gets a new assessment that names the re-evaluation and the
    assessment it replaces. Later visits of the same views are judged anew where a baseline or
    a standing hangs on the changed ones.
    """
    check_asked(asked, reason=reason)
    with store.begin() as unit:
        stands = _stands(unit, actor, asked, now=now)
        record = asked.to_dict()
        if asked.from_now_on:
            fields = _register_fields(asked.changes)
            before = reevaluations.set_register(
                unit, {one.point_id for one in stands}, fields, now=now, by_person_id=actor.person_id,
                reason=reason,
            )  # fmt: skip
            record["register_before"] = {str(point_id): was for point_id, was in before.items()}
        record_id = _record(unit, actor, asked, stands, record=record, reason=reason, now=now)
        return _commit(unit, actor, stands, _edits(asked, stands), _sets(asked, stands), record_id, now=now)


def undo_reevaluation(
    store: Store, actor: Actor, *, reevaluation_id: int, reason: str, now: datetime
) -> Reevaluated:
    """Take a re-evaluation back by another one: what it had changed is as it was before.

    Raises
    ------
    Conflict
        It was taken back already, or a later one changed the same numbers: take that back first.
    Invalid
        No reason.
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.begin() as unit:
        kept = reevaluations.reevaluation(unit, reevaluation_id)
        if kept is None:
            raise NotFound()
        asked = Asked(kept.target, kept.target_id, _new_values(kept), kept.changes.get("criteria_id"))
        check_asked(asked, reason=reason)
        was = reevaluations.replaced_by(unit, reevaluation_id)
        stands = reevaluations.standing_of_readings(unit, was)
        _permit(unit, actor, stands, kept.target, kept.target_id, now=now)
        _refuse_overtaken(unit, kept, [one.reading_id for one in stands])
        for point_id, fields in (kept.changes.get("register_before") or {}).items():
            reevaluations.set_register(
                unit, [int(point_id)], fields, now=now, by_person_id=actor.person_id, reason=reason
            )
        record_id = _record(
            unit, actor, asked, stands, record=dict(kept.changes), reason=reason, now=now,
            undoes_id=reevaluation_id,
        )  # fmt: skip
        edits = {
            reading_id: _back_to(inputs_of_text(inputs), kept.changes["changes"])
            for reading_id, (inputs, _set_id) in was.items()
            if inputs is not None
        }
        sets = {} if asked.criteria_id is None else {r: set_id for r, (_inputs, set_id) in was.items()}
        return _commit(unit, actor, stands, edits, sets, record_id, now=now)


def see_reevaluations(
    store: Store, actor: Actor, *, before: int | None = None, limit: int = 50
) -> tuple[KeptReevaluation, ...]:
    """Re-evaluations of the sites in sight, newest first; whoever sees own rounds only sees none."""
    require(actor, Verb.SEE)
    if own_rounds_only(actor):
        return ()
    with store.look() as unit:
        return reevaluations.reevaluations_of_sites(unit, actor.site_ids, before=before, limit=limit)


# ---- whose readings ------------------------------------------------------------------------------


def _stands(unit: Unit, actor: Actor, asked: Asked, *, now: datetime) -> list[Standing]:
    stands = reevaluations.standing_of_target(
        unit, asked.target, asked.target_id, kind=asked.kind, coating=asked.coating, since=asked.since
    )
    _permit(unit, actor, stands, asked.target, asked.target_id, now=now)
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


def _permit(
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


def _refuse_overtaken(unit: Unit, kept: KeptReevaluation, reading_ids: Sequence[int]) -> None:
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


# ---- what becomes of them ------------------------------------------------------------------------


def _edits(asked: Asked, stands: Iterable[Standing]) -> dict[int, Edit]:
    edit = edit_of(asked.changes)
    return {one.reading_id: edit for one in stands}


def _sets(asked: Asked, stands: Iterable[Standing]) -> dict[int, int]:
    chosen = asked.criteria_id
    return {} if chosen is None else {one.reading_id: chosen for one in stands}


def _back_to(before: Inputs, names: Iterable[str]) -> Edit:
    told: dict[str, Any] = {name: getattr(before, name) for name in names}
    if "ambient_c" in told and before.reflected_c.place == "air":
        told["reflected_c"] = before.reflected_c

    def edit(inputs: Inputs) -> Inputs:
        return inputs._replace(**told, reevaluated=before.reevaluated)

    return edit


def _new_values(kept: KeptReevaluation) -> dict[str, NewValue]:
    return {
        name: NewValue(new["value"], new["half_width"], SettingSource(new["standing"]), new["how"])
        for name, new in kept.changes["changes"].items()
    }


def _register_fields(changes: Mapping[str, NewValue]) -> dict[str, Any]:
    """Fields of a point that hold the same from now on."""
    fields: dict[str, Any] = {}
    for name, new in changes.items():
        quantity = QUANTITIES[name]
        if quantity.register:
            fields[quantity.register] = new.value
        if name == "emissivity":
            fields["emissivity_half_width"] = half_width_of(name, new)
            fields["emissivity_standing"] = new.standing.value
            fields["emissivity_source"] = new.how[:200]
        elif name == "reflected_c":
            fields["reflected_half_width_k"] = half_width_of(name, new)
        elif name == "window_transmission":
            fields["window_transmission_half_width"] = half_width_of(name, new)
        elif name == "common_load_a":
            fields["common_load_source"] = new.how[:200] or "re-evaluation"
    return fields


def _record(
    unit: Unit,
    actor: Actor,
    asked: Asked,
    stands: Sequence[Standing],
    *,
    record: dict[str, Any],
    reason: str,
    now: datetime,
    undoes_id: int | None = None,
) -> int:
    sites = {one.site_id for one in stands}
    return reevaluations.add_reevaluation(
        unit,
        uid=uuid.uuid4().hex,
        target=asked.target.value,
        target_id=asked.target_id,
        client_id=stands[0].client_id,
        site_id=sites.pop() if len(sites) == 1 else None,
        changes=record,
        reason=reason.strip(),
        at=now,
        by_person_id=actor.person_id,
        undoes_id=undoes_id,
    )


def _do(
    unit: Unit,
    stands: Sequence[Standing],
    edits: Mapping[int, Edit],
    sets: Mapping[int, int],
    record_id: int | None,
    *,
    now: datetime,
) -> tuple[Assessed, Work]:
    begins: dict[int, datetime] = {}
    for one in stands:
        begins[one.view_id] = min(begins.get(one.view_id, one.taken_at), one.taken_at)
    return assess_changed(
        unit,
        client_id=stands[0].client_id,
        begins=begins,
        changed=edits,
        set_of_reading=sets,
        reevaluation_id=record_id,
        now=now,
        cause="re-evaluation" if record_id is None else f"re-evaluation {record_id}",
    )


def _commit(
    unit: Unit,
    actor: Actor,
    stands: Sequence[Standing],
    edits: Mapping[int, Edit],
    sets: Mapping[int, int],
    record_id: int,
    *,
    now: datetime,
) -> Reevaluated:
    done = _do(unit, stands, edits, sets, record_id, now=now)
    follow_readings(unit, done[0], now=now)
    found = _outcome(unit, stands, *done, trends_changed=None)
    reevaluations.set_outcome(
        unit,
        record_id,
        readings=found.readings,
        levels_changed=found.levels_changed,
        points_changed=len(found.standings),
    )
    audit.note(
        unit, actor, verb="evaluate again", noun="reevaluation", noun_id=record_id, now=now,
        site_id=stands[0].site_id,
        after={"readings": found.readings, "levels_changed": found.levels_changed},
    )  # fmt: skip
    return replace(found, reevaluation_id=record_id)


def _outcome(
    unit: Unit,
    stands: Sequence[Standing],
    assessed: Assessed,
    work: Work,
    *,
    trends_changed: int | None,
) -> Reevaluated:
    """Before and after of every reading judged anew, and of every point that stands elsewhere."""
    before = {one.reading_id: one for one in stands}
    unknown = set(assessed.judged) - before.keys()
    before |= {one.reading_id: one for one in _replaced(unit, work, unknown)}
    moved = [_moved(before[r], judged) for r, judged in assessed.judged.items() if r in before]
    moved = [one for one in moved if one.level_moves or one.value_before_k != one.value_after_k]
    moved.sort(key=lambda one: (not one.level_moves, -max(grave(one.level_before), grave(one.level_after))))
    standings = []
    for point_id, memory in work.memories.items():
        known = work.known[point_id]
        if memory.standing.level != known.was:
            standings.append(
                StandingMoved(point_id, known.point.tag, known.point.title, known.was, memory.standing.level)
            )
    return Reevaluated(len(stands), tuple(moved), tuple(standings), trends_changed)


def _replaced(unit: Unit, work: Work, reading_ids: Iterable[int]) -> list[Standing]:
    """Assessments of later visits that were replaced on the way."""
    ids = [work.replaces[r] for r in reading_ids if r in work.replaces]
    return reevaluations.assessments_by_id(unit, ids) if ids else []


def _moved(before: Standing, judged: Judged) -> Moved:
    point, verdict = judged.reading.point, judged.verdict
    return Moved(
        reading_id=before.reading_id,
        point_id=point.id,
        point_tag=point.tag,
        title=point.title,
        taken_at=before.taken_at,
        zone=point.zone,
        level_before=before.level,
        level_after=verdict.level,
        at_least_before=before.at_least,
        at_least_after=verdict.at_least,
        value_before_k=before.value_k,
        value_after_k=verdict.value_k,
        u_before_k=before.u_k,
        u_after_k=verdict.u_k,
    )
