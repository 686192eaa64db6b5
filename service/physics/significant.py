"""Rounding: an uncertainty to two significant digits, its value to the same place."""

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Significant digits of an uncertainty.
UNCERTAINTY_DIGITS = 2
#: Outside these powers of ten an uncertainty is nothing that a thermometer could give.
_LEAST, _MOST = 1e-12, 1e12
_HAIR = 1e-12


class Rounded(NamedTuple):
    """A value and its uncertainty, rounded to one place.

    ``decimals`` is the number of digits behind the decimal mark; below 0 the place lies before
    it (−1: tens). Both print as they are with ``f"{rounded.value:f}"``.
    """

    value: Decimal
    uncertainty: Decimal
    decimals: int


def significant(
    value: float, uncertainty: float, *, digits: int = UNCERTAINTY_DIGITS, most_decimals: int | None = None
) -> Rounded | None:
    """Round an uncertainty to its significant digits and the value to the same place.

    Parameters
    ----------
    value, uncertainty : float
        In one unit; the uncertainty is the one that will be printed, u or U.
    digits : int
        Significant digits of the uncertainty.
    most_decimals : int, optional
        Never more digits behind the decimal mark than this; an uncertainty that would vanish
        then stands as one unit of the last place.

    Returns
    -------
    Rounded or None
        None where either is not finite or beyond 1e12, or the uncertainty is not above nothing.

    Notes
    -----
    Halves go away from zero. The place is found after rounding: 9.96 becomes 10, not 10.0.

    References
    ----------
    JCGM 100:2008, 7.2.6.

    Examples
    --------
    >>> rounded = significant(15.6393, 0.8691)
    >>> f"{rounded.value} ± {rounded.uncertainty}"
    '15.64 ± 0.87'
    """
    if not (math.isfinite(value) and abs(value) < _MOST and _LEAST < uncertainty < _MOST):
        return None
    decimals = _places(Decimal(repr(float(uncertainty))), digits)
    if most_decimals is not None:
        decimals = min(decimals, most_decimals)
    unit = Decimal(1).scaleb(-decimals)
    rounded = _to(uncertainty, unit)
    # no minus before a nought
    return Rounded(_to(value, unit) + 0, max(rounded, unit), decimals)


def decimal_places(uncertainty: ArrayLike, *, digits: int = UNCERTAINTY_DIGITS) -> NDArray[np.int64]:
    """Digits behind the decimal mark for many uncertainties, as :func:`significant` chooses them.

    Parameters
    ----------
    uncertainty : array_like
        Above 0.
    digits : int
        Significant digits of the uncertainty.

    Returns
    -------
    ndarray of int
        Below 0 where the place lies before the mark; 0 where there is no uncertainty.

    Examples
    --------
    >>> decimal_places([0.8691, 1.686, 9.96, 31.66, 1234.0]).tolist()
    [2, 1, 0, 0, -2]
    """
    u = np.asarray(uncertainty, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        sound = (u > _LEAST) & (u < _MOST)
    exponent = np.floor(np.log10(np.where(sound, u, 1.0)))
    mantissa = np.where(sound, u, 1.0) / 10.0**exponent
    # 9.95 and more round up to the next power of ten, also where the quotient falls a hair short
    exponent += mantissa >= 10.0 - 0.5 * 10.0 ** (1 - digits) - _HAIR
    return np.where(sound, digits - 1 - exponent, 0).astype(np.int64)


def _places(u: Decimal, digits: int) -> int:
    decimals = digits - 1 - u.adjusted()
    rounded = u.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)
    return digits - 1 - rounded.adjusted()


def _to(value: float, unit: Decimal) -> Decimal:
    return Decimal(repr(float(value))).quantize(unit, rounding=ROUND_HALF_UP)
