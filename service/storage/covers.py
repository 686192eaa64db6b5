"""What exposes people: covers opened so far."""

from collections.abc import Collection
from datetime import date

from sqlalchemy import func, select

from service.domain.words import Access
from service.storage.bulk import is_one_of
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import EquipmentRow, SiteRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit

_BEHIND = [access.value for access in Access if access.behind_cover]


def covers_opened(
    unit: Unit, site_ids: Collection[int], *, first: date, last: date
) -> dict[str, list[tuple[Access, int]]]:
    """By name of the site: stops behind a cover at which something was read, on rounds of these days."""
    read = (
        select(RoundPointRow.stop_id)
        .join(ReadingRow, ReadingRow.row_id == RoundPointRow.id)
        .where(ReadingRow.temperature_c.is_not(None))
    )
    query = (
        select(SiteRow.name, EquipmentRow.access, func.count(StopRow.id))
        .join(EquipmentRow, EquipmentRow.id == StopRow.equipment_id)
        .join(SiteRow, SiteRow.id == StopRow.site_id)
        .join(RoundRow, RoundRow.id == StopRow.round_id)
        .where(
            is_one_of(unit, StopRow.site_id, site_ids),
            EquipmentRow.access.in_(_BEHIND),
            RoundRow.planned_on.between(first, last),
            StopRow.id.in_(read),
        )
        .group_by(SiteRow.id, SiteRow.name, EquipmentRow.access)
        .order_by(SiteRow.name, SiteRow.id, EquipmentRow.access)
    )
    found: dict[str, list[tuple[Access, int]]] = {}
    for site, access, count in unit.session.execute(query):
        found.setdefault(site, []).append((Access(access), count))
    return found
