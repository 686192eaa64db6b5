"""What waits for a decision: the points to decide first, and findings past their day."""

from collections.abc import Collection, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import and_, case, func, or_, select

from service.domain.findings import LIVE, READ_AGAIN_DAYS
from service.domain.losses import loss_of
from service.domain.overview import (
    Overdue,
    SparkVisit,
    WorstPoint,
)
from service.domain.words import FindingState, Level, ReferenceKind
from service.storage.bulk import is_one_of
from service.storage.condition import in_sight, in_use
from service.storage.desk import Sight
from service.storage.losses import expected_loss
from service.storage.set_aside import covered
from service.storage.tables.findings import FindingRow, RepairRow, TellingRow
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import (
    AssessmentRow,
    PointStateRow,
)
from service.storage.tables.register import (
    EquipmentRow,
    PointRow,
    SiteRow,
    ViewRow,
)
from service.storage.unit import Unit

#: A finding in one of these waits for nobody's decision now.
DECIDED = (FindingState.REPAIRED.value, FindingState.SET_ASIDE.value, FindingState.PROVEN.value)


def worst_points(unit: Unit, sight: Sight, *, limit: int, today: date) -> tuple[WorstPoint, ...]:
    """Points that wait for a decision: gravest first, then by expected loss, then nearest to Act now.

    One that was set aside waits for none until its review, unless it has become graver since.
    """
    state = PointStateRow
    rise = func.coalesce(state.common_k, state.value_k)
    nearness = case((state.act_line_k > 0, func.coalesce(rise, 0) / state.act_line_k), else_=0)
    undecided = or_(FindingRow.id.is_(None), FindingRow.state.not_in(DECIDED))
    order = (state.level.desc(), expected_loss().desc(), nearness.desc(), state.since, state.point_id)
    # which ones first, then all that is told of them: hundreds of whole rows need not be sorted
    first = (
        select(state.point_id)
        .join(EquipmentRow, EquipmentRow.id == state.equipment_id)
        .outerjoin(FindingRow, FindingRow.id == state.finding_id)
        .where(
            state.level >= 1,
            in_use(),
            undecided,
            or_(
                FindingRow.id.is_not(None),
                ~covered(state.point_id.expression, today=today),
            ),
            in_sight(sight),
        )
        .order_by(*order)
        .limit(limit)
        .subquery()
    )
    query = (
        select(state, SiteRow.name, EquipmentRow, ViewRow.name, PointRow.name, FindingRow, PersonRow.name)
        .join(PointRow, PointRow.id == state.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == state.equipment_id)
        .join(SiteRow, SiteRow.id == state.site_id)
        .outerjoin(FindingRow, FindingRow.id == state.finding_id)
        .outerjoin(PersonRow, PersonRow.id == FindingRow.owner_id)
        .where(state.point_id.in_(select(first.c.point_id)))
        .order_by(*order)
    )
    return tuple(_worst(record) for record in unit.session.execute(query))


def _worst(record: Sequence[Any]) -> WorstPoint:
    state, site, equipment, view, point, finding, owner = record
    return WorstPoint(
        point_id=state.point_id,
        site=site,
        equipment=equipment.name,
        view=view,
        point=point,
        level=Level(state.level),
        at_least=state.at_least,
        value_k=state.value_k if state.common_k is None else state.common_k,
        line_k=state.act_line_k,
        reference=None if state.reference is None else ReferenceKind(state.reference),
        sentence=state.last_sentence,
        consequence=(finding.consequence if finding else "") or equipment.consequence,
        finding_id=None if finding is None else finding.id,
        finding_state=None if finding is None else FindingState(finding.state),
        owner=owner or "",
        due_on=None if finding is None else finding.due_on,
        planned_for=None if finding is None else finding.planned_for,
        work_order="" if finding is None else finding.work_order,
        loss=loss_of(state.chance_12, equipment.cost_per_hour, equipment.repair_lead_days),
    )


def last_tellings(unit: Unit, finding_ids: Collection[int]) -> dict[int, tuple[str, datetime]]:
    """By finding who was told last, and when."""
    query = (
        select(TellingRow.finding_id, TellingRow.told_whom, TellingRow.told_at)
        .where(is_one_of(unit, TellingRow.finding_id, finding_ids))
        .order_by(TellingRow.told_at, TellingRow.id)
    )
    return {finding: (whom, at) for finding, whom, at in unit.session.execute(query)}


def spark_visits(
    unit: Unit, point_ids: Collection[int], *, since: datetime
) -> dict[int, tuple[SparkVisit, ...]]:
    """The last visits of a few points over their present reference, at common load where there is such a value."""
    row = AssessmentRow
    rise = func.coalesce(row.common_k, row.value_k)
    query = (
        select(row.point_id, row.taken_at, rise, row.episode)
        .join(PointStateRow, PointStateRow.point_id == row.point_id)
        .where(
            is_one_of(unit, row.point_id, point_ids),
            row.reference == PointStateRow.reference,
            row.taken_at >= since,
            row.current,
            row.counts_level,
            rise.is_not(None),
        )
        .order_by(row.point_id, row.taken_at)
    )
    found: dict[int, list[SparkVisit]] = {}
    for point_id, taken_at, value, episode in unit.session.execute(query):
        found.setdefault(point_id, []).append(SparkVisit(taken_at, value, episode))
    return {point_id: tuple(visits) for point_id, visits in found.items()}


def overdue_findings(unit: Unit, sight: Sight, *, now: datetime, limit: int) -> tuple[Overdue, ...]:
    """Findings past their day, and repairs not read again within their days; longest waiting first."""
    mended = (
        select(func.max(RepairRow.repaired_at))
        .where(RepairRow.finding_id == FindingRow.id, RepairRow.attempt == FindingRow.attempt)
        .correlate(FindingRow)
        .scalar_subquery()
    )
    late = and_(FindingRow.state != FindingState.REPAIRED.value, FindingRow.due_on < now.date())
    unproven = and_(
        FindingRow.state == FindingState.REPAIRED.value, mended < now - timedelta(days=READ_AGAIN_DAYS)
    )
    query = (
        select(FindingRow, SiteRow.name, PersonRow.name, mended)
        .join(SiteRow, SiteRow.id == FindingRow.site_id)
        .outerjoin(PersonRow, PersonRow.id == FindingRow.owner_id)
        .where(
            FindingRow.state.in_([state.value for state in LIVE]),
            or_(late, unproven),
            sight.of(FindingRow.site_id.expression, FindingRow.point_id.expression),
        )
        .order_by(func.coalesce(FindingRow.due_on, FindingRow.planned_for), FindingRow.id)
        .limit(limit)
    )
    return tuple(
        Overdue(
            finding_id=row.id,
            title=row.title,
            site=site,
            state=FindingState(row.state),
            owner=owner or "",
            due_on=row.due_on,
            repaired_at=mended_at if row.state == FindingState.REPAIRED.value else None,
        )
        for row, site, owner, mended_at in unit.session.execute(query)
    )
