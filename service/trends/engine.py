"""The engine's one door: many histories in, what each says out."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from service.trends.fits import DEVIATE_90, Fits, fit
from service.trends.policy import DAYS_PER_MONTH, OVER_AIR, Policy
from service.trends.series import SeriesBlock, TrendBlock, Visits, since_repair
from service.trends.words import CANNOT_TELL, EASING, RISING, STEADY, TOO_FEW_VISITS, WORDS

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

#: Normal deviate of nine chances in ten, one-sided.
NINE_IN_TEN = float(ndtri(0.9))


def assess(block: SeriesBlock, policy: Policy = OVER_AIR) -> TrendBlock:
    """Say of every series whether it rises, eases, is steady or cannot be told.

    Parameters
    ----------
    block : SeriesBlock
        Series of one kind of reference (kinds never mix); only the last episode of each counts.
    policy : Policy
        Thresholds, ``policy_for(reference)``; without it the strict ones of over air.

    Returns
    -------
    TrendBlock
        One entry per series, in the order of ``block.ids``.

    Notes
    -----
    Rule theil-sen-mk/1. Two fits, each Theil-Sen with rank limits and Mann-Kendall: the last 12
    visits since repair, and (where there are more) all of them, 120 at most. A fit rises when
    its one-sided p is at or below the line and its change from first to last visit reaches the
    least rise (over like parts .028 and 2.25 K, else .003 and 3 K); it eases at p .002 and -3 K.
    *Rising* when the recent fit rises, or the whole one does and the recent 90 % interval of the
    slope still allows that slope (a step long ago is no rise now); *easing* likewise, after
    rising. Below 4 different days *too few visits*; Mann-Kendall speaks from 5. Otherwise
    *steady* from 6 days on when a rise of 6 K (like parts) or 10 K over the fit would have shown
    nine times in ten, else *cannot tell*. The figures told belong to the fit that gave the word,
    else to the recent one. A pair of visits on one date is no comparison; NaN is no visit.

    Measured on simulated monthly to yearly series of 5 to 60 visits (scatter 0.5 K a phase, load
    30-100 %, mean 65 %, 8 % missed; thresholds chosen on other seeds), share of healthy series
    standing at *rising* at any one time: over the median of three like parts 0.43 % with visits
    below 40 % load left out, 0.60 % with them; over air (camera offset 1 K a round) 0.26 %. With
    scatter 1.5 K over like parts 2.1 %. A part rising 0.9 K a month over like parts after a flat
    year is called at the 6th monthly visit (median, missed ones counted; quartiles 5 and 8), 8th
    when its history begins with the rise; over air the 10th. Needs a field recheck.

    References
    ----------
    Theil (1950); Sen (1968); Mann (1945); Kendall (1975); Gilbert (1987), chapter 16.

    Examples
    --------
    >>> import numpy as np
    >>> unknown = np.full(7, np.nan)
    >>> block = SeriesBlock(
    ...     ids=np.array([12]), offsets=np.array([0, 7]), days=np.arange(7) * 30.4375,
    ...     rise_k=np.array([1.0, 2, 3, 4, 5, 16, 7]), u_own_k=unknown,
    ...     episode=np.zeros(7, dtype=np.int64), load_ratio=unknown)
    >>> found = assess(block)
    >>> found.words, round(float(found.slope_k_per_month[0]), 6), int(found.mk_s[0])
    (('rising',), 1.0, 19)
    """
    visits = since_repair(block)
    recent, whole = _windows(visits, policy)
    rising, easing, by_whole = _called(recent, whole, policy)
    told = recent.fits
    told.put(np.flatnonzero(by_whole), whole.fits.rows(np.flatnonzero(by_whole)))
    could_hide_k = _could_hide(told, policy)
    return TrendBlock(
        ids=block.ids,
        word_index=_words(visits.dates, rising, easing=easing, could_hide_k=could_hide_k, policy=policy),
        slope_k_per_month=told.slope * DAYS_PER_MONTH,
        slope_lo=told.slope_lo * DAYS_PER_MONTH,
        slope_hi=told.slope_hi * DAYS_PER_MONTH,
        mk_s=told.s,
        mk_p=told.p,
        n_visits=visits.counts,
        n_fitted=np.where(by_whole, whole.visits.counts, recent.visits.counts),
        fitted_from_days=np.where(by_whole, whole.visits.first_days(), recent.visits.first_days()),
        level_now_k=told.level_now_k,
        change_k=told.slope * told.span_days,
        could_hide_k=could_hide_k,
        method=policy.method,
    )


@dataclass(frozen=True, slots=True)
class _Window:
    """Some visits of every series with the fit over them; blank where there was nothing to fit."""

    visits: Visits
    fits: Fits

    def rises(self, policy: Policy) -> Bools:
        high = self._enough(policy) & (self.fits.s > 0) & (self.fits.p <= policy.rising_p)
        return high & (self._change_k >= policy.least_rise_k)

    def falls(self, policy: Policy) -> Bools:
        low = self._enough(policy) & (self.fits.s < 0) & (self.fits.p <= policy.easing_p)
        return low & (self._change_k <= -policy.least_fall_k)

    def _enough(self, policy: Policy) -> Bools:
        return self.visits.dates >= policy.least_rank_visits

    @property
    def _change_k(self) -> Floats:
        return self.fits.slope * self.fits.span_days


def _windows(visits: Visits, policy: Policy) -> tuple[_Window, _Window]:
    """The recent visits, and all of them where there are more."""
    recent, whole = visits.last(policy.recent_visits), visits.last(policy.longest_visits)
    return (
        _Window(recent, _fit_all(recent, only=visits.counts > 0)),
        _Window(whole, _fit_all(whole, only=whole.counts > recent.counts)),
    )


def _called(recent: _Window, whole: _Window, policy: Policy) -> tuple[Bools, Bools, Bools]:
    """Which series rise, which ease, and of which the whole fit gave that word."""
    up, down = recent.rises(policy), recent.falls(policy)
    # A step long ago also lifts the whole fit: the recent visits must allow that slope.
    up_whole = whole.rises(policy) & (recent.fits.slope_hi >= whole.fits.slope)
    down_whole = whole.falls(policy) & (recent.fits.slope_lo <= whole.fits.slope)
    rising, easing = up | up_whole, down | down_whole
    return rising, easing, (rising & ~up) | (~rising & easing & ~down)


def _fit_all(visits: Visits, *, only: Bools) -> Fits:
    """Fit the chosen series, all those of one length together."""
    result = Fits.blank(len(visits.counts))
    for count in np.unique(visits.counts[only]):
        rows = np.flatnonzero(only & (visits.counts == count))
        at = visits.starts[rows, None] + np.arange(count)
        result.put(rows, fit(visits.days[at], visits.rise_k[at]))
    return result


def _could_hide(fits: Fits, policy: Policy) -> Floats:
    """The rise over the fit that would have been called nine times in ten [K]."""
    standard_error = (fits.slope_hi - fits.slope_lo) / (2 * DEVIATE_90)
    deviates = NINE_IN_TEN - float(ndtri(policy.rising_p))
    return np.maximum(deviates * standard_error * fits.span_days, policy.least_rise_k)


def _words(
    dates: NDArray[np.int64], rising: Bools, *, easing: Bools, could_hide_k: Floats, policy: Policy
) -> NDArray[np.int8]:
    steady = (dates >= policy.least_steady_visits) & (could_hide_k <= policy.steady_within_k)
    word = np.full(len(dates), WORDS.index(CANNOT_TELL), dtype=np.int8)
    for held, name in ((steady, STEADY), (easing, EASING), (rising, RISING)):
        word[held] = WORDS.index(name)
    word[dates < policy.least_visits] = WORDS.index(TOO_FEW_VISITS)
    return word
