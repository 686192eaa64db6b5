"""What the interval rule needs of points, and the due dates it gives back."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import and_, bindparam, exists, func, insert, select
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
    last = aliased(AssessmentRow)
    query = (
        select(
            PointRow,
            ViewRow.retired_at,
            EquipmentRow,
            PointStateRow,
            last.taken_at,
            last.level,
            last.at_least,
        )
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .outerjoin(PointStateRow, PointStateRow.point_id == PointRow.id)
        .outerjoin(last, last.id == PointStateRow.assessment_id)
        .where(is_one_of(unit, PointRow.id, point_ids))
        .order_by(PointRow.id)
    )
    rows = unit.session.execute(query).all()
    repaired = _repaired(unit, point_ids)
    unread = {point.site_id for point, _, _, state, *_ in rows if state is None or state.last_read_at is None}
    fresh = _fresh_sites(unit, unread) if unread else {}
    found = []
    for point, view_retired, equipment, state, taken_at, level, at_least in rows:
        last_full = state.last_cleared_at if state else None
        if taken_at is not None and level is not None and not at_least:
            last_full = taken_at if last_full is None else max(taken_at, last_full)
        place, places = fresh.get(point.site_id, (None, 1))
        found.append(
            DuePoint(
                point_id=point.id,
                site_id=point.site_id,
                equipment_id=equipment.id,
                kind=point.kind,
                criticality=equipment.criticality,
                condition=equipment.condition,
                interval_months=equipment.interval_months,
                pf_interval_months=equipment.pf_interval_months,
                repair_lead_days=equipment.repair_lead_days,
                made_on=point.created_at.date(),
                last_full_at=last_full,
                last_seen_at=state.last_read_at if state else None,
                level=state.level if state else None,
                trend=state.trend if state else Trend.TOO_FEW_VISITS.value,
                repaired_at=repaired.get(point.id),
                retired=any((point.retired_at, view_retired, equipment.retired_at)),
                fresh_place=place,
                fresh_places=places,
                has_state=state is not None,
                due_on=state.due_on if state else None,
                due_reason=state.due_reason if state else "",
            )
        )
    return tuple(found)


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
