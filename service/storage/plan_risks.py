"""What a plan's table of risks needs of equipment: one statement for all points, one for findings."""

from collections.abc import Collection

from sqlalchemy import func, or_, select

from service.domain.plan_risks import AtRisk
from service.domain.words import Access, Found
from service.storage.bulk import is_one_of
from service.storage.tables.findings import FindingRow, RepairRow
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow, ViewRow
from service.storage.unit import Unit


def equipment_at_risk(unit: Unit, site_ids: Collection[int]) -> tuple[AtRisk, ...]:
    """Equipment in use at these sites, by id, each with the most its points say."""
    state = PointStateRow
    query = (
        select(
            EquipmentRow.id,
            EquipmentRow.equipment_class,
            EquipmentRow.condition,
            EquipmentRow.access,
            EquipmentRow.outdoor,
            EquipmentRow.pf_interval_months,
            EquipmentRow.created_at,
            func.min(state.last_cleared_at),
            func.count(state.last_cleared_at),
            func.count(PointRow.id),
            func.min(state.due_on),
            func.max(state.chance_12),
            func.max(state.smallest_fault_k),
            func.min(state.load_ratio),
        )
        .join(ViewRow, ViewRow.equipment_id == EquipmentRow.id)
        .join(PointRow, PointRow.view_id == ViewRow.id)
        .outerjoin(state, state.point_id == PointRow.id)
        .where(
            is_one_of(unit, EquipmentRow.site_id, site_ids),
            EquipmentRow.retired_at.is_(None),
            ViewRow.retired_at.is_(None),
            PointRow.retired_at.is_(None),
        )
        .group_by(EquipmentRow.id)
        .order_by(EquipmentRow.id)
    )
    faults = _faults(unit, site_ids)
    return tuple(
        AtRisk(
            equipment_id=row[0],
            equipment_class=row[1],
            condition=row[2],
            access=Access(row[3]),
            outdoor=row[4],
            pf_months=row[5],
            made_on=row[6].date(),
            last_full_on=row[7].date() if row[7] is not None and row[8] == row[9] else None,
            due_on=row[10],
            chance_12=row[11],
            smallest_fault_k=row[12],
            load_share=row[13],
            faults=faults.get(row[0], 0),
        )
        for row in unit.session.execute(query)
    )


def _faults(unit: Unit, site_ids: Collection[int]) -> dict[int, int]:
    """By equipment: findings whose repair did not say that there was none."""
    sound = [Found.NO_FAULT.value, Found.WRONG_LOAD.value]
    query = (
        select(ViewRow.equipment_id, func.count(func.distinct(FindingRow.id)))
        .join(PointRow, PointRow.id == FindingRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(RepairRow, RepairRow.finding_id == FindingRow.id)
        .where(
            is_one_of(unit, PointRow.site_id, site_ids),
            or_(RepairRow.found.is_(None), RepairRow.found.not_in(sound)),
        )
        .group_by(ViewRow.equipment_id)
    )
    found: dict[int, int] = dict(unit.session.execute(query).all())
    return found
