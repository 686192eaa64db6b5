"""What the interval rule needs of points, and the due dates it gives back."""

from collections.abc import Collection
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Select, and_, bindparam, exists, func, insert, or_, select
from sqlalchemy.orm import aliased

from service.domain.due import Due
from service.domain.stop_facts import DuePoint
from service.domain.words import FindingState, Trend
from service.storage.bulk import is_one_of, table_of
from service.storage.tables.findings import FindingRow, RepairRow
from service.storage.tables.readings import AssessmentRow, PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit


def due_points(unit: Unit, point_ids: Collection[int]) -> tuple[DuePoint, ...]:
    """Facts of these points; ids that are not there are left out."""
    rows = unit.session.execute(_facts().where(is_one_of(unit, PointRow.id, point_ids))).all()
    repaired = _repaired(unit, point_ids)
    unread = {row.site_id for row in rows if row.last_read_at is None}
    fresh: dict[int, tuple[int | None, int]] = {**_fresh_sites(unit, unread)} if unread else {}
    return tuple(_due_point(row, repaired.get(row.id), fresh.get(row.site_id, (None, 1))) for row in rows)


def points_of_sites(unit: Unit, site_ids: Collection[int]) -> frozenset[int]:
    """Points in use at these sites."""
    query = select(PointRow.id).where(
        is_one_of(unit, PointRow.site_id, site_ids), PointRow.retired_at.is_(None)
    )
    return frozenset(unit.session.scalars(query))


@cache
def _facts() -> Select[*tuple[Any, ...]]:
    """Columns only: thousands of points come by with every upload, and whole rows cost four times as much."""
    last, state = aliased(AssessmentRow), PointStateRow
    retired = (PointRow.retired_at, ViewRow.retired_at, EquipmentRow.retired_at)
    return (
        select(
            PointRow.id,
            PointRow.site_id,
            EquipmentRow.id.label("equipment_id"),
            PointRow.kind,
            EquipmentRow.criticality,
            EquipmentRow.condition,
            EquipmentRow.interval_months,
            EquipmentRow.pf_interval_months,
            EquipmentRow.repair_lead_days,
            PointRow.created_at,
            or_(*(column.is_not(None) for column in retired)).label("retired"),
            state.point_id.label("state_of"),
            state.last_cleared_at,
            state.last_read_at,
            state.level,
            state.trend,
            state.crossing_from,
            state.due_on,
            state.due_reason,
            last.taken_at,
            last.level.label("last_level"),
            last.at_least,
            last.cold,
        )
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .outerjoin(state, state.point_id == PointRow.id)
        .outerjoin(last, last.id == state.assessment_id)
        .order_by(PointRow.id)
    )


def _due_point(row: Any, repaired_at: datetime | None, place: tuple[int | None, int]) -> DuePoint:
    full, taken_at = row.last_cleared_at, row.taken_at
    # as ``Verdict.could_clear``: a cold part shows another fault and says nothing of an earlier hot one
    if taken_at is not None and row.last_level is not None and not row.at_least and not row.cold:
        full = taken_at if full is None else max(taken_at, full)
    return DuePoint(
        point_id=row.id,
        site_id=row.site_id,
        equipment_id=row.equipment_id,
        kind=row.kind,
        criticality=row.criticality,
        condition=row.condition,
        interval_months=row.interval_months,
        pf_interval_months=row.pf_interval_months,
        repair_lead_days=row.repair_lead_days,
        made_on=row.created_at.date(),
        last_full_at=full,
        last_seen_at=row.last_read_at,
        level=row.level,
        trend=row.trend or Trend.TOO_FEW_VISITS.value,
        repaired_at=repaired_at,
        retired=bool(row.retired),
        fresh_place=place[0],
        fresh_places=place[1],
        has_state=row.state_of is not None,
        due_on=row.due_on,
        due_reason=row.due_reason or "",
        crossing_from=row.crossing_from,
    )


def _repaired(unit: Unit, point_ids: Collection[int]) -> dict[int, datetime]:
    """By point: when it was repaired, while the repair waits for its proof."""
    query = (
        select(FindingRow.point_id, func.max(RepairRow.repaired_at))
        .join(RepairRow, RepairRow.finding_id == FindingRow.id)
        .where(
            FindingRow.state == FindingState.REPAIRED.value, is_one_of(unit, FindingRow.point_id, point_ids)
        )
        .group_by(FindingRow.point_id)
    )
    return {point_id: at for point_id, at in unit.session.execute(query) if point_id is not None}


def _fresh_sites(unit: Unit, site_ids: Collection[int]) -> dict[int, tuple[int, int]]:
    """Of sites where nothing was ever read: their place among the client's sites, and how many those are."""
    visited = exists().where(PointStateRow.site_id == SiteRow.id, PointStateRow.last_read_at.is_not(None))
    query = select(SiteRow.id, SiteRow.client_id).where(SiteRow.id.in_(site_ids), ~visited)
    fresh: dict[int, int] = dict(unit.session.execute(query).all())
    of_client: dict[int, list[int]] = {}
    listed = select(SiteRow.client_id, SiteRow.id).where(
        and_(SiteRow.client_id.in_(set(fresh.values())), SiteRow.retired_at.is_(None))
    )
    for client_id, site_id in unit.session.execute(listed.order_by(SiteRow.id)):
        of_client.setdefault(client_id, []).append(site_id)
    return {
        site_id: (of_client[client_id].index(site_id), len(of_client[client_id]))
        for site_id, client_id in fresh.items()
        if site_id in of_client.get(client_id, ())
    }


def write_due(unit: Unit, changes: Collection[tuple[DuePoint, Due]]) -> None:
    """Keep day and reason; a point without a state row gets one."""
    missing = [
        {
            "point_id": point.point_id,
            "site_id": point.site_id,
            "equipment_id": point.equipment_id,
            "due_on": due.on,
            "due_reason": due.reason,
        }
        for point, due in changes
        if not point.has_state
    ]
    if missing:
        unit.session.execute(insert(PointStateRow), missing)
    changed = [
        {"of_point": point.point_id, "due_on": due.on, "due_reason": due.reason}
        for point, due in changes
        if point.has_state
    ]
    if changed:
        table = table_of(PointStateRow)
        statement = table.update().where(table.c.point_id == bindparam("of_point"))
        statement = statement.values(due_on=bindparam("due_on"), due_reason=bindparam("due_reason"))
        unit.connection.execute(statement, changed)
