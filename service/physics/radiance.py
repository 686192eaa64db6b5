"""Radiance of a black body within a waveband, and the temperature that has a given radiance."""

from dataclasses import dataclass
from functools import lru_cache
from math import pi
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

Floats = NDArray[np.float64]
Spline: TypeAlias = "CubicSpline[np.float64]"

#: Exact by definition: SI Brochure, 9th edition (2019), section 2.2 [m·s⁻¹, J·s, J·K⁻¹, K].
_C, _H, _K = 299_792_458.0, 6.626_070_15e-34, 1.380_649e-23
ZERO_C = 273.15
#: First radiation constant for radiance, 2hc² [W·m²·sr⁻¹].
C1L = 2.0 * _H * _C**2
#: Second radiation constant, hc/k [m·K].
C2 = _H * _C / _K
#: Stefan-Boltzmann constant from h, c and k: the tabled one is cut at ten digits [W·m⁻²·K⁻⁴].
SIGMA = 2.0 * pi**5 * _K**4 / (15.0 * _H**3 * _C**2)
#: Range of every temperature in this module [°C]; outside it the answer is NaN.
COLDEST_C, HOTTEST_C = -100.0, 1000.0
#: Largest product of wavelength and temperature for which the series is summed [µm·K].
LARGEST_PRODUCT_UM_K = 1e5

_KNOTS = 1101
_EDGE_SLACK = 1e-12
_ENOUGH = 38.0  # e^-38 is below half a unit in the last place of 1
_NOTHING = 700.0  # e^-700 is still a number, and nothing


@dataclass(frozen=True, slots=True)
class Band:
    """Waveband of an instrument [µm], between 1 and 30 µm.

    Raises
    ------
    ValueError
        If the edges do not rise or lie outside 1 to 30 µm.
    """

    lower_um: float
    upper_um: float

    def __post_init__(self) -> None:
        if not 1.0 <= self.lower_um < self.upper_um <= 30.0:
            raise ValueError(f"a band runs upwards within 1 to 30 µm, not {self.lower_um} to {self.upper_um}")


BAND_8_14 = Band(8.0, 14.0)
BAND_7_5_13 = Band(7.5, 13.0)


def fraction_below(product_um_k: ArrayLike) -> Floats:
    """Share F(0→λT) of a black body's radiation at wavelengths below λ.

    Parameters
    ----------
    product_um_k : array_like
        Wavelength times temperature [µm·K], above 0 and up to 100 000.

    Returns
    -------
    ndarray of float
        0 to 1; NaN outside the range.

    References
    ----------
    Michels, NASA TN D-4446 (1968) [form of the series from memory]; tables in Kutz (ed.),
    Mechanical Engineers' Handbook, vol. 4, Table 16.

    Examples
    --------
    >>> fraction_below([2000.0, 10000.0]).round(4).tolist()
    [0.0667, 0.9142]
    """
    product = _floats(product_um_k)
    with np.errstate(invalid="ignore"):
        sound = (product > 0) & (product <= LARGEST_PRODUCT_UM_K)
    x = np.minimum(C2 * 1e6 / np.maximum(np.where(sound, product, 1.0), 1.0), _NOTHING)
    return np.where(sound, _series(x), np.nan)


def spectral_radiance(wavelength_um: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """Radiance of a black body per wavelength (Planck).

    Parameters
    ----------
    wavelength_um : array_like
        Wavelength, 1 to 30 µm.
    temperature_c : array_like
        Temperature, −100 to 1000 °C.

    Returns
    -------
    ndarray of float
        [W·m⁻²·sr⁻¹·µm⁻¹]; NaN outside the ranges.

    Examples
    --------
    >>> round(float(spectral_radiance(10.0, 25.0)), 4)
    9.6307
    """
    micron, kelvin = np.broadcast_arrays(_floats(wavelength_um), _kelvin(temperature_c))
    with np.errstate(invalid="ignore"):
        metre = np.where((micron >= 1.0) & (micron <= 30.0), micron, np.nan) * 1e-6
    radiance: Floats = C1L / (metre**5 * np.expm1(C2 / (metre * kelvin))) * 1e-6
    return radiance


def exact_band_radiance(temperature_c: ArrayLike, band: Band = BAND_8_14) -> Floats:
    """Radiance of a black body within a band, summed as a series.

    Parameters
    ----------
    temperature_c : array_like
        Temperature, −100 to 1000 °C.
    band : Band
        Limits of the band.

    Returns
    -------
    ndarray of float
        L = (σT⁴/π)·[F(λ₂T) − F(λ₁T)] [W·m⁻²·sr⁻¹]; NaN outside the range.

    See Also
    --------
    band_radiance : the same within 2e-7 K, much faster on large arrays.

    Examples
    --------
    >>> round(float(exact_band_radiance(25.0)), 6)
    53.396539
    """
    kelvin = _kelvin(temperature_c)
    within = fraction_below(band.upper_um * kelvin) - fraction_below(band.lower_um * kelvin)
    return SIGMA * kelvin**4 / pi * within


def band_radiance(temperature_c: ArrayLike, band: Band = BAND_8_14) -> Floats:
    """Radiance of a black body within a band, by a spline through the series.

    Parameters
    ----------
    temperature_c : array_like
        Temperature, −100 to 1000 °C.
    band : Band
        Limits of the band.

    Returns
    -------
    ndarray of float
        [W·m⁻²·sr⁻¹]; NaN outside the range, never extrapolated.

    Examples
    --------
    >>> round(float(band_radiance(50.0)), 5)
    76.38638
    """
    forward, _ = _splines(band)
    return np.exp(_at_even_knots(forward, 1.0 / _kelvin(temperature_c)))


def temperature_of(radiance: ArrayLike, band: Band = BAND_8_14) -> Floats:
    """Temperature at which a black body has a given radiance within a band [°C].

    Parameters
    ----------
    radiance : array_like
        [W·m⁻²·sr⁻¹].
    band : Band
        Limits of the band.

    Returns
    -------
    ndarray of float
        −100 to 1000 °C; NaN for any other radiance, zero and less among them.

    Notes
    -----
    A cubic spline of 1/T against ln L on 1101 knots: within 2e-8 K of the series, and within
    2e-7 K of where it began when the radiance came from :func:`band_radiance`.

    Examples
    --------
    >>> round(float(temperature_of(76.386382)), 4)
    50.0
    """
    value = _floats(radiance)
    with np.errstate(invalid="ignore"):
        logarithm = np.log(np.where(value > 0, value, np.nan))
    _, inverse = _splines(band)
    return 1.0 / _within(inverse, logarithm) - ZERO_C


def radiance_slope(
    temperature_c: ArrayLike, band: Band = BAND_8_14, *, radiance: ArrayLike | None = None
) -> Floats:
    """Change of the radiance within a band with temperature, dL/dT.

    Parameters
    ----------
    temperature_c : array_like
        Temperature, −100 to 1000 °C.
    band : Band
        Limits of the band.
    radiance : array_like, optional
        L at these temperatures, where it is at hand already.

    Returns
    -------
    ndarray of float
        [W·m⁻²·sr⁻¹·K⁻¹]; NaN outside the range.

    Notes
    -----
    dL/dT = 4L/T + (σT³/π)·[g(λ₂) − g(λ₁)] with g(λ) = (15/π⁴)·x⁴/(eˣ − 1), x = c₂/(λT).

    Examples
    --------
    >>> round(float(radiance_slope(25.0)), 5)
    0.82372
    """
    kelvin = _kelvin(temperature_c)
    edges = _edge_term(band.upper_um, kelvin) - _edge_term(band.lower_um, kelvin)
    cubed = kelvin * kelvin * kelvin
    whole = band_radiance(temperature_c, band) if radiance is None else _floats(radiance)
    return 4.0 * whole / kelvin + SIGMA / pi * cubed * edges


def _edge_term(edge_um: float, kelvin: Floats) -> Floats:
    x = C2 * 1e6 / (edge_um * kelvin)
    squared = x * x
    term: Floats = 15.0 / pi**4 * squared * squared / np.expm1(x)
    return term


def _series(x: Floats) -> Floats:
    """(15/π⁴)·Σ e^(−nx)·(x³/n + 3x²/n² + 6x/n³ + 6/n⁴), the small terms first."""
    terms = int(np.ceil(_ENOUGH / x.min())) if x.size else 0
    total = np.zeros_like(x)
    for n in range(terms, 0, -1):
        total += np.exp(-n * x) * (((x / n + 3.0 / n**2) * x + 6.0 / n**3) * x + 6.0 / n**4)
    return 15.0 / pi**4 * total


@lru_cache(maxsize=16)
def _splines(band: Band) -> tuple[Spline, Spline]:
    """ln L against 1/T, and 1/T against ln L; both are only read once they are made."""
    # three quarters of a second of every start, and only who inverts a radiance needs it
    from scipy.interpolate import CubicSpline

    inverse_kelvin = np.linspace(1.0 / (HOTTEST_C + ZERO_C), 1.0 / (COLDEST_C + ZERO_C), _KNOTS)
    celsius = np.clip(1.0 / inverse_kelvin - ZERO_C, COLDEST_C, HOTTEST_C)
    logarithm = np.log(exact_band_radiance(celsius, band))
    return CubicSpline(inverse_kelvin, logarithm), CubicSpline(logarithm[::-1], inverse_kelvin[::-1])


def _within(spline: Spline, at: Floats) -> Floats:
    """Value of a spline between its ends; NaN beyond, but for the rounding at the ends."""
    low, high = spline.x[0], spline.x[-1]
    with np.errstate(invalid="ignore"):
        inside = (at >= low - _EDGE_SLACK * abs(low)) & (at <= high + _EDGE_SLACK * abs(high))
    return np.where(inside, spline(np.where(inside, np.clip(at, low, high), low)), np.nan)


def _at_even_knots(spline: Spline, at: Floats) -> Floats:
    """Value of a spline whose knots lie at even distances, for what lies between its ends or is NaN.

    The same as ``spline(at)``; without a search for each knot a seventh of the time on arrays in no
    order.
    """
    first, last, pieces = spline.x[0], spline.x[-1], spline.x.size - 1
    steps = (np.where(np.isnan(at), first, at) - first) * (pieces / (last - first))
    piece = np.minimum(steps.astype(np.intp), pieces - 1)
    along = at - spline.x.take(piece)
    value: Floats = spline.c[0].take(piece)
    for coefficient in spline.c[1:]:
        value = value * along + coefficient.take(piece)
    return value


def _kelvin(temperature_c: ArrayLike) -> Floats:
    """Kelvin; NaN outside the range of this module."""
    celsius = _floats(temperature_c)
    with np.errstate(invalid="ignore"):
        return np.where((celsius >= COLDEST_C) & (celsius <= HOTTEST_C), celsius + ZERO_C, np.nan)


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)
