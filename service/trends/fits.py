"""Theil-Sen and Mann-Kendall from one table of pairs, for many series of one length."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from service.trends.ranks import one_sided_p

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Pair slopes held at once: 1 MB of float64, so that a chunk stays in the cache.
PAIRS_AT_ONCE = 131_072
#: Share of intervals that hold the true slope.
CONFIDENCE = 0.90


@dataclass(frozen=True, slots=True)
class Fits:
    """Slope, interval, level and rank test per series; all shape (series,).

    Attributes
    ----------
    slope, slope_lo, slope_hi : ndarray
        Theil-Sen slope and its limits by ranks, 90 % unless asked otherwise [K/day]; NaN with no
        two dates.
    level_now_k : ndarray
        Value of the line at the last visit [K].
    span_days : ndarray
        From the first to the last visit [d].
    s : ndarray of int
        Mann-Kendall S; a pair on one date is no comparison.
    p : ndarray
        One-sided chance of so large a |S| in its own direction.
    """

    slope: Floats
    slope_lo: Floats
    slope_hi: Floats
    level_now_k: Floats
    span_days: Floats
    s: Ints
    p: Floats

    @classmethod
    def blank(cls, count: int) -> "Fits":
        """Nothing fitted yet: every figure NaN, S zero."""
        slope, lower, upper, level_now_k, span_days, p = np.full((6, count), np.nan)
        return cls(slope, lower, upper, level_now_k, span_days, np.zeros(count, dtype=np.int64), p)

    def rows(self, rows: Ints) -> "Fits":
        """The results of some series."""
        return Fits(*(getattr(self, name)[rows] for name in self.__slots__))

    def put(self, rows: Ints | slice, part: "Fits") -> None:
        """Write the results of some series into their rows."""
        for name in self.__slots__:
            getattr(self, name)[rows] = getattr(part, name)


def fit(days: Floats, rise_k: Floats, *, confidence: float = CONFIDENCE) -> Fits:
    """Fit every row; rows are cut into chunks that stay in the cache.

    Parameters
    ----------
    days : ndarray, shape (series, n)
        Dates [d], each row in order; any origin.
    rise_k : ndarray, shape (series, n)
        Rises [K]; finite.
    confidence : float
        Share of intervals of the slope that hold the true one, between 0 and 1.

    Returns
    -------
    Fits

    Notes
    -----
    slope = median of (y_j - y_i) / (t_j - t_i) over pairs with t_j > t_i; intercept
    median(y) - slope * median(t). Limits: the order statistics (N -+ z sqrt(Var S)) / 2 of the
    N slopes, z = 1.645 for 90 %. Valid for independent visits; neighbouring visits that share an
    error make the interval too narrow.

    References
    ----------
    Theil (1950); Sen (1968), section 3; Mann (1945); Gilbert (1987), chapter 16.

    Examples
    --------
    >>> import numpy as np
    >>> found = fit(np.arange(1.0, 8)[None], np.array([[1.0, 2, 3, 4, 5, 16, 7]]))
    >>> float(found.slope[0]), int(found.s[0])
    (1.0, 19)
    """
    series, n = rise_k.shape
    result = Fits.blank(series)
    if n == 0:
        return result
    deviate = float(ndtri(0.5 + confidence / 2))
    chunk = max(1, PAIRS_AT_ONCE // max(1, n * (n - 1) // 2))
    for first in range(0, series, chunk):
        rows = slice(first, first + chunk)
        result.put(rows, _fit_chunk(days[rows], rise_k[rows], deviate))
    return result


def _fit_chunk(days: Floats, rise_k: Floats, deviate: float) -> Fits:
    slopes, pairs, s = _ordered_slopes(days, rise_k)
    ordered_rise = np.sort(rise_k, axis=1)
    p, var = one_sided_p(s, days=days, rise_k=ordered_rise)
    half = deviate * np.sqrt(np.maximum(var, 0.0))
    # Rounding and cut-off as in the usual reading of Sen's rank limits.
    upper = np.minimum(np.rint((pairs + half) / 2), pairs - 1)
    lower = np.maximum(np.rint((pairs - half) / 2) - 1, 0)
    slope = (_take(slopes, (pairs - 1) // 2) + _take(slopes, pairs // 2)) / 2
    last = days[:, -1]
    return Fits(
        slope=slope,
        slope_lo=_take(slopes, lower),
        slope_hi=_take(slopes, upper),
        level_now_k=_middle(ordered_rise) + slope * (last - _middle(days)),
        span_days=last - days[:, 0],
        s=s,
        p=p,
    )


def _middle(ordered: Floats) -> Floats:
    """Median of rows that are in order."""
    n = ordered.shape[1]
    middle: Floats = (ordered[:, (n - 1) // 2] + ordered[:, n // 2]) / 2
    return middle


def _ordered_slopes(days: Floats, rise_k: Floats) -> tuple[Floats, Ints, Ints]:
    """Pair slopes of every row in rising order, their number, and S.

    A pair on one date has no slope and is no comparison: it stands last as NaN.
    """
    # Visits go down, series across: each step is one long run in memory.
    t, y = np.ascontiguousarray(days.T), np.ascontiguousarray(rise_k.T)
    n, series = y.shape
    slopes = np.empty((n * (n - 1) // 2, series))
    gaps = np.empty_like(slopes)
    at = 0
    for i in range(n - 1):
        to = at + n - 1 - i
        np.subtract(y[i + 1 :], y[i], out=slopes[at:to])
        np.subtract(t[i + 1 :], t[i], out=gaps[at:to])
        at = to
    pairs = np.full(series, len(slopes), dtype=np.int64)
    if np.any(t[1:] == t[:-1]):
        one_date = gaps == 0
        slopes[one_date] = np.nan
        pairs -= one_date.sum(axis=0)
    s = _count(slopes > 0) - _count(slopes < 0)
    with np.errstate(invalid="ignore"):
        slopes /= gaps
    ordered = np.ascontiguousarray(slopes.T)
    ordered.sort(axis=1)
    return ordered, pairs, s


def _count(true: NDArray[np.bool_]) -> Ints:
    """How many of each column are true; narrow sums are quicker, and pairs stay below 2^31."""
    return np.asarray(np.sum(true, axis=0, dtype=np.int32), dtype=np.int64)


def _take(ordered: Floats, rank: NDArray[np.generic]) -> Floats:
    """The given order statistic of each row; NaN where a row has no pair."""
    if ordered.shape[1] == 0:
        return np.full(len(ordered), np.nan)
    at = np.maximum(np.asarray(rank), 0).astype(np.intp)
    taken: Floats = np.take_along_axis(ordered, at[:, None], axis=1)[:, 0]
    return taken
