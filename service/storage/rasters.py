"""Rasters of readings and the regions drawn on them; a changed region is a new row."""

from datetime import datetime
from typing import Any

from sqlalchemy import Select, select

from service.domain.rasters import (
    PointPlace,
    Raster,
    Region,
    RegionShape,
    RegionWish,
    figures_from_dict,
    figures_to_dict,
)
from service.domain.readings import Reading
from service.physics.raster import Statistics
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import RasterRegionRow, RasterRow, ReadingRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit


def raster_by_uid(unit: Unit, uid: str) -> Raster | None:
    row = unit.session.execute(_rasters().where(RasterRow.uid == uid)).one_or_none()
    return None if row is None else _raster(*row)


def rasters_of(unit: Unit, reading: Reading) -> tuple[Raster, ...]:
    """Rasters of a reading, whichever of its revisions they came with; oldest first."""
    query = _rasters().order_by(RasterRow.id)
    if reading.row_id is None:
        query = query.where(RasterRow.reading_id == reading.id)
    else:
        query = query.where(ReadingRow.row_id == reading.row_id, ReadingRow.source == reading.source)
    return tuple(_raster(*row) for row in unit.session.execute(query))


def add_raster(
    unit: Unit,
    *,
    uid: str,
    reading_id: int,
    file_name: str,
    content_hash: str,
    stored_as: str,
    size: tuple[int, int],
    extremes_c: tuple[float, float],
    person_id: int | None,
    now: datetime,
) -> int:
    """Keep a raster; ``size`` are its rows and columns, ``extremes_c`` its coldest and hottest pixel."""
    row = RasterRow(
        uid=uid,
        reading_id=reading_id,
        file_name=file_name,
        content_hash=content_hash,
        stored_as=stored_as,
        rows=size[0],
        columns=size[1],
        low_c=extremes_c[0],
        high_c=extremes_c[1],
        received_at=now,
        by_person_id=person_id,
    )
    unit.session.add(row)
    unit.session.flush()
    return row.id


def files_named(unit: Unit) -> tuple[str, ...]:
    """Names of all files that rasters were read from."""
    return tuple(unit.session.scalars(select(RasterRow.stored_as).distinct().order_by(RasterRow.stored_as)))


def regions_of(unit: Unit, raster_id: int) -> tuple[Region, ...]:
    """Regions that stand, in the order in which they were first drawn."""
    query = _regions().where(RasterRegionRow.raster_id == raster_id, RasterRegionRow.retired_at.is_(None))
    return tuple(_region(*row) for row in unit.session.execute(query.order_by(RasterRegionRow.id)))


def region_by_id(unit: Unit, raster_id: int, region_id: int) -> Region | None:
    """A region of a raster, also one that was taken back."""
    query = _regions().where(RasterRegionRow.raster_id == raster_id, RasterRegionRow.id == region_id)
    row = unit.session.execute(query).one_or_none()
    return None if row is None else _region(*row)


def add_region(
    unit: Unit,
    raster_id: int,
    wish: RegionWish,
    *,
    name: str,
    found: Statistics,
    person_id: int | None,
    now: datetime,
) -> int:
    spot = wish.shape is RegionShape.SPOT
    row = RasterRegionRow(
        raster_id=raster_id,
        name=name,
        shape=wish.shape.value,
        row_from=wish.row_from,
        column_from=wish.column_from,
        row_to=wish.row_from if spot else wish.row_to,
        column_to=wish.column_from if spot else wish.column_to,
        radius=wish.radius_px if spot else None,
        figures=figures_to_dict(found),
        at=now,
        by_person_id=person_id,
    )
    unit.session.add(row)
    unit.session.flush()
    return row.id


def retire_region(unit: Unit, region_id: int, *, now: datetime) -> None:
    row = unit.session.get_one(RasterRegionRow, region_id)
    row.retired_at = now
    unit.session.flush()


def place_of(unit: Unit, point_id: int) -> PointPlace:
    """Where a point is, in words."""
    query = (
        select(
            PointRow.id,
            PointRow.tag,
            PointRow.name,
            ViewRow.name,
            EquipmentRow.id,
            EquipmentRow.name,
            SiteRow.id,
            SiteRow.time_zone,
        )
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
        .where(PointRow.id == point_id)
    )
    return PointPlace(*unit.session.execute(query).one())


def _rasters() -> Select[*tuple[Any, ...]]:
    return (
        select(RasterRow, ReadingRow.uid, PersonRow.name)
        .join(ReadingRow, ReadingRow.id == RasterRow.reading_id)
        .outerjoin(PersonRow, PersonRow.id == RasterRow.by_person_id)
    )


def _regions() -> Select[*tuple[Any, ...]]:
    return select(RasterRegionRow, PersonRow.name).outerjoin(
        PersonRow, PersonRow.id == RasterRegionRow.by_person_id
    )


def _raster(row: RasterRow, reading_uid: str, by: str | None) -> Raster:
    return Raster(
        id=row.id,
        uid=row.uid,
        reading_id=row.reading_id,
        reading_uid=reading_uid,
        file_name=row.file_name,
        content_hash=row.content_hash,
        stored_as=row.stored_as,
        rows=row.rows,
        columns=row.columns,
        low_c=row.low_c,
        high_c=row.high_c,
        received_at=row.received_at,
        by=by or "",
    )


def _region(row: RasterRegionRow, by: str | None) -> Region:
    return Region(
        id=row.id,
        raster_id=row.raster_id,
        name=row.name,
        shape=RegionShape(row.shape),
        row_from=row.row_from,
        column_from=row.column_from,
        row_to=row.row_to,
        column_to=row.column_to,
        radius_px=row.radius,
        figures=figures_from_dict(row.figures),
        at=row.at,
        by=by or "",
        retired_at=row.retired_at,
    )
