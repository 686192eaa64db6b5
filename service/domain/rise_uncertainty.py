"""Uncertainty of one rise from the terms of its temperatures, as plain numbers.

The same sums as :mod:`service.physics.uncertainty`, one at a time: judging knows which parts are
compared only when it comes to them, and an array of one costs twenty times as much. A test holds
the two together.
"""

import math
from collections.abc import Sequence

from service.domain.measuring import Measured

_ROOT_2 = math.sqrt(2.0)
#: Air thermometer ±1 K, current ±3 % of reading, both rectangular.
AIR_U_K, CURRENT_U_SHARE = 1.0 / math.sqrt(3.0), 0.03 / math.sqrt(3.0)
#: Camera and emissivity of like parts in one frame (a judgement).
SAME_FRAME = 0.9
#: Variance of the median of three visits over that of one (normal).
MEDIAN_OF_THREE = 0.4487


def over_air_u_k(one: Measured) -> float | None:
    """Standard uncertainty of a rise over air [K]; None where the terms are not known."""
    if not one.known:
        return None
    return math.hypot(*one[5:], AIR_U_K)


def over_like_parts_u_k(parts: Sequence[tuple[Measured | None, float]]) -> float | None:
    """Standard uncertainty of a part minus a weighted mean of its like parts [K].

    Parameters
    ----------
    parts : sequence of (Measured, float)
        The judged part and those that make its reference, with the coefficients of the
        difference: 1 for the part, minus its weight for each other (summing to 0).

    Notes
    -----
    What all share cancels with its sign (reflected temperature, path, window and its pane, band); camera and
    emissivity with a correlation of 0.9; noise and placement not at all.
    """
    variance = 0.0
    camera = emissivity = reflected = path = window = pane = band = 0.0
    for one, weight in parts:
        if one is None or not one.known:
            return None
        camera += weight * one.camera
        emissivity += weight * one.emissivity
        reflected += weight * one.reflected
        path += weight * one.path
        window += weight * one.window
        pane += weight * one.pane
        band += weight * one.band
        alone = (1.0 - SAME_FRAME) * (one.camera**2 + one.emissivity**2)
        variance += weight * weight * (alone + one.noise**2 + one.placement**2)
    variance += SAME_FRAME * (camera * camera + emissivity * emissivity)
    variance += reflected**2 + path**2 + window**2 + pane**2 + band**2
    return math.sqrt(variance)


def over_baseline_u_k(one: Measured) -> float | None:
    """Standard uncertainty of a rise over the median of three earlier visits [K].

    Notes
    -----
    Part and settings are the same on all visits, so that emissivity, reflected temperature,
    path and window leave the difference alone; camera, air thermometer and the pane's temperature are taken as another
    on each day, which errs on the wide side where they were not.
    """
    if not one.known:
        return None
    each = one.camera**2 + one.noise**2 + one.placement**2 + one.pane**2 + AIR_U_K**2
    return math.sqrt((1.0 + MEDIAN_OF_THREE) * each)


def scaled_u_k(rise_k: float, u_k: float, *, load: float, exponent: float, exponent_u: float) -> float:
    """Standard uncertainty of a rise brought to common load [K].

    Notes
    -----
    (u_y)² = (ρⁿ·u)² + y²·[(n·u_I/I)² + (ln ρ·u_n)²], ρ the common load over the load of the visit.
    """
    factor = load**-exponent
    relative = math.hypot(exponent * CURRENT_U_SHARE, math.log(load) * exponent_u)
    return math.hypot(factor * u_k, rise_k * factor * relative)


def chance_over(value: float, line: float, *, u: float) -> float:
    """Chance that the true value lies over a line, for a normal uncertainty."""
    if u <= 0.0:
        return 1.0 if value > line else 0.0
    return 0.5 * math.erfc((line - value) / (u * _ROOT_2))


#: Largest relative uncertainty for which a scaled rise is log-normal.
LOG_NORMAL_UP_TO = 0.3


def scaled_chance_over(value: float, line: float, *, u: float) -> float:
    """The same for a scaled rise: log-normal while u/y is at most 0.3, else normal."""
    if value <= 0.0 or line <= 0.0 or u > LOG_NORMAL_UP_TO * value:
        return chance_over(value, line, u=u)
    return chance_over(math.log(value), math.log(line), u=u / value)


def scaled_interval_k(value: float, u: float) -> tuple[float, float]:
    """Interval of 95 % of a scaled rise [K]."""
    if value <= 0.0 or u > LOG_NORMAL_UP_TO * value:
        return value - 1.96 * u, value + 1.96 * u
    spread = math.exp(1.96 * u / value)
    return value / spread, value * spread
