"""How large a spot an instrument measures, and what a part smaller than it reads."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.cautions import Caution
from service.physics.radiance import BAND_8_14, Band, band_radiance, temperature_of
from service.physics.refusals import Refusal
from service.physics.rise import Figure

Floats = NDArray[np.float64]

#: Pixels that a part must fill in each direction for its temperature to be read.
PIXELS_ACROSS = 3.0
_SLACK = 1e-9


class Filling(NamedTuple):
    """Pixels that a part covers [px], a reason where it is NaN, and the caution *underfilled*."""

    pixels: Floats
    refusal: NDArray[np.uint8]
    caution: NDArray[np.uint8]


def ifov_mrad(field_of_view_deg: ArrayLike, pixels: ArrayLike, *, at_centre: bool = False) -> Floats:
    """Angle that one pixel sees [mrad].

    Parameters
    ----------
    field_of_view_deg : array_like
        Angle of the whole picture in one direction, above 0 and below 180°.
    pixels : array_like
        Pixels in that direction, at least 1.
    at_centre : bool
        With the tangent, as it is in the middle of a flat detector, instead of the share of the
        angle.

    Returns
    -------
    ndarray of float
        FOV/pixels, or 2·tan(FOV/2)/pixels; NaN outside the ranges. An angle from the maker goes
        before either.

    Examples
    --------
    >>> round(float(ifov_mrad(24.0, 320)), 4), round(float(ifov_mrad(24.0, 320, at_centre=True)), 4)
    (1.309, 1.3285)
    """
    angle, count = np.broadcast_arrays(_floats(field_of_view_deg), _floats(pixels))
    with np.errstate(invalid="ignore"):
        sound = (angle > 0) & (angle < 180) & (count >= 1)
    radians = np.radians(np.where(sound, angle, np.nan))
    whole = 2.0 * np.tan(radians / 2.0) if at_centre else radians
    return 1e3 * whole / np.where(sound, count, np.nan)


def spot_mm(ifov_mrad: ArrayLike, distance_m: ArrayLike, *, pixels: float = PIXELS_ACROSS) -> Floats:
    """Width of some pixels at a distance [mm].

    Parameters
    ----------
    ifov_mrad : array_like
        Angle of one pixel [mrad].
    distance_m : array_like
        Distance [m].
    pixels : float
        3 for the smallest part that can be measured, 1 for the smallest that can be seen.

    Returns
    -------
    ndarray of float
        NaN where an angle or a distance is not positive.

    Examples
    --------
    >>> round(float(spot_mm(2.7271, 3.0)), 2), round(float(spot_mm(2.7271, 3.0, pixels=1)), 2)
    (24.54, 8.18)
    """
    return pixels * _positive(ifov_mrad) * _positive(distance_m)


def farthest_m(ifov_mrad: ArrayLike, part_mm: ArrayLike) -> Floats:
    """Longest distance at which a part still fills three pixels [m].

    Parameters
    ----------
    ifov_mrad : array_like
        Angle of one pixel [mrad].
    part_mm : array_like
        Smaller extent of the part [mm].

    Returns
    -------
    ndarray of float
        NaN where an angle or an extent is not positive.

    Examples
    --------
    >>> round(float(farthest_m(2.7271, 10.0)), 2)
    1.22
    """
    return _positive(part_mm) / (PIXELS_ACROSS * _positive(ifov_mrad))


def filling(part_mm: ArrayLike, ifov_mrad: ArrayLike, distance_m: ArrayLike) -> Filling:
    """How many pixels a part covers, and whether that is enough.

    Parameters
    ----------
    part_mm : array_like
        Smaller extent of the part [mm].
    ifov_mrad : array_like
        Angle of one pixel [mrad].
    distance_m : array_like
        Distance [m].

    Returns
    -------
    Filling
        Below three pixels *underfilled*: the reading is "at least", is not trended, and wants a
        shorter distance or a longer lens.

    Notes
    -----
    Three pixels across is common practice. MRTD (ASTM E1213), MDTD (E1311) and NETD (E1543) are
    figures of what can be seen or told apart; none says how large a part must be.

    Examples
    --------
    >>> filling([10.0, 30.0], 2.7271, 3.0).caution.tolist()
    [32, 0]
    """
    pixels = _positive(part_mm) / (_positive(ifov_mrad) * _positive(distance_m))
    missing = np.isnan(pixels)
    with np.errstate(invalid="ignore"):
        small = pixels < PIXELS_ACROSS * (1.0 - _SLACK)
    return Filling(
        pixels,
        np.where(missing, np.uint8(Refusal.NO_NUMBER), np.uint8(Refusal.NONE)),
        np.where(small, np.uint8(Caution.UNDERFILLED), np.uint8(Caution.NONE)),
    )


def mixed_temperature(
    part_c: ArrayLike, background_c: ArrayLike, filled: ArrayLike, *, band: Band = BAND_8_14
) -> Figure:
    """What a spot reads that a part fills only in part.

    Parameters
    ----------
    part_c, background_c : array_like
        Apparent temperatures of the part and of what is behind it [°C].
    filled : array_like
        Share of the spot that the part fills, 0 to 1.
    band : Band
        Waveband of the instrument.

    Returns
    -------
    Figure
        [°C]; NaN with *out of range* for a share or a temperature outside.

    Notes
    -----
    Radiances mix, not temperatures: L⁻¹(f·L(part) + (1 − f)·L(background)). It is not turned
    round to correct a reading: the share is never known well enough.

    Examples
    --------
    >>> mixed_temperature(100.0, 30.0, [0.8, 0.5, 0.25]).value.round(2).tolist()
    [88.3, 69.1, 51.0]
    """
    share = _floats(filled)
    with np.errstate(invalid="ignore"):
        share = np.where((share >= 0) & (share <= 1), share, np.nan)
    mixed = share * band_radiance(part_c, band) + (1.0 - share) * band_radiance(background_c, band)
    value = temperature_of(mixed, band)
    refusal = np.where(np.isnan(value), np.uint8(Refusal.OUT_OF_RANGE), np.uint8(Refusal.NONE))
    return Figure(value, refusal)


def _positive(values: ArrayLike) -> Floats:
    found = _floats(values)
    with np.errstate(invalid="ignore"):
        return np.where((found > 0) & np.isfinite(found), found, np.nan)


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)
