"""Who goes first, and what a trend does to a date: plain rules that fit on one line each."""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Ints = NDArray[np.int64]

#: Lateness counts no further than this: after a long outage everything would be first. Ours.
MOST_LATE = 2.0
OVERDUE_FACTOR = 1.5
#: A trend that asks for a look goes before all that is merely due. Ours.
TREND_FACTOR, TREND_EXTRA = 4, 200


def pulled_forward(
    interval_months: float, earliest_months: float, *, lead_months: float, least_months: float = 1.0
) -> float:
    """The interval after a trend's early date has been heard.

    Parameters
    ----------
    interval_months : float
        In force [months].
    earliest_months : float
        To the early end of the range of its crossing [months].
    lead_months : float
        From finding to mended [months].
    least_months : float
        Shortest interval there is [months].

    Returns
    -------
    float
        min(I, max(least, (early − lead)/2)): never longer than before [months]. 0 where the early
        date lies within the lead: not a matter for a survey, a work request is wanted now.

    Raises
    ------
    ValueError
        For an interval that is not above 0.

    Notes
    -----
    Our rule; it takes the early end of a range, never a straight line drawn to the limit.

    Examples
    --------
    >>> pulled_forward(6.0, 4.0, lead_months=1.0)
    1.5
    """
    if not interval_months > 0:
        raise ValueError(f"interval_months is above 0, got {interval_months}")
    if earliest_months <= lead_months:
        return 0.0
    if math.isinf(earliest_months):
        return interval_months
    return min(interval_months, max(least_months, (earliest_months - lead_months) / 2))


def priority_scores(
    criticality: ArrayLike, months_since: ArrayLike, *, interval_months: ArrayLike, trending: ArrayLike
) -> Ints:
    """Whole numbers by which due equipment is put in order.

    Parameters
    ----------
    criticality : array_like, shape (n,)
        Weight of a failure.
    months_since : array_like, shape (n,)
        Since the last visit that could have cleared [months].
    interval_months : array_like, shape (n,)
        Interval in force [months].
    trending : array_like of bool, shape (n,)
        Whether its trend asks for a look.

    Returns
    -------
    ndarray of int, shape (n,)
        round(100·√c·min(τ/I, 2)²), half as much again past the interval; ×4 + 200 with a trend.

    Notes
    -----
    Our rule. Where rates are known, `delay_time.averted_by_going_now` says it better.

    Examples
    --------
    >>> priority_scores([4.0], [6.0], interval_months=[6.0], trending=[False]).tolist()
    [200]
    """
    late = np.asarray(months_since, float) / np.asarray(interval_months, float)
    score = 100 * np.sqrt(np.asarray(criticality, float)) * np.minimum(late, MOST_LATE) ** 2
    score = np.rint(np.where(late > 1, OVERDUE_FACTOR * score, score)).astype(np.int64)
    return np.asarray(np.where(np.asarray(trending, bool), TREND_FACTOR * score + TREND_EXTRA, score))
