"""Rises and load: bringing rises to common load, share of rated rise, current for a rise."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.refusals import Refusal
from service.physics.rise import Codes, Figure, Floats, over_like_parts

#: Default load exponent and the band published for it.
EXPONENT, EXPONENT_LOW, EXPONENT_HIGH = 1.8, 1.6, 2.0
#: Exponent of IEC 61439-1, 10.10.2.3.1: I1/I2 = (ΔT1/ΔT2)^0.61.
EXPONENT_IEC_61439 = 1.0 / 0.61
#: Least share of the common load from which a rise is scaled.
MIN_SHARE = 0.40
_SLACK = 1e-9


class CommonLoad(NamedTuple):
    """A rise at common load [K] with the band of the exponent, and a reason where it is NaN."""

    rise_k: Floats
    low_k: Floats
    high_k: Floats
    refusal: Codes


def load_ratio(current_a: ArrayLike, *, common_load_a: ArrayLike, min_share: float = MIN_SHARE) -> Figure:
    """How many times the current of a visit the common load is, where it may be scaled by.

    Parameters
    ----------
    current_a, common_load_a : array_like
        Current of the visit and the load it is brought to [A].
    min_share : float
        Below this share of the common load nothing is scaled.

    Returns
    -------
    Figure
        ρ = I_ref/I; NaN with *no current* or *low load*.

    Examples
    --------
    >>> load_ratio([50.0, 30.0], common_load_a=100.0).value.tolist()
    [2.0, nan]
    """
    amps, common = np.broadcast_arrays(_floats(current_a), _floats(common_load_a))
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(common > 0, amps / common, np.nan)
        refusal = np.select(
            [~(amps >= 0) | np.isnan(share), share < min_share - _SLACK],
            [Refusal.NO_CURRENT, Refusal.LOW_LOAD],
            default=Refusal.NONE,
        )
        ratio = np.where(refusal == 0, 1.0 / share, np.nan)
    return Figure(ratio, refusal.astype(np.uint8))


def to_common_load(
    rise_k: ArrayLike,
    current_a: ArrayLike,
    *,
    common_load_a: ArrayLike,
    exponent: float = EXPONENT,
    exponent_low: float = EXPONENT_LOW,
    exponent_high: float = EXPONENT_HIGH,
    min_share: float = MIN_SHARE,
) -> CommonLoad:
    """Bring a rise to the load at which visits are compared.

    Parameters
    ----------
    rise_k : array_like
        Rise over air, or over like parts with the same current [K].
    current_a, common_load_a : array_like
        Current of the visit and the load it is brought to [A].
    exponent, exponent_low, exponent_high : float
        n of ΔT ∝ Iⁿ and its band.
    min_share : float
        Below this share of the common load nothing is scaled.

    Returns
    -------
    CommonLoad
        ΔT·ρⁿ with ρ = I_ref/I, its least and greatest value over the band (sorted, so that
        they hold above full load and for negative rises too); NaN with *no current* or
        *low load*.

    Notes
    -----
    Not for motors, bearings, couplings, transformers, iron-core coils or electronics, and not
    in wind above 1 m/s or with a fan on the part : the caller knows the kind.

    References
    ----------
    n = 2 plain I²R; 1.8 IEEE C37.010 [from memory]; 1.64 IEC 61439-1, 10.10.2.3.1; the heat
    balance of a plate or bar in free air gives 1.57–1.94.

    Examples
    --------
    >>> [round(float(v), 2) for v in to_common_load(10.0, 50.0, common_load_a=100.0)[:3]]
    [34.82, 30.31, 40.0]
    """
    found = load_ratio(current_a, common_load_a=common_load_a, min_share=min_share)
    rise, ratio, refused = np.broadcast_arrays(_floats(rise_k), found.value, found.refusal)
    refusal = np.where(np.isnan(rise), Refusal.NO_NUMBER, refused)
    ratio = np.where(refusal == 0, ratio, np.nan)
    ends = np.stack([rise * ratio**exponent_low, rise * ratio**exponent_high])
    return CommonLoad(rise * ratio**exponent, ends.min(axis=0), ends.max(axis=0), refusal.astype(np.uint8))


def over_like_parts_at_common_load(
    rise_k: ArrayLike,
    current_a: ArrayLike,
    *,
    common_load_a: ArrayLike,
    exponent: float = EXPONENT,
    min_share: float = MIN_SHARE,
) -> Figure:
    """Rise over like parts that carry unequal currents: each scaled by its own, then subtracted.

    Parameters
    ----------
    rise_k, current_a : array_like, shape (..., parts)
        Rise over air [K] and current [A] of each part; NaN is not read.
    common_load_a : array_like, shape (..., parts) or broadcast
        The load to which all are brought [A].
    exponent, min_share : float
        As in :func:`to_common_load`.

    Returns
    -------
    Figure
        Rise at common load over the median of all parts that could be scaled [K], shape
        (..., parts); of two over the cooler. NaN with the reason of the part's own scaling,
        or *no like part* where no other could be scaled.

    Notes
    -----
    For parts within 10 % of each other the plain difference is scaled instead: there this form
    would only carry the ammeter's error into the difference.

    Examples
    --------
    >>> found = over_like_parts_at_common_load([30.0, 20.0, 7.5], [80.0, 80.0, 48.0], common_load_a=100.0)
    >>> found.value.round(1).tolist()
    [14.9, 0.0, -1.8]
    """
    scaled = to_common_load(
        rise_k, current_a, common_load_a=common_load_a, exponent=exponent, min_share=min_share
    )
    compared = over_like_parts(scaled.rise_k)
    refusal = np.where(scaled.refusal != 0, scaled.refusal, compared.refusal)
    return Figure(compared.value, refusal.astype(np.uint8))


def at_other_air(temperature_c: ArrayLike, air_c: ArrayLike, *, other_air_c: ArrayLike) -> Floats:
    """Temperature the part would have in other air under the same load [°C].

    Parameters
    ----------
    temperature_c, air_c : array_like
        As measured [°C].
    other_air_c : array_like
        The air asked for [°C].

    Returns
    -------
    ndarray of float
        T + (T_air,other − T_air): one to one, the rise is unchanged.

    Notes
    -----
    Left out: hotter air makes convection and radiation a little better and copper a little
    worse. Over 20 K these are a few percent of the rise and of opposite sign.

    References
    ----------
    Type tests of low-voltage assemblies take the rise as it is in air of 10 to 40 °C
    [IEC 61439-1, from memory].

    Examples
    --------
    >>> float(at_other_air(65.0, 25.0, other_air_c=40.0))
    80.0
    """
    t, air, other = np.broadcast_arrays(*(_floats(v) for v in (temperature_c, air_c, other_air_c)))
    moved: Floats = t + (other - air)
    return moved


def share_of_rated_rise(
    rise_k: ArrayLike,
    current_a: ArrayLike,
    *,
    rated_current_a: ArrayLike,
    rated_rise_k: ArrayLike,
    exponent: float = EXPONENT,
) -> Figure:
    """Rise as a share of what the rated rise would be at this current [%].

    Parameters
    ----------
    rise_k : array_like
        Rise over air as measured [K].
    current_a, rated_current_a : array_like
        Current of the visit and the rating [A].
    rated_rise_k : array_like
        Rise the maker or a standard gives at the rating [K].

    Returns
    -------
    Figure
        100·ΔT/[ΔT_rated·(I/I_r)ⁿ]; NaN without current, rating or rated rise.

    References
    ----------
    Scaling with n as above; the action lines on this share are our own proposal, not published.

    Examples
    --------
    >>> share = share_of_rated_rise(36.6, 60.0, rated_current_a=100.0, rated_rise_k=50.0)
    >>> round(float(share.value), 1)
    183.6
    """
    rise, amps, rating, rated = np.broadcast_arrays(
        *(_floats(v) for v in (rise_k, current_a, rated_current_a, rated_rise_k))
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        value = 100.0 * rise / (rated * (amps / rating) ** exponent)
        refusal = np.select(
            [np.isnan(rise) | ~(rated > 0), ~(amps > 0) | ~(rating > 0)],
            [Refusal.NO_NUMBER, Refusal.NO_CURRENT],
            default=Refusal.NONE,
        )
    return Figure(np.where(refusal == 0, value, np.nan), refusal.astype(np.uint8))


def current_for_rise(
    current_a: ArrayLike, rise_k: ArrayLike, *, wanted_rise_k: ArrayLike, exponent: float = EXPONENT
) -> Floats:
    """Current at which a part would reach another rise [A].

    Parameters
    ----------
    current_a, rise_k : array_like
        A known pair of current [A] and rise [K].
    wanted_rise_k : array_like
        The rise asked for [K].
    exponent : float
        n of ΔT ∝ Iⁿ.

    Returns
    -------
    ndarray of float
        I·(ΔT_wanted/ΔT)^(1/n); NaN where a current or a rise is not positive.

    References
    ----------
    IEC 61439-1, 10.10.2.3.1, with 1/n = 0.61.

    Examples
    --------
    >>> round(float(current_for_rise(973.0, 102.0, wanted_rise_k=105.0, exponent=EXPONENT_IEC_61439)))
    990
    """
    amps, rise, wanted = np.broadcast_arrays(*(_floats(v) for v in (current_a, rise_k, wanted_rise_k)))
    with np.errstate(invalid="ignore", divide="ignore"):
        sound = (amps > 0) & (rise > 0) & (wanted > 0)
        ratio = np.where(sound, wanted / np.where(sound, rise, 1.0), np.nan)
    return np.where(sound, amps * ratio ** (1.0 / exponent), np.nan)


def _floats(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)
