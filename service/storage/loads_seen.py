"""Currents of past visits, and the points whose common load stands on a rating only."""

from collections.abc import Collection, Sequence
from typing import Any

from sqlalchemy import Select, func, or_, select

from service.domain.loads_seen import MOST_VISITS, RATING_ONLY, LoadPlace
from service.domain.words import LoadSource
from service.storage.bulk import is_one_of
from service.storage.readings import CURRENT
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import EquipmentRow, PointRow, ViewRow
from service.storage.unit import Unit


def load_place(unit: Unit, point_id: int) -> LoadPlace | None:
    """What the register says of the load of one point, retired or not."""
    found = unit.session.execute(_places().where(PointRow.id == point_id)).one_or_none()
    return None if found is None else _place(found)


def places_on_rating(unit: Unit, site_id: int, *, after: int, limit: int) -> tuple[LoadPlace, ...]:
    """Points in use at a site whose load is none, or the rating, from an id on."""
    query = _places().where(
        PointRow.site_id == site_id,
        PointRow.retired_at.is_(None),
        ViewRow.asks_amps.is_(True),
        or_(
            PointRow.common_load_a.is_(None),
            func.lower(PointRow.common_load_source).in_(sorted(RATING_ONLY)),
        ),
        PointRow.id > after,
    )
    rows = unit.session.execute(query.order_by(PointRow.id).limit(limit))
    return tuple(_place(row) for row in rows)


def _place(row: Sequence[Any]) -> LoadPlace:
    point_id, site_id, version, tag, equipment, view, name, amps, source, rated_current_a = row
    title = f"{equipment}, {view}: {name}"
    return LoadPlace(point_id, site_id, version, tag, title, amps, source, rated_current_a)


def _places() -> Select[*tuple[Any, ...]]:
    return (
        select(
            PointRow.id,
            PointRow.site_id,
            PointRow.version,
            PointRow.tag,
            EquipmentRow.name,
            ViewRow.name,
            PointRow.name,
            PointRow.common_load_a,
            PointRow.common_load_source,
            EquipmentRow.rated_current_a,
        )
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
    )


def currents_of_points(unit: Unit, point_ids: Collection[int]) -> dict[int, list[float]]:
    """By point: measured currents in service at its latest visits, as they stand after corrections [A]."""
    ranked = (
        select(
            ReadingRow.point_id,
            ReadingRow.current_a,
            func.row_number()
            .over(partition_by=ReadingRow.point_id, order_by=ReadingRow.taken_at.desc())
            .label("place"),
        )
        .where(
            is_one_of(unit, ReadingRow.point_id, point_ids),
            ReadingRow.current_a > 0,
            ReadingRow.load_source == LoadSource.SERVICE.value,
            CURRENT,
        )
        .subquery()
    )
    query = select(ranked.c.point_id, ranked.c.current_a).where(ranked.c.place <= MOST_VISITS)
    found: dict[int, list[float]] = {point_id: [] for point_id in point_ids}
    for point_id, amps in unit.session.execute(query):
        found[point_id].append(amps)
    return found
