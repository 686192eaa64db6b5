"""Change a setting after the visits: see what would follow, do it, take it back by another revision."""

import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from service.domain.people import Actor
from service.domain.reevaluation import (
    QUANTITIES,
    Asked,
    KeptReevaluation,
    NewValue,
    Reevaluated,
    check_asked,
    edit_of,
    half_width_of,
)
from service.domain.settings import Inputs, inputs_of_text
from service.domain.words import SettingSource
from service.errors import NotFound
from service.storage import audit, reevaluations
from service.storage.reevaluations import Standing
from service.storage.unit import Store, Unit
from service.usecases.condition.assess import Assessed, assess_changed
from service.usecases.condition.trend import trends_that_would_change
from service.usecases.condition.visit_work import Work
from service.usecases.reevaluations.outcome import outcome_of
from service.usecases.reevaluations.whose import permit_change, readings_meant, refuse_overtaken
from service.usecases.rounds.follow_readings import follow_readings

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
            stands = readings_meant(unit, actor, asked, now=now)
            done = _do(unit, stands, _edits(asked, stands), _sets(asked, stands), None, now=now)
            changed = trends_that_would_change(unit, done[0].touched, now=now)
            found = outcome_of(unit, stands, *done, trends_changed=changed)
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
        stands = readings_meant(unit, actor, asked, now=now)
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
        permit_change(unit, actor, stands, kept.target, kept.target_id, now=now)
        refuse_overtaken(unit, kept, [one.reading_id for one in stands])
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
    found = outcome_of(unit, stands, *done, trends_changed=None)
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
