"""From first sign to failure: which share of faults a rhythm of readings finds, and what waiting costs."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gamma, gammainc

Floats = NDArray[np.float64]

#: Chance that one reading sees a fault that is there, by how the part is reached.
#: Assumed, no source: a closed door hides most of what an open one shows.
FOUND_SHARE_BY_ACCESS: Mapping[str, float] = MappingProxyType(
    {"open": 0.9, "window": 0.8, "in the open air": 0.8, "closed door": 0.5}
)
#: Spread of the time from first sign to failure (Weibull shape). Assumed, no source.
DELAY_SHAPE = 2.0
#: Shares of that time at which a fault can first be seen, and from which it is plain. Assumed, no source.
FIRST_SEEN, PLAIN_FROM = 0.15, 0.5
MONTHS_PER_YEAR = 12.0
_DELAYS, _OFFSETS = 16, 8
#: Distinct equipment worked through at once: bounds memory.
_BLOCK = 512


@dataclass(frozen=True, slots=True)
class Ramp:
    """How a fault comes into sight.

    ``first_seen`` and ``plain_from`` are shares of its time to failure: between them a reading may
    show no more than a first sign. ``followed``: share of such signs that lead to the fault in
    time, because they are read again.
    """

    first_seen: float = FIRST_SEEN
    plain_from: float = PLAIN_FROM
    followed: float = 0.0

    def found(self, share: Floats) -> Floats:
        """Chance that a fault which is seen is found, now or by reading its first sign again."""
        sign = (share >= self.first_seen) * self.followed
        clear = self.clearness(share)
        return np.asarray(clear + (1 - clear) * sign)

    def clearness(self, share: Floats) -> Floats:
        """Chance that a fault which is seen is also plain, at a share of its time to failure [0, 1]."""
        width = self.plain_from - self.first_seen
        if width <= 0:
            return np.asarray(share >= self.plain_from, dtype=np.float64)
        return np.clip((share - self.first_seen) / width, 0.0, 1.0)


AT_ONCE = Ramp(0.0, 0.0)
GRADUAL = Ramp()
#: First signs are read again: so many in a hundred lead to the fault in time. Assumed, no source.
FOLLOWED = Ramp(followed=0.6)


@dataclass(frozen=True, slots=True)
class RiskThatStays:
    """What may happen before the next visit, each of shape (n,), chances in [0, 1].

    Attributes
    ----------
    failing : ndarray
        Chance that a fault that nobody has seen fails before it.
    crossing : ndarray
        Chance that the trend reaches its Act-now line before it; NaN where no chance is known.
    """

    failing: Floats
    crossing: Floats

    @property
    def chance(self) -> Floats:
        """The larger of the two: the one that is told."""
        return np.fmax(self.failing, self.crossing)


def weibull_delays(pf_months: ArrayLike, count: int, *, shape: float = DELAY_SHAPE) -> Floats:
    """Equally likely times from first sign to failure.

    Parameters
    ----------
    pf_months : array_like, shape (n,)
        Mean time from first sign to failure [months].
    count : int
        How many each.
    shape : float
        Weibull shape; 1 is the exponential law.

    Returns
    -------
    ndarray, shape (n, count)
        Medians of equal shares of the law [months].
    """
    middle = (np.arange(count) + 0.5) / count
    unit = (-np.log1p(-middle)) ** (1 / shape) / gamma(1 + 1 / shape)
    return np.asarray(np.atleast_1d(np.asarray(pf_months, float))[:, None] * unit)


def missed_share(
    delay_months: ArrayLike,
    interval_months: float,
    *,
    found_share: ArrayLike = 1.0,
    lead_months: ArrayLike = 0.0,
    ramp: Ramp = AT_ONCE,
    offsets: int = _OFFSETS,
) -> Floats:
    """Share of faults that fail unseen, or seen too late, under readings at a steady interval.

    Parameters
    ----------
    delay_months : array_like, shape (n, k)
        Equally likely times from first sign to failure [months].
    interval_months : float
        Between two readings [months].
    found_share : array_like, shape (n,)
        Chance that one reading sees a fault that is plain [0, 1].
    lead_months : array_like, shape (n,)
        From finding to mended [months].
    ramp : Ramp
        How the fault comes into sight.
    offsets : int
        Steps between two readings at which a fault may begin.

    Returns
    -------
    ndarray, shape (n,)

    Notes
    -----
    Mean over onset and delay h of the product of 1 − θ·r(a/h) over the readings at ages
    a ≤ h − lead. With θ = 1, no lead and everything plain at once it is E[max(0, 1 − h/T)].

    References
    ----------
    Christer & Waller 1984, delay-time model (from memory).

    Examples
    --------
    >>> float(missed_share([[4.0]], 12.0, offsets=300).round(3)[0])
    0.667
    """
    delays = np.asarray(delay_months, float)
    found = np.broadcast_to(np.asarray(found_share, float), delays.shape[:1])[:, None, None]
    lead = np.broadcast_to(np.asarray(lead_months, float), delays.shape[:1])[:, None, None]
    begin = (np.arange(offsets) + 0.5) / offsets * interval_months
    missed = np.ones((*delays.shape, offsets))
    for k in range(math.floor(float(delays.max()) / interval_months) + 1):
        age = begin + k * interval_months
        seen = found * ramp.found(age / delays[:, :, None])
        missed *= np.where(age <= delays[:, :, None] - lead, 1 - seen, 1.0)
    return np.asarray(missed.mean(axis=(1, 2)))


def caught_shares(
    pf_months: Floats, found_share: Floats, *, lead_months: Floats, intervals_months: Floats
) -> Floats:
    """Share of faults found and mended before they fail, at each of several intervals.

    Parameters
    ----------
    pf_months, found_share, lead_months : ndarray, shape (n,)
        Mean time from first sign to failure [months], chance that one reading sees a plain
        fault [0, 1], and from finding to mended [months].
    intervals_months : ndarray, shape (k,)
        Intervals [months].

    Returns
    -------
    ndarray, shape (n, k)

    Notes
    -----
    Equal equipment is worked out once; times to failure are told apart to two parts in a hundred.
    """
    finely = np.exp(np.round(np.log(pf_months) / 0.02) * 0.02)
    alike, at = np.unique(
        np.column_stack([finely, found_share.round(2), lead_months.round(2)]), axis=0, return_inverse=True
    )
    shares = np.empty((len(alike), len(intervals_months)))
    for start in range(0, len(alike), _BLOCK):
        pf, found, lead = alike[start : start + _BLOCK].T
        delays = weibull_delays(pf, _DELAYS)
        for k, months in enumerate(intervals_months):
            shares[start : start + _BLOCK, k] = 1 - missed_share(
                delays, float(months), found_share=found, lead_months=lead, ramp=FOLLOWED
            )
    return shares[at.ravel()]


def averted_by_going_now(
    rate_per_year: ArrayLike,
    pf_months: ArrayLike,
    *,
    found_share: ArrayLike,
    months_since: ArrayLike,
    weight: ArrayLike = 1.0,
    wait_months: float = 1.0,
) -> Floats:
    """Faults that a reading now keeps from failing in the month that it would else be put off.

    Parameters
    ----------
    rate_per_year : array_like, shape (n,)
        Faults that begin in a year.
    pf_months : array_like, shape (n,)
        Mean time from first sign to failure [months].
    found_share : array_like, shape (n,)
        Chance that one reading sees a fault [0, 1].
    months_since : array_like, shape (n,)
        Since the last visit that could have cleared [months].
    weight : array_like, shape (n,)
        What a failure is worth.
    wait_months : float
        By how much it would be put off [months].

    Returns
    -------
    ndarray, shape (n,)
        θ·c·λ·∫₀^τ (F(u + wait) − F(u)) du.

    References
    ----------
    Christer & Waller 1984, delay-time model (from memory).
    """
    since = np.asarray(months_since, float)
    mean = np.asarray(pf_months, float)
    later = _failed(since + wait_months, mean) - _failed(np.asarray(wait_months, float), mean)
    per_month = np.asarray(rate_per_year, float) / MONTHS_PER_YEAR
    worth = np.asarray(found_share, float) * np.asarray(weight, float) * per_month
    return np.asarray(worth * (later - _failed(since, mean)))


def risk_that_stays(
    rate_per_year: ArrayLike,
    pf_months: ArrayLike,
    *,
    found_share: ArrayLike,
    months_since: ArrayLike,
    months_until: ArrayLike,
    chance_12_months: ArrayLike = np.nan,
) -> RiskThatStays:
    """What may go wrong at a point before it is seen again.

    Parameters
    ----------
    rate_per_year, pf_months, found_share, months_since : array_like, shape (n,)
        As in `averted_by_going_now`.
    months_until : array_like, shape (n,)
        Until the next visit [months].
    chance_12_months : array_like, shape (n,)
        Chance of reaching the Act-now line within 12 months [0, 1]; NaN where no trend is known.

    Returns
    -------
    RiskThatStays

    Notes
    -----
    Failures of faults begun since the last visit, λ(G(τ+Δ) − G(τ)) with G(x) = ∫₀ˣF, and of those
    that the last visit passed over, begun in an equal span before it. The trend's chance is spread
    evenly over its 12 months: 1 − (1 − P12)^(Δ/12), told for Δ up to 12 months and no further.
    """
    since, until = np.asarray(months_since, float), np.asarray(months_until, float)
    mean = np.asarray(pf_months, float)
    end = since + until
    begun_since = _failed(end, mean) - _failed(since, mean)
    begun_before = _failed(end + since, mean) - _failed(2 * since, mean) - begun_since
    unseen = begun_since + (1 - np.asarray(found_share, float)) * np.maximum(begun_before, 0)
    expected = np.asarray(rate_per_year, float) / MONTHS_PER_YEAR * unseen
    span = np.minimum(until / MONTHS_PER_YEAR, 1.0)
    crossing = 1 - (1 - np.asarray(chance_12_months, float)) ** span
    failing = -np.expm1(-expected)
    return RiskThatStays(failing, np.broadcast_to(crossing, failing.shape))


def _failed(months: Floats, mean_months: Floats) -> Floats:
    """∫₀ˣ F(u) du of the Weibull law with this mean: faults failed, of one begun every month."""
    scale = mean_months / gamma(1 + 1 / DELAY_SHAPE)
    inside = gammainc(1 / DELAY_SHAPE, (months / scale) ** DELAY_SHAPE)
    return np.asarray(months - mean_months * inside)
