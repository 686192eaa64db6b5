"""Which month, and which week of it: twelve months levelled at once by one mixed-integer programme."""

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from service.planning.month_demand import Capacity, DueAssets
from service.planning.month_groups import NOT_THIS_YEAR, grouped, hand_out
from service.planning.month_programme import solve

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

WEEKS = 4
#: Assets solved together, about. Small blocks each keep something back and stop at a gap of their own,
#: which costs more hours and, since they are tight, more time than one that is larger: measured at
#: 20,000 assets (seed 11, where this was chosen) 1,500 saved 6 % of the hours, 7,000 saved 7.4 %.
MOST_TOGETHER = 7_000
#: How level the months are to be. Ours.
PEAK_OVER_MEAN = 1.02


@dataclass(frozen=True, slots=True)
class Over:
    """Minutes used beyond those offered, (t,), (t,) and (w, t)."""

    minutes: Floats
    qualified_min: Floats
    window_min: Floats


@dataclass(frozen=True, slots=True)
class MonthPlan:
    """The year.

    Attributes
    ----------
    first_month : ndarray of int, shape (n,)
        Of the first visit; -1 where none falls into the plan.
    visits : ndarray of bool, shape (n, t)
        All visits: the first and, an interval apart, those after it.
    late_months : ndarray of int, shape (n,)
        By which the first visit misses the due month; 0 where it does not.
    site_visits : ndarray of bool, shape (s, t)
    week : ndarray of int, shape (s, t)
        Week of the month of each site visit, from 0; -1 where there is none.
    minutes, qualified_min : ndarray, shape (t,)
        Used, with the way; and with a qualified person.
    over : Over
        What the hard stops need beyond the minutes offered; all 0 where everything fits.
    gap : float
        Of the solver: at most this share from the best plan there is, within the model.
    """

    first_month: Ints
    visits: Bools
    late_months: Ints
    site_visits: Bools
    week: Ints
    minutes: Floats
    qualified_min: Floats
    over: Over
    gap: float


def plan_months(
    due: DueAssets, capacity: Capacity, *, peak_over_mean: float | None = PEAK_OVER_MEAN
) -> MonthPlan:
    """Spread a year's visits so that sites are visited together and no month stands out.

    Parameters
    ----------
    due : DueAssets
    capacity : Capacity
    peak_over_mean : float, optional
        The fullest month may exceed the mean by this factor, where that can be kept; None saves
        site visits instead, and lets months be emptier than others.

    Returns
    -------
    MonthPlan

    Raises
    ------
    ValueError
        For an interval below 1 month, or a frozen month beyond the frozen ones.

    Notes
    -----
    Groups of like assets choose the month of their first visit within the window (a quarter of the
    interval early, a little late, never past the stop); later visits follow an interval apart, so
    that no gap exceeds the interval. Solved by HiGHS within scipy, to a gap or a count of nodes,
    never to a time: the same input gives the same plan. Hours are hard: only where the stops
    and Act nows alone do not fit is more used, and ``over`` says how much. A large register is
    solved in blocks of sites, each with its part of the hours; the gap is that of the worst block.
    """
    _check(due, capacity)
    first, gaps = np.full(len(due.site), NOT_THIS_YEAR, dtype=np.int64), [0.0]
    for block in _blocks(due):
        sites, site = np.unique(due.site[block], return_inverse=True)
        of_block = replace(_only(due, block), site=site.astype(np.int64))
        share = _share(due, capacity, block, sites=sites)
        groups = grouped(of_block, months=len(capacity.minutes), frozen_months=capacity.frozen_months)
        solved = solve(groups, share, peak_over_mean=peak_over_mean)
        first[block] = hand_out(groups, solved.counts, priority=of_block.priority, key=of_block.key)
        gaps.append(solved.gap)
    return _plan(due, capacity, first, gap=max(gaps))


def visits_of(first_month: Ints, interval_months: Ints, *, months: int) -> Bools:
    """All visits of the plan from first visits and intervals, (n, t)."""
    since = np.arange(months)[None, :] - first_month[:, None]
    started = (first_month[:, None] != NOT_THIS_YEAR) & (since >= 0)
    visits: Bools = started & (since % interval_months[:, None] == 0)
    return visits


def _blocks(due: DueAssets) -> list[Ints]:
    """Assets of sites that are solved together: whole sites, in their order, of about one size."""
    sites, count = np.unique(due.site, return_counts=True)
    if not len(sites):
        return []
    wanted = max(1, round(float(count.sum()) / MOST_TOGETHER))
    middle = np.cumsum(count) - count / 2
    block = (middle * wanted / count.sum()).astype(np.int64)
    of_asset = block[np.searchsorted(sites, due.site)]
    return [np.flatnonzero(of_asset == k) for k in np.unique(block)]


def _only(due: DueAssets, which: Ints) -> DueAssets:
    return DueAssets(*(getattr(due, part.name)[which] for part in fields(due)))


def _share(due: DueAssets, capacity: Capacity, which: Ints, *, sites: Ints) -> Capacity:
    """A block's part of the hours: as its minutes of a year are to those of all."""
    often = due.read_min / due.interval_months
    every = np.ones(len(due.site), dtype=bool)

    def part(of: Bools) -> float:
        total = float(often[of].sum())
        return float(often[which][of[which]].sum()) / total if total > 0 else 1.0

    of_all = float(capacity.visit_min[np.unique(due.site)].sum())
    way = float(capacity.visit_min[sites].sum()) / max(of_all, 1e-9)
    windows = [part(due.load_window == 1 + k) for k in range(len(capacity.window_min))]
    return replace(
        capacity,
        minutes=capacity.minutes * (part(every) + way) / 2,
        qualified_min=capacity.qualified_min * part(due.qualified),
        window_min=capacity.window_min * np.reshape(windows, (-1, 1)),
        visit_min=capacity.visit_min[sites],
    )


def _plan(due: DueAssets, capacity: Capacity, first: Ints, *, gap: float) -> MonthPlan:
    months, sites = len(capacity.minutes), len(capacity.visit_min)
    visits = visits_of(first, due.interval_months, months=months)
    reading = np.zeros((sites, months))
    np.add.at(reading, due.site, visits * due.read_min[:, None])
    site_visits = reading > 0
    urgent = np.zeros((sites, months), dtype=bool)
    np.logical_or.at(urgent, due.site, visits & due.act_now[:, None])
    spent = reading + site_visits * capacity.visit_min[:, None]
    return MonthPlan(
        first_month=first,
        visits=visits,
        late_months=np.where(first == NOT_THIS_YEAR, 0, np.maximum(first - due.due_month, 0)),
        site_visits=site_visits,
        week=_weeks(spent, urgent & site_visits),
        minutes=spent.sum(axis=0),
        qualified_min=_read_min(due, visits, due.qualified),
        over=_over(due, capacity, visits, spent_min=spent.sum(axis=0)),
        gap=gap,
    )


def _over(due: DueAssets, capacity: Capacity, visits: Bools, *, spent_min: Floats) -> Over:
    windows = [_read_min(due, visits, due.load_window == 1 + k) for k in range(len(capacity.window_min))]
    return Over(
        np.maximum(spent_min - capacity.minutes, 0),
        np.maximum(_read_min(due, visits, due.qualified) - capacity.qualified_min, 0),
        np.maximum(np.reshape(windows, capacity.window_min.shape) - capacity.window_min, 0),
    )


def _read_min(due: DueAssets, visits: Bools, which: Bools) -> Floats:
    """Minutes a month of reading some of the assets."""
    minutes: Floats = (visits * (due.read_min * which)[:, None]).sum(axis=0)
    return minutes


def _weeks(spent_min: Floats, urgent: Bools) -> Ints:
    """Site visits to weeks: Act now first, then the longest into the emptiest week."""
    week = np.full(spent_min.shape, -1, dtype=np.int64)
    for month in range(spent_min.shape[1]):
        load = np.zeros(WEEKS)
        visited = [int(s) for s in np.flatnonzero(spent_min[:, month] > 0)]
        for site in sorted(visited, key=lambda s: (not urgent[s, month], -spent_min[s, month], s)):
            at = 0 if urgent[site, month] else int(load.argmin())
            week[site, month] = at
            load[at] += spent_min[site, month]
    return week


def _check(due: DueAssets, capacity: Capacity) -> None:
    if len(due.site) and due.interval_months.min() < 1:
        raise ValueError(f"interval_months is 1 or more, got {due.interval_months.min()}")
    if len(due.site) and due.frozen_month.max() >= capacity.frozen_months:
        raise ValueError(f"month {due.frozen_month.max()} is not one of {capacity.frozen_months} frozen ones")
