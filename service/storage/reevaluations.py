"""Re-evaluations: which readings one is about, what it replaced, and the record of each."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import aliased

from service.domain.reevaluation import KeptReevaluation
from service.domain.words import Level, PointKind, ReevaluationTarget
from service.storage.bulk import is_one_of
from service.storage.register_points import keep_common_load
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import AssessmentRow, ReevaluationRow
from service.storage.tables.register import PointRow, SiteRow
from service.storage.unit import Unit


@dataclass(frozen=True, slots=True)
class Standing:
    """The assessment of a reading that stands, with the place of its point."""

    assessment_id: int
    reading_id: int
    point_id: int
    view_id: int
    site_id: int
    client_id: int
    taken_at: datetime
    level: Level | None
    at_least: bool
    value_k: float | None
    u_k: float | None
    criteria_id: int
    reevaluation_id: int | None


_STANDING = (
    AssessmentRow.id,
    AssessmentRow.reading_id,
    AssessmentRow.point_id,
    PointRow.view_id,
    PointRow.site_id,
    SiteRow.client_id,
    AssessmentRow.taken_at,
    AssessmentRow.level,
    AssessmentRow.at_least,
    AssessmentRow.value_k,
    AssessmentRow.u_k,
    AssessmentRow.criteria_id,
    AssessmentRow.reevaluation_id,
)


def _assessments() -> Select[*tuple[Any, ...]]:
    return (
        select(*_STANDING)
        .join(PointRow, PointRow.id == AssessmentRow.point_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
    )


def _standing() -> Select[*tuple[Any, ...]]:
    return _assessments().where(AssessmentRow.current, AssessmentRow.round_id.is_not(None))


def assessments_by_id(unit: Unit, ids: Iterable[int]) -> list[Standing]:
    """Assessments that stand or stood, oldest first."""
    return _rows(unit, _assessments().where(is_one_of(unit, AssessmentRow.id, ids)))


def standing_of_target(
    unit: Unit,
    target: ReevaluationTarget,
    target_id: int,
    *,
    kind: PointKind | None = None,
    coating: str = "",
    since: datetime | None = None,
) -> list[Standing]:
    """Standing assessments of a reading, a point, a round or a site, oldest first."""
    column = {
        ReevaluationTarget.READING: AssessmentRow.reading_id,
        ReevaluationTarget.POINT: AssessmentRow.point_id,
        ReevaluationTarget.ROUND: AssessmentRow.round_id,
        ReevaluationTarget.SITE: PointRow.site_id,
    }[target]
    query = _standing().where(column == target_id)
    if kind is not None:
        query = query.where(PointRow.kind == kind.value)
    if coating:
        query = query.where(PointRow.coating == coating)
    if since is not None:
        query = query.where(AssessmentRow.taken_at >= since)
    return _rows(unit, query)


def standing_of_readings(unit: Unit, reading_ids: Iterable[int]) -> list[Standing]:
    """Standing assessments of some readings, oldest first."""
    return _rows(unit, _standing().where(is_one_of(unit, AssessmentRow.reading_id, reading_ids)))


def _rows(unit: Unit, query: Select[*tuple[Any, ...]]) -> list[Standing]:
    found = []
    for row in unit.session.execute(query.order_by(AssessmentRow.taken_at, AssessmentRow.id)):
        assessment, reading, point, view, site, client, at, level, at_least, value, u, set_id, made_by = row
        known = None if level is None else Level(level)
        found.append(
            Standing(
                assessment, reading, point, view, site, client, at, known, at_least, value, u, set_id, made_by
            )
        )
    return found


def replaced_by(unit: Unit, reevaluation_id: int) -> dict[int, tuple[str | None, int]]:
    """By reading what a re-evaluation replaced: inputs, and the criteria it was judged by."""
    new, old = aliased(AssessmentRow), aliased(AssessmentRow)
    query = (
        select(new.reading_id, old.inputs, old.criteria_id)
        .join(old, old.id == new.replaces_id)
        .where(new.reevaluation_id == reevaluation_id)
    )
    return {reading_id: (inputs, set_id) for reading_id, inputs, set_id in unit.session.execute(query)}


def add_reevaluation(unit: Unit, **fields: Any) -> int:
    """A new record; returns its id."""
    row = ReevaluationRow(**fields)
    unit.session.add(row)
    unit.session.flush()
    return row.id


def set_outcome(unit: Unit, reevaluation_id: int, **fields: Any) -> None:
    """What it moved, known once it was done."""
    row = unit.session.get_one(ReevaluationRow, reevaluation_id)
    for name, value in fields.items():
        setattr(row, name, value)
    unit.session.flush()


def reevaluation(unit: Unit, reevaluation_id: int) -> KeptReevaluation | None:
    rows = _kept(unit, ReevaluationRow.id == reevaluation_id, limit=1)
    return rows[0] if rows else None


def reevaluations_of_sites(
    unit: Unit, site_ids: Iterable[int] | None, *, before: int | None, limit: int
) -> tuple[KeptReevaluation, ...]:
    """Records about sites in sight, newest first."""
    conditions = [] if site_ids is None else [is_one_of(unit, ReevaluationRow.site_id, site_ids)]
    if before is not None:
        conditions.append(ReevaluationRow.id < before)
    return _kept(unit, *conditions, limit=limit)


def reevaluations_of_reading(unit: Unit, reading_id: int) -> tuple[KeptReevaluation, ...]:
    """Records that changed what a reading says, newest first."""
    made = select(AssessmentRow.reevaluation_id).where(
        AssessmentRow.reading_id == reading_id, AssessmentRow.reevaluation_id.is_not(None)
    )
    return _kept(unit, ReevaluationRow.id.in_(made), limit=50)


def _kept(unit: Unit, *conditions: Any, limit: int) -> tuple[KeptReevaluation, ...]:
    undoing = aliased(ReevaluationRow)
    query = (
        select(ReevaluationRow, PersonRow.name, undoing.id)
        .outerjoin(PersonRow, PersonRow.id == ReevaluationRow.by_person_id)
        .outerjoin(undoing, undoing.undoes_id == ReevaluationRow.id)
        .where(*conditions)
        .order_by(ReevaluationRow.id.desc())
        .limit(limit)
    )
    return tuple(
        KeptReevaluation(
            id=row.id,
            uid=row.uid,
            target=ReevaluationTarget(row.target),
            target_id=row.target_id,
            site_id=row.site_id,
            changes=row.changes,
            reason=row.reason,
            at=row.at,
            by_name=name or "",
            undoes_id=row.undoes_id,
            undone_by_id=undone_by,
            readings=row.readings,
            levels_changed=row.levels_changed,
            points_changed=row.points_changed,
        )
        for row, name, undone_by in unit.session.execute(query)
    )


def set_register(
    unit: Unit,
    point_ids: Iterable[int],
    fields: Mapping[str, Any],
    *,
    now: datetime,
    by_person_id: int | None,
    reason: str,
) -> dict[int, dict[str, Any]]:
    """Set fields of points in the register; returns by point what they were before."""
    before: dict[int, dict[str, Any]] = {}
    for row in unit.session.scalars(select(PointRow).where(is_one_of(unit, PointRow.id, point_ids))):
        was = {name: getattr(row, name) for name in fields if getattr(row, name) != fields[name]}
        if not was:
            continue
        before[row.id] = was
        keep_common_load(unit, row, fields, now=now, by_person_id=by_person_id, reason=reason[:200])
        for name in was:
            setattr(row, name, fields[name])
        row.version += 1
        row.changed_at = now
    unit.session.flush()
    return before


def later_reevaluations(
    unit: Unit, reevaluation_id: int, reading_ids: Iterable[int]
) -> tuple[KeptReevaluation, ...]:
    """Records after this one that changed any of its readings, newest first."""
    made = select(AssessmentRow.reevaluation_id).where(
        is_one_of(unit, AssessmentRow.reading_id, reading_ids),
        AssessmentRow.reevaluation_id > reevaluation_id,
    )
    return _kept(unit, ReevaluationRow.id.in_(made), limit=200)
