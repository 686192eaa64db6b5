"""From stored visits to the blocks that the trend engine takes: one a kind of reference."""

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime
from math import nan

import numpy as np
from numpy.typing import NDArray

from service.domain.criteria import Criteria
from service.domain.presets import DEFAULT_CRITERIA
from service.domain.trending import TrendedPoint
from service.domain.words import ReferenceKind
from service.storage import criteria, trend_series
from service.storage.trend_series import REFERENCES, SECONDS_A_DAY, VisitColumns
from service.storage.unit import Unit
from service.trends.series import Rounds, SeriesBlock

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Series:
    """One point's series: which visits, and the kind of reference they share."""

    point: TrendedPoint
    reference: ReferenceKind
    rows: Ints


def read_sites(
    unit: Unit, site_ids: Iterable[int]
) -> tuple[list[TrendedPoint], VisitColumns, Mapping[int, Criteria]]:
    """All points of some sites with their visits and criteria: what shares rounds is read together."""
    company = trend_series.points_of_sites(unit, site_ids)
    points = trend_series.trended_points(unit, company)
    visits = trend_series.visits_that_count(unit, company)
    used = {one.criteria_id for one in points if one.criteria_id is not None}
    return points, visits, criteria.criteria_by_id(unit, used)


def blocks_of(
    points: Sequence[TrendedPoint],
    visits: VisitColumns,
    *,
    sets: Mapping[int, Criteria],
    wanted: Set[int],
    now: datetime,
) -> Iterator[tuple[ReferenceKind, list[TrendedPoint], SeriesBlock]]:
    """Blocks of the points, with the points of their series; those in which nobody is wanted are left out.

    A series holds the visits of one kind of reference: the register's habit for the point where
    there are such visits since the last cut, else the kind of the latest one.
    """
    series = [_series_of(point, visits) for point in points]
    for reference in REFERENCES:
        alike = [one for one in series if one.reference is reference]
        asked = np.array([one.point.point_id in wanted for one in alike], dtype=bool)
        if asked.any():
            block = _block(alike, visits, sets=sets, wanted=asked, now=now)
            yield reference, [one.point for one in alike], block


def _series_of(point: TrendedPoint, visits: VisitColumns) -> _Series:
    """All visits of one kind of reference: that of those since the last cut."""
    first, last = np.searchsorted(visits.point_id, (point.point_id, point.point_id + 1))
    rows: Ints = np.arange(first, last)
    recent = rows[visits.episode[rows] == point.episode]
    if not recent.size:
        return _Series(point, point.habit, recent)
    kinds = visits.reference[recent]
    habit = REFERENCES.index(point.habit)
    kind = habit if (kinds == habit).any() else int(kinds[-1])
    return _Series(point, REFERENCES[kind], rows[visits.reference[rows] == kind])


def _block(
    series: Sequence[_Series],
    visits: VisitColumns,
    *,
    sets: Mapping[int, Criteria],
    wanted: NDArray[np.bool_],
    now: datetime,
) -> SeriesBlock:
    rows = np.concatenate([one.rows for one in series])
    lengths = [one.rows.size for one in series]
    scaled = np.repeat([_is_scaled(visits, one) for one in series], lengths)
    return SeriesBlock(
        ids=np.array([one.point.point_id for one in series], dtype=np.int64),
        offsets=np.concatenate(([0], np.cumsum(lengths, dtype=np.int64))),
        days=visits.day[rows],
        rise_k=np.where(scaled, visits.common_k[rows], visits.measured_k[rows]),
        u_own_k=visits.u_k[rows],
        episode=visits.episode[rows],
        load_ratio=np.where(scaled, visits.load_ratio[rows], np.nan),
        view=np.array([-1 if one.point.view_id is None else one.point.view_id for one in series]),
        line_k=np.array([_act_now_line(one, sets) for one in series]),
        wanted=wanted,
        rounds=_rounds(series, visits, rows, lengths),
        today=now.timestamp() // SECONDS_A_DAY,
    )


def _is_scaled(visits: VisitColumns, series: _Series) -> bool:
    """At common load where the series has such values, else as measured; never both."""
    return bool(np.isfinite(visits.common_k[series.rows]).any())


def _act_now_line(series: _Series, sets: Mapping[int, Criteria]) -> float:
    """The line that a trend crosses [K]; NaN where the column has none, or is no difference."""
    point = series.point
    rules = DEFAULT_CRITERIA if point.criteria_id is None else sets[point.criteria_id]
    rule = rules.rule_for(series.reference, point.kind, component=point.component)
    line = rules.act_now_line(series.reference, point.kind, component=point.component)
    return line if line is not None and rule.unit.value == "K" else nan


def _rounds(series: Sequence[_Series], visits: VisitColumns, rows: Ints, lengths: list[int]) -> Rounds:
    """One instrument on one round of one site; a visit of no round is alone."""
    site = np.repeat([one.point.site_id for one in series], lengths)
    alone = np.where(visits.round_id[rows] < 0, np.arange(rows.size), -1)
    keys = np.column_stack((site, visits.round_id[rows], visits.instrument_id[rows], alone))
    groups, group = np.unique(keys, axis=0, return_inverse=True)
    begins = np.full(len(groups), np.inf)
    np.minimum.at(begins, group.ravel(), visits.day[rows])
    sites, site_of_group = np.unique(groups[:, 0], return_inverse=True)
    order = np.zeros(len(groups), dtype=np.int64)
    in_time = np.lexsort((begins, site_of_group))
    starts = np.searchsorted(site_of_group[in_time], np.arange(len(sites)))
    order[in_time] = np.arange(len(groups)) - starts[site_of_group[in_time]]
    return Rounds(group.ravel(), site_of_group, order)
