"""Mann-Kendall for many series of one length at once."""

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Longest series whose p is exact (no ties).
LONGEST_EXACT = 12


@cache
def exact_upper_tail(n: int) -> Floats:
    """P(S >= s) of Mann-Kendall for n values without ties, exact.

    Parameters
    ----------
    n : int
        Number of values, 1 to 12.

    Returns
    -------
    ndarray, shape (n(n-1)/2 + 1,)
        Entry k is P(S >= 2k - n(n-1)/2), S running over its attainable values.

    Raises
    ------
    ValueError
        Outside 1 to 12 values.

    Notes
    -----
    The number of orderings with a given number of inversions has the generating function
    prod_{k=2..n} (1 + x + ... + x^(k-1)); S = n(n-1)/2 - 2 * inversions. All counts stay below
    12! < 2^53, so float64 holds them exactly.

    References
    ----------
    Kendall (1975), Rank Correlation Methods; Gilbert (1987), table A18.

    Examples
    --------
    >>> [round(float(p), 4) for p in exact_upper_tail(4)[3:]]
    [0.625, 0.375, 0.1667, 0.0417]
    """
    if not 1 <= n <= LONGEST_EXACT:
        raise ValueError(f"exact Mann-Kendall needs 1 to {LONGEST_EXACT} values, got {n}")
    counts = np.ones(1)
    for k in range(2, n + 1):
        counts = np.convolve(counts, np.ones(k))
    tail: Floats = np.cumsum(counts[::-1])[::-1] / counts.sum()
    tail.setflags(write=False)
    return tail


def mean_ranks(values: Floats) -> Floats:
    """Ranks of the values of each row, from 1; equal ones share the mean of theirs.

    Parameters
    ----------
    values : ndarray, shape (series, n)
        Finite.

    Returns
    -------
    ndarray, shape (series, n)

    Notes
    -----
    What ``scipy.stats.rankdata(values, axis=1)`` gives; that module takes a quarter of the time in
    which the service starts.

    Examples
    --------
    >>> mean_ranks(np.array([[3.0, 1.0, 3.0, 2.0]])).tolist()
    [[3.5, 1.0, 3.5, 2.0]]
    """
    order = np.argsort(values, axis=1, kind="stable")
    ordered = np.take_along_axis(values, order, axis=1)
    edge = np.ones((len(values), 1), dtype=bool)
    differs = ordered[:, 1:] != ordered[:, :-1]
    place = np.arange(1, values.shape[1] + 1)
    first = np.maximum.accumulate(np.where(np.hstack((edge, differs)), place, 0), axis=1)
    ends = np.where(np.hstack((differs, edge)), place, len(place) + 1)
    last = np.minimum.accumulate(ends[:, ::-1], axis=1)[:, ::-1]
    ranks = np.empty(values.shape)
    np.put_along_axis(ranks, order, (first + last) / 2, axis=1)
    return ranks


def variance(days: Floats, rise_k: Floats) -> Floats:
    """Variance of S under no trend, with tied values and tied dates.

    Parameters
    ----------
    days, rise_k : ndarray, shape (series, n)
        Dates [d] and rises [K], **each row sorted by itself**: only their ties matter.

    Returns
    -------
    ndarray, shape (series,)

    Notes
    -----
    Kendall (1975) for ties in both rankings; without tied dates it is the usual
    [n(n-1)(2n+5) - sum t(t-1)(2t+5)] / 18.
    """
    return _variance(days, rise_k, rows=np.flatnonzero(_tied(days) | _tied(rise_k)))


def one_sided_p(s: Ints, *, days: Floats, rise_k: Floats) -> tuple[Floats, Floats]:
    """Chance of so large a |S| in its own direction if nothing changes, and Var S.

    Parameters
    ----------
    s : ndarray of int, shape (series,)
        Mann-Kendall S.
    days, rise_k : ndarray, shape (series, n)
        What S was counted on, each row sorted by itself.

    Returns
    -------
    p, var : ndarray, shape (series,)
        p is P(S' >= |S|): exact for n <= 12 without ties, else normal with the continuity
        correction (0.5 at S = 0); p is 1 where Var S is 0 (all values alike).
    """
    n = rise_k.shape[1]
    size = np.abs(s)
    tied = _tied(days) | _tied(rise_k)
    var = _variance(days, rise_k, rows=np.flatnonzero(tied))
    spread = np.sqrt(np.where(var > 0, var, 1.0))
    p: Floats = np.where(var > 0, ndtr(-np.maximum(size - 1, 0) / spread), 1.0)
    if n <= LONGEST_EXACT:
        steps = (size + n * (n - 1) // 2) // 2
        p = np.where(tied, p, exact_upper_tail(n)[steps])
    return p, var


def _variance(days: Floats, rise_k: Floats, *, rows: NDArray[np.intp]) -> Floats:
    """Var S of every series, the tied ones named in ``rows``."""
    n = rise_k.shape[1]
    result = np.full(len(rise_k), n * (n - 1) * (2 * n + 5) / 18.0)
    if rows.size == 0:
        return result
    y_whole, y_pairs, y_triples = _tie_sums(rise_k[rows])
    t_whole, t_pairs, t_triples = _tie_sums(days[rows])
    both = t_pairs * y_pairs / (2.0 * n * (n - 1))
    if n > 2:
        both += t_triples * y_triples / (9.0 * n * (n - 1) * (n - 2))
    result[rows] = (n * (n - 1) * (2 * n + 5) - y_whole - t_whole) / 18.0 + both
    return result


def _tied(ordered: Floats) -> NDArray[np.bool_]:
    found: NDArray[np.bool_] = (ordered[:, 1:] == ordered[:, :-1]).any(axis=1)
    return found


def _tie_sums(ordered: Floats) -> tuple[Floats, Floats, Floats]:
    """Sums over groups of t equal values: t(t-1)(2t+5), t(t-1) and t(t-1)(t-2).

    Each member of a group carries its share, so that the sum runs over members.
    """
    begins = np.ones(ordered.shape, dtype=bool)
    begins[:, 1:] = ordered[:, 1:] != ordered[:, :-1]
    group = np.cumsum(begins.ravel()) - 1
    size = np.bincount(group)[group].reshape(ordered.shape).astype(np.float64)
    less = size - 1
    return (
        (less * (2 * size + 5)).sum(axis=1),
        less.sum(axis=1),
        (less * (size - 2)).sum(axis=1),
    )
