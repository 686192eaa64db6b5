"""What goes into the engine and comes out: series end to end in flat arrays."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.trends.words import WORDS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


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
        Load over common load; may be NaN.

    Notes
    -----
    Visits that may not be trended (low load, wind) are left out by the caller. ``u_own_k`` and
    ``load_ratio`` travel along for an engine that weighs visits; theil-sen-mk/1 weighs all alike.
    """

    ids: Ints
    offsets: Ints
    days: Floats
    rise_k: Floats
    u_own_k: Floats
    episode: Ints
    load_ratio: Floats

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
        Rise over the fit that would have shown nine times in ten [K]; "cannot tell" where large.
    method : str
        Version of the rule.
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
    method: str

    @property
    def words(self) -> tuple[str, ...]:
        """The trend words as plain strings, one per series."""
        return tuple(WORDS[i] for i in self.word_index.tolist())


@dataclass(frozen=True, slots=True)
class Visits:
    """The usable visits since repair, in order of date; series k has counts[k] from starts[k]."""

    days: Floats
    rise_k: Floats
    starts: Ints
    counts: Ints
    dates: Ints

    def last(self, most: int) -> "Visits":
        """At most so many visits of each series, the latest ones."""
        counts = np.minimum(self.counts, most)
        starts = self.starts + self.counts - counts
        return Visits(self.days, self.rise_k, starts, counts, self.dates)

    def first_days(self) -> Floats:
        """Date of the first visit of each series; NaN where it has none."""
        found = np.full(len(self.counts), np.nan)
        some = self.counts > 0
        found[some] = self.days[self.starts[some]]
        return found


def since_repair(block: SeriesBlock) -> Visits:
    """Leave out unusable visits and earlier episodes, and put the rest in order of date."""
    series = len(block.ids)
    owner = np.repeat(np.arange(series), np.diff(block.offsets))
    days, rise_k = block.days, block.rise_k
    kept = np.isfinite(days) & np.isfinite(rise_k) & (block.episode == _newest_episode(block, owner))
    if not kept.all():
        owner, days, rise_k = owner[kept], days[kept], rise_k[kept]
    same = owner[1:] == owner[:-1]
    if np.any(same & (days[1:] < days[:-1])):
        order = np.lexsort((days, owner))
        days, rise_k = days[order], rise_k[order]
    counts = np.bincount(owner, minlength=series)
    on_one_date = np.flatnonzero(same & (days[1:] == days[:-1]))
    dates = counts - np.bincount(owner[on_one_date], minlength=series)
    return Visits(days, rise_k, np.cumsum(counts) - counts, counts, dates)


def _newest_episode(block: SeriesBlock, owner: Ints) -> Ints:
    """The last episode of the series that each visit belongs to."""
    newest = np.zeros(len(block.ids), dtype=np.int64)
    filled = np.flatnonzero(np.diff(block.offsets) > 0)
    if filled.size:
        newest[filled] = np.maximum.reduceat(block.episode, block.offsets[filled])
    return newest[owner]
