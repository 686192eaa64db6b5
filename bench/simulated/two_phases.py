"""Faults of two phases at once, which hide half of each other: what their phases find, and the view over air."""

from dataclasses import dataclass, replace

import numpy as np

from bench.simulated.drawn import HEALTHY, Bools, Fleet, Ints
from bench.simulated.replay import edges, replay, scores_of
from bench.simulated.worlds import EXPONENT
from service.trends.stages import OVER_AIR

_PHASES = 3
#: Z above which the median of a view's like parts over air is flagged: what two of three phases share no
#: median of them shows.
LINE_Z = 5.5


@dataclass(frozen=True, slots=True)
class TwoPhases:
    """Views with a fault of two phases; shares of them, and false flags of the net.

    Attributes
    ----------
    views : int
        How many there are.
    missed_alone, missed_with_air : float
        Share of them found in time neither by a phase, nor (second) by the view over air.
    extra_false_flags : float
        What the view over air adds, per 100 years of healthy views.
    """

    views: int
    missed_alone: float
    missed_with_air: float
    extra_false_flags: float


def two_phases(fleet: Fleet, flagged: Bools) -> TwoPhases:
    """Find them by the flags of their phases [points, rounds], and by the view over air."""
    views = views_over_air(fleet)
    replayed = replay(views, OVER_AIR)
    scores = scores_of(replayed, OVER_AIR)
    z = replayed.on_table(scores.z, views)
    with np.errstate(invalid="ignore"):
        tall = replayed.on_table(scores.rise_k, views) >= OVER_AIR.least_rise_k
        by_air: Bools = (z > LINE_Z) & tall
    two = np.flatnonzero(fleet.truth.second.reshape(-1, _PHASES).any(axis=1))
    by_phase = _in_time(views, flagged.reshape(len(views.site), _PHASES, -1).any(axis=1), two)
    by_either = by_phase | _in_time(views, by_air, two)
    healthy = fleet.truth.fault.reshape(-1, _PHASES).max(axis=1) == HEALTHY
    new = edges(views, by_air)[healthy].sum()
    years = float(views.truth.span[healthy].sum())
    return TwoPhases(
        len(two), 1 - float(by_phase.mean()), 1 - float(by_either.mean()), float(new) / years * 100
    )


def views_over_air(fleet: Fleet) -> Fleet:
    """Each view as one point: the median of its phases over air, with the uncertainties of air points."""
    first = slice(None, None, _PHASES)
    air_k = np.median(fleet.air_k.reshape(-1, _PHASES, fleet.air_k.shape[1]), axis=1)
    load = fleet.load[first]
    scale = load**-EXPONENT
    own_k = np.sqrt((0.5 * scale) ** 2 + air_k**2 * ((EXPONENT * 0.03) ** 2 + 0.05**2 + 0.03**2))
    columns = {
        name: getattr(fleet, name)[first] for name in ("site", "view", "months", "years", "episode", "load")
    }
    truth = replace(
        fleet.truth,
        **{
            name: getattr(fleet.truth, name)[first]
            for name in ("fault", "onset", "limit", "nuisance", "second", "span", "limit_k")
        },
    )
    return Fleet(
        **columns,
        measured_k=air_k / scale,
        common_k=air_k,
        air_k=air_k,
        u_own_k=own_k,
        u_shared_k=scale,
        truth=truth,
    )


def _in_time(views: Fleet, flagged: Bools, chosen: Ints) -> Bools:
    years, truth = views.years[chosen], views.truth
    with np.errstate(invalid="ignore"):
        in_time = (years > truth.onset[chosen, None]) & (years <= truth.limit[chosen, None])
    found: Bools = (flagged[chosen] & in_time).any(axis=1)
    return found
