"""What goes into the engine and comes out: series end to end in flat arrays."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from service.trends.fan import Fan
from service.trends.words import WORDS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Rounds:
    """Groups of visits that share an instrument's day.

    Attributes
    ----------
    group : ndarray of int, shape (visits,)
        Group of each visit (0 ...).
    site, order : ndarray of int, shape (groups,)
        Its site (0 ...), and how many earlier groups that site has.
    """

    group: Ints
    site: Ints
    order: Ints


@dataclass(frozen=True, slots=True)
class SeriesBlock:
    """Many series end to end; series k holds the visits offsets[k] to offsets[k + 1].

    Attributes
    ----------
    ids : ndarray of int, shape (series,)
        Whatever names a series to the caller; handed back untouched.
    offsets : ndarray of int, shape (series + 1,)
        From 0 to the number of visits, never falling.
    days : ndarray of float, shape (visits,)
        Dates [d] from any origin, in any order within a series.
    rise_k : ndarray of float, shape (visits,)
        Rise at common load [K]; NaN is no reading.
    u_own_k : ndarray of float, shape (visits,)
        Standard uncertainty of the visit's own part [K]; may be NaN.
    episode : ndarray of int, shape (visits,)
        Grows by one at every repair or other cut. Only the last episode of a series counts,
        so a repair with no reading yet is told by a row with rise NaN.
    load_ratio : ndarray of float, shape (visits,)
        Load over common load by which the rise was scaled; NaN where it was not.
    view : ndarray of int, shape (series,), optional
        What a series is a like part of; -1 for none.
    line_k : ndarray of float, shape (series,), optional
        The line whose crossing is forecast [K]; NaN for none.
    wanted : ndarray of bool, shape (series,), optional
        Series to be told of; the others are only their company: the rounds they share.
    rounds : Rounds, optional
        Which visits were one instrument's on one round; without, nothing is levelled.
    today : float
        Date from which chances are counted, on the scale of ``days``; NaN is the last visit.

    Notes
    -----
    Visits that may not be trended (low load, wind) are left out by the caller.
    """

    ids: Ints
    offsets: Ints
    days: Floats
    rise_k: Floats
    u_own_k: Floats
    episode: Ints
    load_ratio: Floats
    view: Ints | None = None
    line_k: Floats | None = None
    wanted: NDArray[np.bool_] | None = None
    rounds: "Rounds | None" = None
    today: float = np.nan

    def __post_init__(self) -> None:
        if len(self.offsets) != len(self.ids) + 1:
            raise ValueError(
                f"{len(self.ids)} series need {len(self.ids) + 1} offsets, got {len(self.offsets)}"
            )
        if self.offsets[0] != 0 or np.any(np.diff(self.offsets) < 0):
            raise ValueError("offsets begin at 0 and never fall")
        for name in ("days", "rise_k", "u_own_k", "episode", "load_ratio"):
            if getattr(self, name).shape != (self.offsets[-1],):
                raise ValueError(f"{name} has not one value per visit ({self.offsets[-1]})")


@dataclass(frozen=True, slots=True)
class TrendBlock:
    """What the history of each series says; every array has shape (series,).

    Attributes
    ----------
    ids : ndarray of int
        As handed in.
    word_index : ndarray of int
        Index into ``service.trends.words.WORDS``.
    slope_k_per_month, slope_lo, slope_hi : ndarray
        Theil-Sen slope and its 90 % limits [K/month]; NaN below two dates.
    mk_s : ndarray of int
        Mann-Kendall S of the same visits.
    mk_p : ndarray
        One-sided chance of so large a |S| in its own direction; NaN with no visit.
    n_visits : ndarray of int
        Usable visits since repair.
    n_fitted : ndarray of int
        Visits in the fit that is reported (the last ones).
    fitted_from_days : ndarray
        Date of the first of them, on the scale of ``SeriesBlock.days``; NaN with no visit.
    level_now_k : ndarray
        Value of the fitted line at the last visit [K].
    change_k : ndarray
        Change of the fitted line from its first to its last visit [K].
    could_hide_k : ndarray
        Rise that would have shown nine times in ten [K]; "cannot tell" where large.
    z : ndarray
        How sure the last visit makes it that the series has risen; NaN before the fourth.
    risen_k : ndarray
        What it has gained since the onset of the surest shape [K].
    onset_days : ndarray
        Date of the last visit before that change, on the scale of ``SeriesBlock.days``.
    chance_6, chance_12 : ndarray
        Chance that the line is reached within 6 and 12 months; NaN without a forecast.
    earliest_days, latest_days, likeliest_days : ndarray
        Dates of crossing; infinite where open, NaN without a forecast.
    method : str
        Version of the rule.
    fans : mapping of int to Fan
        Where the level may go, by the place of those series that have a forecast.
    """

    ids: Ints
    word_index: NDArray[np.int8]
    slope_k_per_month: Floats
    slope_lo: Floats
    slope_hi: Floats
    mk_s: Ints
    mk_p: Floats
    n_visits: Ints
    n_fitted: Ints
    fitted_from_days: Floats
    level_now_k: Floats
    change_k: Floats
    could_hide_k: Floats
    z: Floats
    risen_k: Floats
    onset_days: Floats
    chance_6: Floats
    chance_12: Floats
    earliest_days: Floats
    latest_days: Floats
    likeliest_days: Floats
    method: str
    fans: Mapping[int, Fan] = field(default_factory=dict)

    @property
    def words(self) -> tuple[str, ...]:
        """The trend words as plain strings, one per series."""
        return tuple(WORDS[i] for i in self.word_index.tolist())


@dataclass(frozen=True, slots=True)
class Visits:
    """The usable visits since repair, in order of date; series k has counts[k] from starts[k].

    ``at`` says which visit of the block each is, ``dates`` how many different days a series has;
    ``series`` and ``episode`` say of which series of the block a row is, and since which cut.
    """

    days: Floats
    rise_k: Floats
    at: Ints
    starts: Ints
    counts: Ints
    dates: Ints
    series: Ints
    episode: Ints

    def last(self, most: Ints | int) -> "Visits":
        """At most so many visits of each series, the latest ones."""
        counts = np.minimum(self.counts, most)
        starts = self.starts + self.counts - counts
        return replace(self, starts=starts, counts=counts)

    def first_days(self) -> Floats:
        """Date of the first visit of each series; NaN where it has none."""
        found = np.full(len(self.counts), np.nan)
        some = self.counts > 0
        found[some] = self.days[self.starts[some]]
        return found

    def last_days(self) -> Floats:
        """Date of the last visit of each series; NaN where it has none."""
        found = np.full(len(self.counts), np.nan)
        some = self.counts > 0
        found[some] = self.days[self.starts[some] + self.counts[some] - 1]
        return found


def owners(block: SeriesBlock) -> Ints:
    """The series of each visit, by its place in the block."""
    return np.repeat(np.arange(len(block.ids)), np.diff(block.offsets))


def since_repair(block: SeriesBlock, rise_k: Floats) -> Visits:
    """Leave out unusable visits and earlier episodes, and put the rest in order of date.

    ``rise_k`` are the block's rises, levelled or not; series that are not wanted come out empty.
    Several readings of one day are one visit, told by the middle one (the lower of two): they
    share what went wrong that day, and may neither confirm each other nor crowd the others out.
    """
    newest, owner = _newest_episode(block), owners(block)
    kept = block.episode == newest[owner]
    if block.wanted is not None:
        kept &= block.wanted[owner]
    return _ordered(block, rise_k, kept, owner, np.arange(len(block.ids)), newest)


def every_episode(block: SeriesBlock, rise_k: Floats) -> Visits:
    """As ``since_repair``, with a row for each episode of each wanted series."""
    owner = owners(block)
    kept = np.ones(len(owner), dtype=bool) if block.wanted is None else block.wanted[owner]
    most = int(block.episode.max(initial=0)) + 1
    keys, row = np.unique(owner * most + block.episode, return_inverse=True)
    return _ordered(block, rise_k, kept, row, keys // most, keys % most)


def _ordered(
    block: SeriesBlock,
    rise_k: Floats,
    kept: NDArray[np.bool_],
    row: Ints,
    series: Ints,
    episode: Ints,
) -> Visits:
    """The kept visits with a rise and a date, by row and date, one a day."""
    at = np.flatnonzero(kept & np.isfinite(block.days) & np.isfinite(rise_k))
    at = _in_order(at, row, block.days)
    at = _one_a_day(at, row, np.floor(block.days), rise_k)
    row, days = row[at], block.days[at]
    same = row[1:] == row[:-1]
    counts = np.bincount(row, minlength=len(series))
    on_one_date = np.flatnonzero(same & (days[1:] == days[:-1]))
    dates = counts - np.bincount(row[on_one_date], minlength=len(series))
    return Visits(days, rise_k[at], at, np.cumsum(counts) - counts, counts, dates, series, episode)


def _in_order(at: Ints, owner: Ints, days: Floats) -> Ints:
    """By series and date; most callers have them so, and a sort of millions takes its time."""
    owner, days = owner[at], days[at]
    if np.all((owner[1:] > owner[:-1]) | (days[1:] >= days[:-1])):
        return at
    ordered: Ints = at[np.lexsort((days, owner))]
    return ordered


def _one_a_day(at: Ints, owner: Ints, day: Floats, rise_k: Floats) -> Ints:
    """Of the readings of each series on each day the one in the middle; they come by date."""
    begins = np.ones(len(at), dtype=bool)
    begins[1:] = (owner[at][1:] != owner[at][:-1]) | (day[at][1:] != day[at][:-1])
    if begins.all():
        return at
    first = np.flatnonzero(begins)
    count = np.diff(np.append(first, len(at)))
    ranked = at[np.lexsort((rise_k[at], np.cumsum(begins)))]
    middle: Ints = ranked[first + (count - 1) // 2]
    return middle


def _newest_episode(block: SeriesBlock) -> Ints:
    """The last episode of each series."""
    newest = np.zeros(len(block.ids), dtype=np.int64)
    filled = np.flatnonzero(np.diff(block.offsets) > 0)
    if filled.size:
        newest[filled] = np.maximum.reduceat(block.episode, block.offsets[filled])
    return newest
