"""Work out the trends of points from all their visits, and their standing with it."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import replace
from datetime import date, datetime, timedelta
from math import floor, isfinite

import numpy as np

from service.domain.criteria import Criteria
from service.domain.presets import DEFAULT_CRITERIA
from service.domain.site_clock import local_day
from service.domain.standing import with_trend
from service.domain.trending import FanStep, TrendedPoint, TrendsTold, TrendTold
from service.domain.words import Trend
from service.errors import Conflict
from service.storage import trend_series, trend_verdicts
from service.storage.trend_series import VisitColumns
from service.storage.unit import Store, Unit
from service.trends.engine import assess
from service.trends.fan import Fan
from service.trends.policy import policy_for
from service.trends.series import TrendBlock
from service.trends.words import WORDS
from service.usecases.condition.series_blocks import blocks_of, read_sites

#: Points per transaction: few enough that an upload never waits long for the next one.
CHUNK = 2000
#: How often points are taken up again that somebody changed while they were worked on.
PASSES = 4
_EPOCH = date(1970, 1, 1)


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
    A series holds the visits that may be trended, of one kind of reference: the register's habit
    for the point where there are such visits since the last cut, else the kind of the latest one.
    Values at common load are used where the series has any, values as measured otherwise; the
    two are never mixed. All points of a site come along, since a round's offset and the site's
    scatter are seen in all of them; only the points asked for are told. Running it twice ends
    the same.
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
        told = _tell(points, visits, sets=sets, wanted=set(chunk), now=now)
        if not told:
            return
        with store.begin() as unit:
            chunk = trend_series.keep_trends(unit, told, now=now)
            left = set(chunk)
            kept = [one for one in told if one.point.point_id not in left]
            trend_verdicts.keep_verdicts(unit, kept, now=now)
        yield from (one for one in told if one.point.point_id not in left)
        if not chunk:
            return
    raise Conflict(f"{len(chunk)} points kept changing while their trend was worked out")


def trends_that_would_change(unit: Unit, point_ids: Sequence[int], *, now: datetime) -> int:
    """How many points would get another trend's word by what this unit holds; nothing is written."""
    points, visits, sets = _read(unit, sorted(set(point_ids)))
    told = _tell(points, visits, sets=sets, wanted=set(point_ids), now=now)
    return sum(one.trend is not one.point.trend for one in told)


def _read(
    unit: Unit, point_ids: Sequence[int]
) -> tuple[list[TrendedPoint], VisitColumns, Mapping[int, Criteria]]:
    return read_sites(unit, trend_series.sites_of_points(unit, point_ids))


def _tell(
    points: list[TrendedPoint],
    visits: VisitColumns,
    *,
    sets: Mapping[int, Criteria],
    wanted: Set[int],
    now: datetime,
) -> list[TrendTold]:
    told: list[TrendTold] = []
    for reference, alike, block in blocks_of(points, visits, sets=sets, wanted=wanted, now=now):
        found = assess(block, policy_for(reference))
        asked = np.ones(len(alike), dtype=bool) if block.wanted is None else block.wanted
        told += [_told(alike[k], found, k, sets=sets, now=now) for k in np.flatnonzero(asked).tolist()]
    told = [_with_newest(one, visits) for one in told]
    return sorted(told, key=lambda one: one.point.point_id)


def _told(
    point: TrendedPoint, block: TrendBlock, k: int, *, sets: Mapping[int, Criteria], now: datetime
) -> TrendTold:
    trend, today = Trend(WORDS[block.word_index[k]]), local_day(now, point.zone)
    rules = DEFAULT_CRITERIA if point.criteria_id is None else sets[point.criteria_id]
    chance_12 = _known(block.chance_12[k])
    level = with_trend(point.standing, trend, p12=chance_12, criteria=rules).level
    worsens = trend.worsening
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
        fitted=int(block.n_fitted[k]),
        z=_known(block.z[k]),
        risen_k=_known(block.risen_k[k]) if worsens else None,
        onset_on=_day(block.onset_days[k]) if worsens else None,
        chance_6=_known(block.chance_6[k]),
        chance_12=chance_12,
        crossing_from=_day(block.earliest_days[k]),
        crossing_to=_day(block.latest_days[k]),
        crossing_likeliest=_day(block.likeliest_days[k]),
        fan=_steps(block.fans.get(k)),
    )


def _steps(fan: Fan | None) -> tuple[FanStep, ...]:
    """A fan month by month; the curves come lowest first."""
    if fan is None:
        return ()
    dated = zip(fan.days.tolist(), fan.curves_k.T.tolist(), strict=True)
    return tuple(FanStep(_EPOCH + timedelta(days=floor(day)), *levels) for day, levels in dated)


def _with_newest(told: TrendTold, visits: VisitColumns) -> TrendTold:
    """With the newest visit that counts, of whatever kind of reference."""
    last = int(np.searchsorted(visits.point_id, told.point.point_id + 1)) - 1
    if last < 0 or visits.point_id[last] != told.point.point_id:
        return told
    round_id = int(visits.round_id[last])
    return replace(told, newest_on=_day(visits.day[last]), round_id=None if round_id < 0 else round_id)


def _known(value: float) -> float | None:
    return float(value) if isfinite(value) else None


def _day(days: float) -> date | None:
    """A day since 1970; None where there is none, or the range is open."""
    return _EPOCH + timedelta(days=floor(days)) if isfinite(days) else None
