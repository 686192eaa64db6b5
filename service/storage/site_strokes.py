"""Every point of a site in walking order: as columns for the strokes, and as rows."""

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Any

import numpy as np
from sqlalchemy import Select, func, select

from service.domain.overview import (
    SitePoint,
    Strokes,
)
from service.domain.words import Level, Trend
from service.storage.bulk import is_one_of
from service.storage.condition import in_sight
from service.storage.desk import Sight
from service.storage.tables.readings import (
    PointStateRow,
)
from service.storage.tables.register import (
    AreaRow,
    EquipmentRow,
    PointRow,
    SeriesCutRow,
    ViewRow,
)
from service.storage.unit import Unit

WALK = (
    AreaRow.walking_order,
    AreaRow.id,
    EquipmentRow.walking_order,
    EquipmentRow.id,
    ViewRow.walking_order,
    ViewRow.id,
    PointRow.walking_order,
    PointRow.id,
)


def _walked(
    columns: Sequence[Any], site_ids: Collection[int], sight: Sight, unit: Unit
) -> Select[*tuple[Any, ...]]:
    return (
        select(*columns)
        .join(PointRow, PointRow.id == PointStateRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == PointStateRow.equipment_id)
        .join(AreaRow, AreaRow.id == EquipmentRow.area_id)
        .where(
            is_one_of(unit, PointStateRow.site_id, site_ids), PointRow.retired_at.is_(None), in_sight(sight)
        )
        .order_by(PointStateRow.site_id, *WALK)
    )


def strokes(
    unit: Unit, sight: Sight, *, site_ids: Collection[int], repaired_since: datetime
) -> dict[int, Strokes]:
    """Every point of these sites as a stroke, in walking order."""
    if not site_ids:
        return {}
    state = PointStateRow
    columns = (
        state.site_id,
        state.point_id,
        func.coalesce(state.level, -1),
        state.height_now,
        state.height_year_ago,
        state.trend,
        state.pending,
        EquipmentRow.name,
        PointRow.name,
        AreaRow.name,
    )
    rows = unit.session.execute(_walked(columns, site_ids, sight, unit)).all()
    mended = _cut_points(unit, site_ids, repaired_since)
    by_site: dict[int, list[Sequence[Any]]] = {}
    for row in rows:
        by_site.setdefault(row[0], []).append(row)
    return {site_id: _columns(list(zip(*found, strict=True)), mended) for site_id, found in by_site.items()}


def _columns(columns: Sequence[Sequence[Any]], mended: frozenset[int]) -> Strokes:
    _, point_ids, levels, now, then, trends, pending, equipment, points, areas = columns
    steady = Trend.STEADY.value
    return Strokes(
        point_ids=np.array(point_ids, dtype=np.int64),
        levels=np.array(levels, dtype=np.int64),
        now=np.array(now, dtype=np.float64),
        then=np.array(then, dtype=np.float64),
        steady=np.array([trend == steady for trend in trends], dtype=np.bool_),
        repaired=np.array([point in mended for point in point_ids], dtype=np.bool_),
        pending=np.array(pending, dtype=np.bool_),
        names=tuple(f"{kit}, {point}" for kit, point in zip(equipment, points, strict=True)),
        areas=tuple(areas),
    )


def _cut_points(unit: Unit, site_ids: Collection[int], since: datetime) -> frozenset[int]:
    query = (
        select(SeriesCutRow.point_id)
        .join(PointRow, PointRow.id == SeriesCutRow.point_id)
        .where(SeriesCutRow.at >= since, SeriesCutRow.reason.in_(("repaired", "replaced")))
        .where(is_one_of(unit, PointRow.site_id, site_ids))
    )
    return frozenset(unit.session.scalars(query))


def site_points(unit: Unit, sight: Sight, site_id: int) -> Iterable[SitePoint]:
    """Every point of a site in walking order, as a row."""
    state = PointStateRow
    columns = (
        state.point_id,
        PointRow.tag,
        EquipmentRow.name,
        PointRow.name,
        AreaRow.name,
        state.level,
        state.at_least,
        func.coalesce(state.common_k, state.value_k),
        state.trend,
        state.pending,
        state.last_read_at,
    )
    for row in unit.session.execute(_walked(columns, [site_id], sight, unit)):
        point_id, tag, equipment, point, area, level, at_least, value, trend, pending, last = row
        yield SitePoint(
            point_id=point_id,
            tag=tag,
            name=f"{equipment}, {point}",
            area=area,
            level=None if level is None else Level(level),
            at_least=at_least,
            value_k=value,
            trend=trend,
            pending=pending,
            last_read_at=last,
        )
