"""A class that may not come off worse: its weight rises until it is looked after as well as before."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.planning.delay_time import caught_shares
from service.planning.joint_intervals import Assets, JointIntervals, Sites, joint_intervals

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_HEAVIEST, _STEPS = 64.0, 7


@dataclass(frozen=True, slots=True)
class ClassFloor:
    """Of the ``held`` equipment, shape (n,), at least so many faults a year are to be caught."""

    held: Bools
    least_per_year: float


def caught_by_intervals(assets: Assets, interval_months: Floats) -> Floats:
    """Faults caught a year of each asset, were it read at these intervals.

    Parameters
    ----------
    assets : Assets
    interval_months : ndarray, shape (n,)
        Intervals in force [months].

    Returns
    -------
    ndarray, shape (n,)
    """
    months, at = np.unique(interval_months, return_inverse=True)
    shares = caught_shares(
        assets.pf_months, assets.found_share, lead_months=assets.lead_months, intervals_months=months
    )
    return np.asarray(assets.rate_per_year * shares[np.arange(len(at)), at.ravel()])


def intervals_with_floor(
    assets: Assets, sites: Sites, *, hours_per_month: float, floor: ClassFloor
) -> JointIntervals:
    """Joint intervals that keep the floor of one class.

    Parameters
    ----------
    assets, sites, hours_per_month
        As in `joint_intervals`.
    floor : ClassFloor

    Returns
    -------
    JointIntervals
        With the smallest extra weight of the class that keeps the floor. Where no weight does
        within the hours and ceilings, the one that comes nearest.

    Notes
    -----
    Left to itself one price trades the faults of critical equipment for cheaper ones.
    """
    best = joint_intervals(assets, sites, hours_per_month=hours_per_month)
    if _kept(best, floor):
        return best
    low, high = 1.0, _HEAVIEST
    best = _weighted(assets, sites, hours_per_month, floor=floor, factor=high)
    for _ in range(_STEPS):
        middle = float(np.sqrt(low * high))
        tried = _weighted(assets, sites, hours_per_month, floor=floor, factor=middle)
        if _kept(tried, floor):
            high, best = middle, tried
        else:
            low = middle
    return best


def _kept(plan: JointIntervals, floor: ClassFloor) -> bool:
    return float(plan.caught_per_year[floor.held].sum()) >= floor.least_per_year


def _weighted(
    assets: Assets, sites: Sites, hours_per_month: float, *, floor: ClassFloor, factor: float
) -> JointIntervals:
    weight = np.where(floor.held, assets.weight * factor, assets.weight)
    return joint_intervals(replace(assets, weight=weight), sites, hours_per_month=hours_per_month)
