"""What became of points: their findings and the readings that were judged grave by themselves."""

from collections.abc import Iterable

from sqlalchemy import select

from service.domain.findings import LIVE, READING_CORRECTED
from service.domain.hindsight import Ending, Passing
from service.domain.site_clock import local_day
from service.storage.bulk import is_one_of
from service.storage.tables.findings import FindingRow, RepairRow
from service.storage.tables.readings import AssessmentRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit

#: From this level on a reading asks for a repair by itself.
ASKS_FOR_REPAIR = 2


def places(unit: Unit, site_ids: Iterable[int]) -> dict[int, tuple[int, str, str]]:
    """By point of these sites its site, the site's time zone, and where it is in words."""
    query = (
        select(
            PointRow.id,
            SiteRow.id,
            SiteRow.time_zone,
            SiteRow.name,
            EquipmentRow.name,
            PointRow.name,
            PointRow.tag,
        )
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .join(SiteRow, SiteRow.id == EquipmentRow.site_id)
        .where(is_one_of(unit, SiteRow.id, site_ids))
    )
    return {
        point: (site_id, zone, f"{site}, {equipment}, {name} ({tag})")
        for point, site_id, zone, site, equipment, name, tag in unit.session.execute(query)
    }


def endings(unit: Unit, site_ids: Iterable[int], zones: dict[int, str]) -> dict[int, tuple[Ending, ...]]:
    """By point its findings, oldest first, each with its last repair; slips that were corrected left out."""
    live = {state.value for state in LIVE}
    query = (
        select(FindingRow, RepairRow)
        .outerjoin(RepairRow, RepairRow.finding_id == FindingRow.id)
        .where(
            is_one_of(unit, FindingRow.site_id, site_ids),
            FindingRow.point_id.is_not(None),
            FindingRow.outcome != READING_CORRECTED,
        )
        .order_by(FindingRow.opened_at, FindingRow.id, RepairRow.attempt, RepairRow.id)
    )
    latest: dict[int, Ending] = {}
    for row, repair in unit.session.execute(query):
        zone = zones[row.site_id]
        latest[row.id] = Ending(
            finding_id=row.id,
            point_id=row.point_id or 0,
            opened_on=local_day(row.opened_at, zone),
            live=row.state in live,
            repaired_on=None if repair is None else local_day(repair.repaired_at, zone),
            proven=repair is not None and repair.outcome == "proven",
            found=None if repair is None else repair.found,
        )
    found: dict[int, list[Ending]] = {}
    for one in latest.values():
        found.setdefault(one.point_id, []).append(one)
    return {point: tuple(ones) for point, ones in found.items()}


def passings(unit: Unit, points: dict[int, str]) -> dict[int, tuple[Passing, ...]]:
    """By point its readings that asked for a repair by themselves, oldest first; ``points`` gives zones."""
    row = AssessmentRow
    query = (
        select(row.point_id, row.taken_at, row.level)
        .where(
            is_one_of(unit, row.point_id, points), row.current, row.counts_level, row.level >= ASKS_FOR_REPAIR
        )
        .order_by(row.taken_at)
    )
    found: dict[int, list[Passing]] = {}
    for point_id, taken_at, level in unit.session.execute(query):
        found.setdefault(point_id, []).append(
            Passing(point_id, local_day(taken_at, points[point_id]), int(level or 0))
        )
    return {point: tuple(ones) for point, ones in found.items()}
