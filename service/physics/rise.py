"""Rises: over the median of like parts, over air, and the relative difference of two."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.refusals import Refusal

Floats = NDArray[np.float64]
Codes = NDArray[np.uint8]

#: Coldest and hottest surface a survey can mean [°C].
COLDEST_C, HOTTEST_C = -90.0, 2000.0
_SLACK = 1e-9


class Figure(NamedTuple):
    """Values with a reason code for each that is NaN."""

    value: Floats
    refusal: Codes


def alike(
    temperature_c: ArrayLike, *, current_a: ArrayLike | None = None, equal_share: float = 0.10
) -> NDArray[np.bool_]:
    """Which parts of a view enter the median of which.

    Parameters
    ----------
    temperature_c : array_like, shape (..., parts)
        Surface temperatures of the like parts of each view [°C]; NaN is not read.
    current_a : array_like, shape (..., parts), optional
        Current of each part [A]; NaN is not known and taken as like. Without it all are alike.
    equal_share : float
        Parts count whose current lies within this share of the judged part's own.

    Returns
    -------
    ndarray of bool, shape (..., parts, parts)
        Row: the judged part; column: the part compared with. A part that was read is alike
        to itself.

    Examples
    --------
    >>> alike([30.0, 40.0], current_a=[100.0, 60.0]).tolist()
    [[True, False], [False, True]]
    """
    t = _temperatures(temperature_c)
    amps = np.full_like(t, np.nan) if current_a is None else np.broadcast_to(_floats(current_a), t.shape)
    own, its = amps[..., :, None], amps[..., None, :]
    with np.errstate(invalid="ignore"):
        like = np.abs(its - own) <= equal_share * own * (1 + _SLACK)
    like |= np.isnan(own) | np.isnan(its)
    like |= np.eye(t.shape[-1], dtype=bool)
    like &= ~np.isnan(t)[..., None, :]
    return like


def over_like_parts(
    temperature_c: ArrayLike,
    *,
    current_a: ArrayLike | None = None,
    equal_share: float = 0.10,
    like: ArrayLike | None = None,
) -> Figure:
    """Rise of each part over the median of its like parts.

    Parameters
    ----------
    temperature_c, current_a, equal_share
        As in :func:`alike`.
    like : array_like of bool, shape (..., parts, parts), optional
        Which parts enter the median of which, where that was chosen otherwise: a cold part left
        out, say. Those not read are left out in any case.

    Returns
    -------
    Figure
        Rise [K], shape (..., parts); NaN with *no like part* where only the part itself is left.

    Notes
    -----
    The median includes the part itself. The mean would call the neighbours of a cold part hot:
    30/30/15 °C gives them +5 K; the median gives 0. Of two, the cooler is the reference.
    Naming a cold part as the fault is a matter of rule 6 and not done here.

    References
    ----------
    ANSI/NETA MTS Table 100.18 asks for "similar components under similar loading"; median and
    not mean is our own choice.

    Examples
    --------
    >>> over_like_parts([30.0, 30.0, 15.0]).value
    array([  0.,   0., -15.])
    """
    t = _temperatures(temperature_c)
    if like is None:
        chosen = alike(t, current_a=current_a, equal_share=equal_share)
    else:
        chosen = np.asarray(like, dtype=bool) & ~np.isnan(t)[..., None, :]
    pool = np.sort(np.where(chosen, t[..., None, :], np.inf), axis=-1)
    count = chosen.sum(axis=-1)
    lower = np.where(count == 2, 0, np.maximum(count - 1, 0) // 2)
    upper = np.where(count == 2, 0, count // 2)
    upper = np.minimum(upper, t.shape[-1] - 1)
    middle = (_pick(pool, lower) + _pick(pool, upper)) / 2.0
    unread = np.isnan(t)
    refusal = np.where(unread, Refusal.NO_NUMBER, np.where(count < 2, Refusal.NO_LIKE_PART, 0))
    value = np.where(refusal == 0, t - middle, np.nan)
    return Figure(value, refusal.astype(np.uint8))


def over_air(temperature_c: ArrayLike, ambient_c: ArrayLike) -> Figure:
    """Rise over the air round the part [K].

    Parameters
    ----------
    temperature_c, ambient_c : array_like
        Surface and air temperature [°C], broadcast against each other.

    Returns
    -------
    Figure
        Rise [K]; NaN where either is missing or outside −90…2000 °C.

    Notes
    -----
    A change of the air shifts the part one to one; the rise stays. The rise is a difference:
    15 K is 27 °F, never 59 °F.

    Examples
    --------
    >>> float(over_air(55.0, 25.0).value)
    30.0
    """
    t, air = np.broadcast_arrays(_temperatures(temperature_c), _temperatures(ambient_c))
    value = t - air
    return Figure(value, np.where(np.isnan(value), Refusal.NO_NUMBER, 0).astype(np.uint8))


def relative_difference(
    hot_c: ArrayLike, like_c: ArrayLike, *, air_c: ArrayLike, min_rise_k: float = 10.0
) -> Figure:
    """Relative difference (T1 − T2)/(T1 − T0) of a hot part and a healthy like part [%].

    Parameters
    ----------
    hot_c, like_c, air_c : array_like
        T1, T2 and T0 [°C].
    min_rise_k : float
        Least rise T1 − T0 for which it is given [K].

    Returns
    -------
    Figure
        Percentage; NaN with *too cool* under ``min_rise_k``.

    Notes
    -----
    Load cancels as far as both rises follow the same power of the current: a second opinion at
    low load, nothing more.

    References
    ----------
    DL/T 664 (Chinese practice), seen on two secondary pages; the 10 K on one.

    Examples
    --------
    >>> round(float(relative_difference(60, 40, air_c=25).value), 2)
    57.14
    """
    hot, like, air = np.broadcast_arrays(*(_temperatures(v) for v in (hot_c, like_c, air_c)))
    rise = hot - air
    missing = np.isnan(rise) | np.isnan(like)
    with np.errstate(invalid="ignore", divide="ignore"):
        value = 100.0 * (hot - like) / rise
        refusal = np.where(missing, Refusal.NO_NUMBER, np.where(rise < min_rise_k, Refusal.TOO_COOL, 0))
    return Figure(np.where(refusal == 0, value, np.nan), refusal.astype(np.uint8))


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)


def _temperatures(values: ArrayLike) -> Floats:
    """As floats; NaN where no surface can have such a temperature."""
    t = _floats(values)
    with np.errstate(invalid="ignore"):
        return np.where((t >= COLDEST_C) & (t <= HOTTEST_C), t, np.nan)


def _pick(ordered: Floats, place: NDArray[np.intp]) -> Floats:
    picked: Floats = np.take_along_axis(ordered, place[..., None], axis=-1)[..., 0]
    return np.where(np.isfinite(picked), picked, np.nan)
