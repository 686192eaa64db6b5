"""Work out the trends of points from all their visits, and their standing with it."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from service.domain.criteria import Criteria
from service.domain.presets import DEFAULT_CRITERIA
from service.domain.standing import with_trend
from service.domain.trending import TrendedPoint, TrendsTold, TrendTold
from service.domain.visits import local_day
from service.domain.words import ReferenceKind, Trend
from service.errors import Conflict
from service.storage import criteria, trend_series
from service.storage.trend_series import REFERENCES, VisitColumns
from service.storage.unit import Store, Unit
from service.trends.engine import assess
from service.trends.policy import policy_for
from service.trends.series import SeriesBlock, TrendBlock
from service.trends.words import WORDS

#: Points per transaction: few enough that an upload never waits long for the next one.
CHUNK = 2000
#: How often points are taken up again that somebody changed while they were worked on.
PASSES = 4

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Series:
    """One point's series: which visits, and the kind of reference they share."""

    point: TrendedPoint
    reference: ReferenceKind
    rows: Ints


def assess_trends(store: Store, *, point_ids: Sequence[int] | None, now: datetime) -> TrendsTold:
    """Say of points what their history says, and let the standing follow.

    Parameters
    ----------
    point_ids : sequence of int or None
        The points; None for every point that has ever been read.
    now : datetime
        The instant; a changed standing is dated by it.

    Returns
    -------
    TrendsTold
        How many points were assessed, whose standing changed, and the words given.

    Raises
    ------
    service.errors.Conflict
        Points kept being changed by others; the job that called tries again later.

    Notes
    -----
    A series holds the visits since the last cut that may be trended, of one kind of reference:
    the register's habit for the point where there are such visits, else the kind of the latest
    one. Values at common load are used where the series has any, values as measured otherwise;
    the two are never mixed. Running it twice ends the same.
    """
    words: Counter[Trend] = Counter()
    points = changed = 0
    for chunk in _chunks(store, point_ids):
        for told in _assess_chunk(store, chunk, now=now):
            points += 1
            changed += told.moves
            words[told.trend] += 1
    return TrendsTold(points=points, changed=changed, words=dict(words))


def _chunks(store: Store, point_ids: Sequence[int] | None) -> Iterator[list[int]]:
    if point_ids is not None:
        wanted = sorted(set(point_ids))
        yield from (wanted[first : first + CHUNK] for first in range(0, len(wanted), CHUNK))
        return
    last = 0
    while True:
        with store.look() as unit:
            chunk = trend_series.points_after(unit, last, limit=CHUNK)
        if not chunk:
            return
        yield chunk
        last = chunk[-1]


def _assess_chunk(store: Store, chunk: list[int], *, now: datetime) -> Iterator[TrendTold]:
    """Read without holding anybody up, think, write; again for those changed meanwhile."""
    for _ in range(PASSES):
        with store.look() as unit:
            points, visits, sets = _read(unit, chunk)
        told = _tell(points, visits, sets=sets, now=now)
        if not told:
            return
        with store.begin() as unit:
            chunk = trend_series.keep_trends(unit, told, now=now)
        left = set(chunk)
        yield from (one for one in told if one.point.point_id not in left)
        if not chunk:
            return
    raise Conflict(f"{len(chunk)} points kept changing while their trend was worked out")


def trends_that_would_change(unit: Unit, point_ids: Sequence[int], *, now: datetime) -> int:
    """How many points would get another trend's word by what this unit holds; nothing is written."""
    points, visits, sets = _read(unit, sorted(set(point_ids)))
    return sum(one.trend is not one.point.trend for one in _tell(points, visits, sets=sets, now=now))


def _read(
    unit: Unit, point_ids: Sequence[int]
) -> tuple[list[TrendedPoint], VisitColumns, Mapping[int, Criteria]]:
    points = trend_series.trended_points(unit, point_ids)
    visits = trend_series.visits_that_count(unit, point_ids)
    used = {one.criteria_id for one in points if one.criteria_id is not None}
    return points, visits, criteria.criteria_by_id(unit, used)


def _tell(
    points: list[TrendedPoint], visits: VisitColumns, *, sets: Mapping[int, Criteria], now: datetime
) -> list[TrendTold]:
    series = [_series_of(point, visits) for point in points]
    told: list[TrendTold] = []
    for reference in REFERENCES:
        alike = [one for one in series if one.reference is reference]
        if alike:
            block = assess(_block(alike, visits), policy_for(reference))
            told += [_told(one.point, block, k, sets=sets, now=now) for k, one in enumerate(alike)]
    return sorted(told, key=lambda one: one.point.point_id)


def _series_of(point: TrendedPoint, visits: VisitColumns) -> _Series:
    first, last = np.searchsorted(visits.point_id, (point.point_id, point.point_id + 1))
    rows: Ints = np.arange(first, last)
    rows = rows[visits.episode[rows] == point.episode]
    if not rows.size:
        return _Series(point, point.habit, rows)
    kinds = visits.reference[rows]
    habit = REFERENCES.index(point.habit)
    kind = habit if (kinds == habit).any() else int(kinds[-1])
    return _Series(point, REFERENCES[kind], rows[kinds == kind])


def _block(series: list[_Series], visits: VisitColumns) -> SeriesBlock:
    rows = np.concatenate([one.rows for one in series])
    lengths = [one.rows.size for one in series]
    rises = [_rises(visits, one.rows) for one in series]
    return SeriesBlock(
        ids=np.array([one.point.point_id for one in series], dtype=np.int64),
        offsets=np.concatenate(([0], np.cumsum(lengths, dtype=np.int64))),
        days=visits.day[rows],
        rise_k=np.concatenate(rises),
        u_own_k=visits.u_k[rows],
        episode=visits.episode[rows],
        load_ratio=visits.load_ratio[rows],
    )


def _rises(visits: VisitColumns, rows: Ints) -> NDArray[np.float64]:
    """At common load where the series has such values, else as measured; never both."""
    common = visits.common_k[rows]
    return common if np.isfinite(common).any() else visits.measured_k[rows]


def _told(
    point: TrendedPoint, block: TrendBlock, k: int, *, sets: Mapping[int, Criteria], now: datetime
) -> TrendTold:
    trend, today = Trend(WORDS[block.word_index[k]]), local_day(now, point.zone)
    rules = DEFAULT_CRITERIA if point.criteria_id is None else sets[point.criteria_id]
    # This engine gives no chance of crossing: a rise lifts to Look again, no further.
    level = with_trend(point.standing, trend, p12=None, criteria=rules).level
    return TrendTold(
        point=point,
        level=level,
        level_since=point.standing.since if level == point.level else today,
        trend=trend,
        since=point.since if point.since is not None and point.trend is trend else today,
        today=today,
        slope_k_month=_known(block.slope_k_per_month[k]),
        slope_low=_known(block.slope_lo[k]),
        slope_high=_known(block.slope_hi[k]),
        p=_known(block.mk_p[k]),
        visits=int(block.n_visits[k]),
        method=block.method,
    )


def _known(value: float) -> float | None:
    return float(value) if isfinite(value) else None
