"""What a first sign is worth: how likely a fault stands behind it, and what reading again soon would save."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.planning.delay_time import DELAY_SHAPE, GRADUAL, MONTHS_PER_YEAR, weibull_delays

Floats = NDArray[np.float64]

#: First signs in a hundred readings of sound equipment. Assumed; a site's own figure replaces it.
FALSE_SIGN_SHARE = 0.01
_SHARES = (np.arange(6) + 0.5) / 6
_DELAYS = 12


@dataclass(frozen=True, slots=True)
class Signs:
    """First signs that stand, arrays of shape (n,).

    ``chance``: that a fault stands behind it [0, 1]; ``months_since``: since the sign;
    ``pf_months``, ``found_share``, ``lead_months``: as in `joint_intervals.Assets`.
    """

    chance: Floats
    months_since: Floats
    pf_months: Floats
    found_share: Floats
    lead_months: Floats


def chance_behind_sign(
    rate_per_year: Floats,
    pf_months: Floats,
    *,
    found_share: Floats,
    false_share: float = FALSE_SIGN_SHARE,
) -> Floats:
    """Chance that a fault stands behind a first sign.

    Parameters
    ----------
    rate_per_year, pf_months, found_share : ndarray, shape (n,)
        Faults begun a year; mean time from first sign to failure [months]; chance that one
        reading sees a plain fault [0, 1].
    false_share : float
        First signs in readings of sound equipment [0, 1].

    Returns
    -------
    ndarray, shape (n,)

    Notes
    -----
    Bayes: λ·θ·∫(1 − r)da against the false share. The integral is the mean time during which a
    fault is seen but not yet plain: half of the ramp's share of the time to failure.
    """
    width = (GRADUAL.plain_from - GRADUAL.first_seen) / 2
    true = rate_per_year / MONTHS_PER_YEAR * pf_months * width * found_share
    return np.asarray(true / (true + false_share))


def chance_after_reading(
    signs: Signs, again: NDArray[np.bool_], *, false_share: float = FALSE_SIGN_SHARE
) -> Floats:
    """The chance after one more reading that was not plain.

    Parameters
    ----------
    signs : Signs
    again : ndarray of bool, shape (n,)
        Whether that reading showed a first sign once more, or nothing.
    false_share : float
        First signs in readings of sound equipment [0, 1].

    Returns
    -------
    ndarray, shape (n,)
    """
    weight, _, clear, standing = _paths(signs, signs.months_since)
    theta = signs.found_share[:, None]
    sign = (weight * standing * theta * (1 - clear)).sum(axis=1)
    unseen = (weight * standing * (1 - theta)).sum(axis=1)
    of_fault = np.where(again, sign, unseen) * signs.chance
    of_sound = np.where(again, false_share, 1 - false_share) * (1 - signs.chance)
    return np.asarray(of_fault / (of_fault + of_sound))


def worth_of_reading_now(signs: Signs, *, months_until_next: Floats) -> Floats:
    """Faults saved by reading now what would else be read at the next visit.

    Parameters
    ----------
    signs : Signs
    months_until_next : ndarray, shape (n,)
        Until the visit at which it would be read in any case [months].

    Returns
    -------
    ndarray, shape (n,)
        Chance that now finds and mends a fault which the next visit would not.
    """
    weight, left, clear, _ = _paths(signs, signs.months_since)
    later_weight, later_left, later_clear, _ = _paths(signs, signs.months_since + months_until_next)
    del later_weight
    theta, lead = signs.found_share[:, None], signs.lead_months[:, None]
    now = theta * clear * (left >= lead)
    later = theta * later_clear * (later_left >= lead)
    return np.asarray(signs.chance * (weight * now * (1 - later)).sum(axis=1))


def _paths(signs: Signs, months_since: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Weights (n, p) of ages at the sign and times to failure; months left, clearness, and not failed."""
    share = GRADUAL.first_seen + (GRADUAL.plain_from - GRADUAL.first_seen) * _SHARES
    delay = weibull_delays(signs.pf_months, _DELAYS, shape=DELAY_SHAPE)
    # A long time to failure is met more often, and a faint sign more often than a plain one.
    weight = np.repeat(delay, len(share), axis=1) * np.tile(1 - GRADUAL.clearness(share), _DELAYS)
    weight /= weight.sum(axis=1, keepdims=True)
    delay, share_then = np.repeat(delay, len(share), axis=1), np.tile(share, _DELAYS)
    left = delay * (1 - share_then) - months_since[:, None]
    clear = GRADUAL.clearness(1 - left / delay)
    return weight, left, clear, np.asarray(left > 0, dtype=np.float64)
