"""The engine's one door: many histories in, what each says out."""

import numpy as np
from numpy.typing import NDArray

from service.trends.fits import DEVIATE_90, Fits, fit
from service.trends.policy import DAYS_PER_MONTH, DEFAULT_POLICY, Policy
from service.trends.series import SeriesBlock, TrendBlock, Visits, since_repair
from service.trends.words import CANNOT_TELL, EASING, RISING, STEADY, TOO_FEW_VISITS, WORDS

Bools = NDArray[np.bool_]


def assess(block: SeriesBlock, policy: Policy = DEFAULT_POLICY) -> TrendBlock:
    visits = since_repair(block)
    recent_visits = visits.last(policy.recent_visits)
    whole_visits = visits.last(policy.longest_visits)
    recent = _fit_all(recent_visits, only=visits.counts >= 0)
    longer = whole_visits.counts > recent_visits.counts
    whole = _fit_all(whole_visits, only=longer)
    up = _changes(recent, recent_visits, policy=policy, rising=True)
    up_whole = longer & _changes(whole, whole_visits, policy=policy, rising=True)
    up_whole &= recent.slope_hi >= whole.slope
    down = _changes(recent, recent_visits, policy=policy, rising=False)
    down_whole = longer & _changes(whole, whole_visits, policy=policy, rising=False)
    down_whole &= recent.slope_lo <= whole.slope
    by_whole = np.where(up, False, up_whole | (~down & down_whole))
    ...
