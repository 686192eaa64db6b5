"""Scores of the trends of all points in sight, and what is told of those that are called."""

from collections.abc import Iterable

from sqlalchemy import select

from service.domain.called import CalledPlace, ScoredPoint
from service.domain.words import WORSENING, Level, ReferenceKind, Trend
from service.storage.bulk import is_one_of
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit

_CALLED = frozenset(trend.value for trend in WORSENING)


def scored_points(unit: Unit, site_ids: Iterable[int]) -> list[ScoredPoint]:
    """Points of these sites that have a score; one whose trend is being worked out again is not called."""
    state = PointStateRow
    query = (
        select(
            state.point_id,
            state.trend_z,
            state.trend_visits,
            state.reference,
            PointRow.reference_kind,
            state.trend,
            state.pending,
        )
        .join(PointRow, PointRow.id == state.point_id)
        .where(
            is_one_of(unit, state.site_id, site_ids),
            state.trend_z.is_not(None),
            PointRow.retired_at.is_(None),
        )
        .order_by(state.point_id)
    )
    return [
        ScoredPoint(point, z, visits, ReferenceKind(kind or habit), trend in _CALLED and not pending)
        for point, z, visits, kind, habit, trend, pending in unit.session.execute(query)
        if z is not None
    ]


def called_places(unit: Unit, point_ids: Iterable[int]) -> dict[int, CalledPlace]:
    """By point what is told of it."""
    state = PointStateRow
    query = (
        select(state, PointRow.name, PointRow.tag, EquipmentRow.name, SiteRow.name)
        .join(PointRow, PointRow.id == state.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .join(SiteRow, SiteRow.id == state.site_id)
        .where(is_one_of(unit, state.point_id, point_ids))
    )
    return {
        row.point_id: CalledPlace(
            point_id=row.point_id,
            where=f"{site}, {equipment}, {name} ({tag})",
            trend=Trend(row.trend),
            level=None if row.level is None else Level(row.level),
            risen_k=row.trend_risen_k,
            onset_on=row.trend_onset_on,
            chance_12=row.chance_12,
        )
        for row, name, tag, equipment, site in unit.session.execute(query)
    }
