"""Past visits of equipment, each with its load and how long its readings took."""

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Select, case, func, select

from service.domain.hours_seen import SeenPlace, SeenVisit
from service.domain.words import Access, LoadSource, Reason
from service.storage.bulk import is_one_of
from service.storage.field_records import stays_of_equipment
from service.storage.readings import CURRENT
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit

_COMMON_A = func.coalesce(PointRow.common_load_a, EquipmentRow.rated_current_a)
#: Found off is no load at all; without amps, or a load to hold them against, nothing is known.
_SHARE = case(
    (ReadingRow.not_assessable == Reason.OFF.value, 0.0),
    (_COMMON_A > 0, ReadingRow.current_a / _COMMON_A),
)


def seen_place(unit: Unit, equipment_id: int) -> SeenPlace | None:
    """What the register says of one equipment, retired or not."""
    row = unit.session.execute(_places().where(EquipmentRow.id == equipment_id)).one_or_none()
    return None if row is None else _place(row)


def seen_places(unit: Unit, site_id: int, *, after: int, limit: int) -> tuple[SeenPlace, ...]:
    """Equipment in use at a site, from an id on."""
    query = _places().where(
        EquipmentRow.site_id == site_id, EquipmentRow.retired_at.is_(None), EquipmentRow.id > after
    )
    return tuple(_place(row) for row in unit.session.execute(query.order_by(EquipmentRow.id).limit(limit)))


def _places() -> Select[*tuple[Any, ...]]:
    return select(
        EquipmentRow.id,
        EquipmentRow.site_id,
        EquipmentRow.version,
        EquipmentRow.tag,
        EquipmentRow.name,
        SiteRow.time_zone,
        EquipmentRow.load_hours,
        EquipmentRow.minutes,
        EquipmentRow.access,
    ).join(SiteRow, SiteRow.id == EquipmentRow.site_id)


def _place(row: Sequence[Any]) -> SeenPlace:
    equipment_id, site_id, version, tag, name, zone, load_hours, minutes, access = row
    return SeenPlace(
        equipment_id=equipment_id,
        site_id=site_id,
        version=version,
        tag=tag,
        name=name,
        zone=zone,
        load_hours=load_hours,
        minutes=minutes,
        access=Access(access),
    )


def visits_of_equipment(
    unit: Unit, equipment_ids: Collection[int], *, since: datetime
) -> dict[int, list[SeenVisit]]:
    """By equipment: its visits on rounds, with what stands after corrections, in service only."""
    query = (
        select(
            ViewRow.equipment_id,
            func.min(ReadingRow.taken_at),
            func.max(ReadingRow.taken_at),
            func.count(ReadingRow.taken_at.distinct()),
            func.avg(_SHARE),
            ReadingRow.round_id,
        )
        .join(PointRow, PointRow.id == ReadingRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .where(
            is_one_of(unit, ViewRow.equipment_id, equipment_ids),
            ReadingRow.taken_at >= since,
            ReadingRow.round_id.is_not(None),
            ReadingRow.load_source == LoadSource.SERVICE.value,
            CURRENT,
        )
        .group_by(ViewRow.equipment_id, ReadingRow.round_id)
    )
    found: dict[int, list[SeenVisit]] = {equipment_id: [] for equipment_id in equipment_ids}
    stays = stays_of_equipment(unit, equipment_ids, since=since)
    for equipment_id, first, last, times, share, round_id in unit.session.execute(query):
        span_min = (last - first).total_seconds() / 60.0
        found[equipment_id].append(
            SeenVisit(
                first, None if share is None else float(share), span_min, times,
                stays.get((equipment_id, round_id or 0)),
            )
        )  # fmt: skip
    return found
