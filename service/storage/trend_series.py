"""The visits that count for a trend, as arrays; and what they say, laid down per point."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import ColumnElement, Float, bindparam, cast, extract, func, insert, select, update

from service.domain.standing import StandingState
from service.domain.trending import TrendedPoint, TrendTold
from service.domain.words import Level, PointKind, ReferenceKind, Trend
from service.storage.bulk import is_one_of, table_of
from service.storage.site_months import roll_up
from service.storage.site_state import bump
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow, StandingChangeRow
from service.storage.tables.register import PointRow, SeriesCutRow, SiteRow, ViewMemberRow
from service.storage.unit import Unit

SECONDS_A_DAY = 86_400
#: Julian date of the first day of 1970.
JULIAN_1970 = 2_440_587.5

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: References by the number they have in ``VisitColumns.reference``.
REFERENCES = tuple(ReferenceKind)
_NUMBER = {reference.value: number for number, reference in enumerate(REFERENCES)}


@dataclass(frozen=True, slots=True)
class VisitColumns:
    """Visits in the order of their points and dates, one value per visit in every array.

    ``day`` counts days since 1970; ``common_k`` and ``measured_k`` are the rise at common load and
    as measured [K], NaN where there is none. ``round_id`` and ``instrument_id`` are -1 for none.
    """

    point_id: Ints
    day: Floats
    common_k: Floats
    measured_k: Floats
    u_k: Floats
    load_ratio: Floats
    episode: Ints
    reference: Ints
    round_id: Ints
    instrument_id: Ints


def points_of_sites(unit: Unit, site_ids: Iterable[int]) -> list[int]:
    """All points of these sites that have a state, by id: what shares rounds with each other."""
    query = select(PointStateRow.point_id).where(is_one_of(unit, PointStateRow.site_id, site_ids))
    return list(unit.session.scalars(query.order_by(PointStateRow.point_id)))


def sites_of_points(unit: Unit, point_ids: Iterable[int]) -> frozenset[int]:
    """The sites on which these points lie."""
    query = select(PointStateRow.site_id).where(is_one_of(unit, PointStateRow.point_id, point_ids)).distinct()
    return frozenset(unit.session.scalars(query))


def sites_told_otherwise(unit: Unit, method: str | None) -> list[int]:
    """Sites with points whose trend was told by another rule; with None every site that was read."""
    row = PointStateRow
    query = select(row.site_id).where(row.last_read_at.is_not(None)).distinct().order_by(row.site_id)
    if method is not None:
        query = query.where(row.trend_method != method)
    return list(unit.session.scalars(query))


def told_by(unit: Unit, method: str) -> tuple[int, int]:
    """Points that were read and have their trend by this rule, and by others."""
    row = PointStateRow
    query = select(row.trend_method, func.count()).where(row.last_read_at.is_not(None))
    counts = {name: int(count) for name, count in unit.session.execute(query.group_by(row.trend_method))}
    told = counts.pop(method, 0)
    return told, sum(counts.values())


def points_after(unit: Unit, point_id: int, *, limit: int) -> list[int]:
    """The next points that have a state, by id."""
    query = select(PointStateRow.point_id).where(PointStateRow.point_id > point_id)
    return list(unit.session.scalars(query.order_by(PointStateRow.point_id).limit(limit)))


def trended_points(unit: Unit, point_ids: Iterable[int]) -> list[TrendedPoint]:
    """The points as they stand, by id; those without a state are left out."""
    query = _TRENDED.where(is_one_of(unit, PointStateRow.point_id, point_ids))
    return [_point(row) for row in unit.connection.execute(query)]


_CUTS = (
    select(func.count())
    .select_from(SeriesCutRow)
    .where(SeriesCutRow.point_id == PointStateRow.point_id)
    .scalar_subquery()
)
_VIEW = (
    select(func.min(ViewMemberRow.view_id))
    .where(ViewMemberRow.point_id == PointStateRow.point_id, ViewMemberRow.to_at.is_(None))
    .scalar_subquery()
)
#: Columns only, made once: whole rows of wide tables cost three times as much as what is read of them.
_TRENDED = (
    select(
        PointStateRow.point_id,
        PointStateRow.site_id,
        SiteRow.time_zone,
        PointStateRow.data_version,
        PointStateRow.criteria_id,
        PointRow.reference_kind,
        PointRow.kind,
        PointRow.component,
        _VIEW.label("view_id"),
        _CUTS.label("cuts"),
        PointStateRow.reading_level,
        PointStateRow.at_least,
        PointStateRow.since,
        PointStateRow.lower_run,
        PointStateRow.lower_peak,
        PointStateRow.clear_run,
        PointStateRow.trend,
        PointStateRow.trend_since,
        PointStateRow.level,
        PointStateRow.height_now,
        PointStateRow.common_k,
    )
    .join(PointRow, PointRow.id == PointStateRow.point_id)
    .join(SiteRow, SiteRow.id == PointStateRow.site_id)
    .order_by(PointStateRow.point_id)
)


def _point(row: Any) -> TrendedPoint:
    standing = StandingState(
        reading_level=None if row.reading_level is None else Level(row.reading_level),
        at_least=row.at_least,
        since=row.since,
        lower_run=row.lower_run,
        lower_peak=None if row.lower_peak is None else Level(row.lower_peak),
        clear_run=row.clear_run,
    )
    return TrendedPoint(
        point_id=row.point_id,
        site_id=row.site_id,
        zone=row.time_zone,
        data_version=row.data_version,
        criteria_id=row.criteria_id,
        habit=ReferenceKind(row.reference_kind),
        kind=PointKind(row.kind),
        component=row.component,
        view_id=row.view_id,
        episode=row.cuts,
        standing=standing,
        trend=Trend(row.trend),
        since=row.trend_since,
        level=None if row.level is None else Level(row.level),
        at_least=row.at_least,
        height=row.height_now,
        common_k=row.common_k,
    )


def visits_that_count(unit: Unit, point_ids: Iterable[int]) -> VisitColumns:
    """Every visit of these points that may enter a trend, by point and date."""
    row = AssessmentRow
    query = (
        select(
            row.point_id,
            _days(unit, row.taken_at),
            row.common_k,
            row.value_k,
            row.u_common_k,
            row.load_ratio,
            row.episode,
            row.reference,
            func.coalesce(row.round_id, -1),
            func.coalesce(ReadingRow.instrument_id, -1),
        )
        .join(ReadingRow, ReadingRow.id == row.reading_id)
        .where(
            is_one_of(unit, row.point_id, point_ids),
            row.current,
            row.counts_trend,
            row.trended,
            row.reference.is_not(None),
        )
        .order_by(row.point_id, row.taken_at)
    )
    rows = unit.connection.execute(query).all()
    columns = list(zip(*rows, strict=True)) if rows else [()] * 10
    numbers = [np.array(column, dtype=np.float64) for column in columns[1:6]]
    return VisitColumns(
        point_id=np.array(columns[0], dtype=np.int64),
        day=numbers[0],
        common_k=numbers[1],
        measured_k=numbers[2],
        u_k=numbers[3],
        load_ratio=numbers[4],
        episode=np.array(columns[6], dtype=np.int64),
        reference=np.array([_NUMBER[name] for name in columns[7]], dtype=np.int64),
        round_id=np.array(columns[8], dtype=np.int64),
        instrument_id=np.array(columns[9], dtype=np.int64),
    )


def _days(unit: Unit, instant: Any) -> ColumnElement[Any]:
    """An instant in days since 1970, made by the database: a million Python datetimes take seconds."""
    if unit.dialect == "sqlite":
        return cast(func.julianday(instant) - JULIAN_1970, Float)
    return cast(extract("epoch", instant), Float) / SECONDS_A_DAY


def keep_trends(unit: Unit, told: Sequence[TrendTold], *, now: datetime) -> list[int]:
    """Lay down what was told; the points that somebody changed meanwhile are handed back instead."""
    bump(unit, {one.point.site_id for one in told}, now=now)
    state = PointStateRow
    query = select(state.point_id, state.data_version).where(
        is_one_of(unit, state.point_id, [one.point.point_id for one in told])
    )
    versions = {int(point): int(version) for point, version in unit.session.execute(query)}
    fresh = [one for one in told if versions.get(one.point.point_id) == one.point.data_version]
    if fresh:
        unit.connection.execute(_UPDATE, [_columns(one) for one in fresh])
    moved = [one for one in fresh if one.moves]
    if moved:
        unit.connection.execute(insert(table_of(StandingChangeRow)), [_change(one) for one in moved])
        sites = {one.point.site_id for one in moved}
        roll_up(unit, sites, since=min(one.today for one in moved), now=now)
    kept = {one.point.point_id for one in fresh}
    return [one.point.point_id for one in told if one.point.point_id not in kept]


_STATE = table_of(PointStateRow)
_SET = (
    "level",
    "since",
    "trend",
    "slope_k_month",
    "slope_low",
    "slope_high",
    "trend_p",
    "trend_visits",
    "trend_since",
    "trend_method",
    "trend_fitted",
    "trend_z",
    "trend_risen_k",
    "trend_onset_on",
    "chance_6",
    "chance_12",
    "crossing_from",
    "crossing_to",
    "crossing_likeliest",
    "trend_fan",
    "pending",
)
_UPDATE = (
    update(_STATE)
    .where(_STATE.c.point_id == bindparam("of_point"))
    .values(
        {name: bindparam(f"new_{name}", type_=_STATE.c[name].type) for name in _SET}
        | {"data_version": _STATE.c.data_version + 1}
    )
)


def _columns(told: TrendTold) -> dict[str, object]:
    values = (
        told.level,
        told.level_since,
        told.trend.value,
        told.slope_k_month,
        told.slope_low,
        told.slope_high,
        told.p,
        told.visits,
        told.since,
        told.method,
        told.fitted,
        told.z,
        told.risen_k,
        told.onset_on,
        told.chance_6,
        told.chance_12,
        told.crossing_from,
        told.crossing_to,
        told.crossing_likeliest,
        [[step.on.isoformat(), *(round(level_k, 3) for level_k in step[1:])] for step in told.fan] or None,
        False,
    )
    return {"of_point": told.point.point_id} | {
        f"new_{name}": value for name, value in zip(_SET, values, strict=True)
    }


def _change(told: TrendTold) -> dict[str, object]:
    return {
        "point_id": told.point.point_id,
        "site_id": told.point.site_id,
        "on": told.today,
        "level": told.level,
        "was": told.point.level,
        "at_least": told.point.at_least,
        "trend": told.trend.value,
        "common_k": told.point.common_k,
        "height": told.point.height,
        "cause": f"trend: {told.trend.value}",
    }
