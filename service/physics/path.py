"""What the air between part and instrument lets through: an open model for survey distances."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.cautions import Caution
from service.physics.optics import INDICATIVE_DISTANCE_M
from service.physics.radiance import ZERO_C
from service.physics.refusals import Refusal

Floats = NDArray[np.float64]
Codes = NDArray[np.uint8]

#: Transmission and half width where distance, air or humidity is not known: 2 to 3 m indoors.
ASSUMED_TRANSMISSION, ASSUMED_HALF_WIDTH = 0.996, 0.006
#: Longest known distance for which that is meant [m].
ASSUMED_DISTANCE_M = 3.0
#: Air temperature, and half of its range, where it is not known; at τ .996 a kelvin of it is 3 mK.
ASSUMED_AIR_C, ASSUMED_AIR_HALF_WIDTH_K = 20.0, 20.0
LEAST_HALF_WIDTH = 0.005
#: What the formula was fitted to: distance [m], air [°C], vapour [g/m³] of 0 °C 20 % to 40 °C 80 %.
FITTED_DISTANCE_M, FITTED_AIR_C, FITTED_VAPOUR_G_M3 = (0.5, 100.0), (0.0, 40.0), (0.969, 40.79)
#: Air that a survey can mean [°C].
_AIR_C = (-45.0, 60.0)


class AirPath(NamedTuple):
    """Transmission of the air, with a reason where it is NaN.

    Attributes
    ----------
    transmission, half_width : ndarray of float
        τ and its rectangular half width.
    air_c, air_half_width_k : ndarray of float
        Air temperature to go with it [°C] and the half width of an assumed one [K], 0 if known.
    assumed : ndarray of bool
        Whether τ is the assumed one.
    refusal, caution : ndarray of uint8
        :class:`Refusal` and flags of :class:`Caution`.
    """

    transmission: Floats
    half_width: Floats
    air_c: Floats
    air_half_width_k: Floats
    assumed: NDArray[np.bool_]
    refusal: Codes
    caution: Codes


def saturation_pressure_pa(air_c: ArrayLike) -> Floats:
    """Saturation pressure of water vapour over water [Pa].

    Parameters
    ----------
    air_c : array_like
        Air temperature, −45 to 60 °C.

    Returns
    -------
    ndarray of float
        611.2·exp(17.62·t/(243.12 + t)); NaN outside the range.

    References
    ----------
    Magnus formula, WMO-No. 8 [from memory].

    Examples
    --------
    >>> round(float(saturation_pressure_pa(25.0)))
    3160
    """
    t = _between(air_c, *_AIR_C)
    pressure: Floats = 611.2 * np.exp(17.62 * t / (243.12 + t))
    return pressure


def vapour_g_m3(air_c: ArrayLike, humidity_percent: ArrayLike) -> Floats:
    """Absolute humidity of air [g/m³].

    Parameters
    ----------
    air_c : array_like
        Air temperature, −45 to 60 °C.
    humidity_percent : array_like
        Relative humidity, 0 to 100 %.

    Returns
    -------
    ndarray of float
        Mass of vapour a volume; NaN outside the ranges.

    Examples
    --------
    >>> round(float(vapour_g_m3(25.0, 50.0)), 2)
    11.48
    """
    share = _between(humidity_percent, 0.0, 100.0) / 100.0
    return 1000.0 * share * saturation_pressure_pa(air_c) / (461.5 * (_floats(air_c) + ZERO_C))


def fitted_transmission(distance_m: ArrayLike, vapour: ArrayLike) -> tuple[Floats, Floats]:
    """Middle line and lower bound of the transmission of air, 8–14 µm.

    Parameters
    ----------
    distance_m : array_like
        Length of the path, 0.5 to 100 m.
    vapour : array_like
        Absolute humidity, 0.97 to 40.8 g/m³.

    Returns
    -------
    middle, lower : ndarray of float
        τ_mid and τ_lo; NaN outside the ranges.

    Notes
    -----
    Fitted between two bounds: vapour continuum only, and all gases from an open k-distribution
    whose bands reach past 8 and 14 µm. The fit errs by up to 0.0043 and 0.0050. For 7.5–13 µm
    the lower bound is within 0.011 of this one up to 30 m.

    References
    ----------
    Own fit. Continuum: Roberts, Selby & Biberman, Appl. Opt. 15 (1976) [coefficients from
    memory]; gases: data of the RRTMGP climate code.

    Examples
    --------
    >>> [round(float(t), 4) for t in fitted_transmission(10.0, 11.483)]
    [0.9884, 0.9788]
    """
    d, rho = np.broadcast_arrays(
        _between(distance_m, *FITTED_DISTANCE_M), _between(vapour, *FITTED_VAPOUR_G_M3)
    )
    middle = np.exp(-(3.469e-4 * d**0.7524 + 3.591e-4 * (rho * d) ** 0.6710 + 7.726e-7 * rho**2 * d))
    lower = np.exp(-(6.963e-4 * d**0.7657 + 7.581e-4 * (rho * d) ** 0.6491 + 6.659e-7 * rho**2 * d))
    return middle, lower


def air_path(
    distance_m: ArrayLike = np.nan,
    air_c: ArrayLike = np.nan,
    humidity_percent: ArrayLike = np.nan,
    *,
    typed_transmission: ArrayLike = np.nan,
    rain_or_fog: ArrayLike = False,
) -> AirPath:
    """Transmission of the air from what is known of it.

    Parameters
    ----------
    distance_m : array_like
        Length of the path, up to 100 m; NaN is not known.
    air_c, humidity_percent : array_like
        Temperature, −45 to 60 °C, and relative humidity of the air; NaN is not known.
    typed_transmission : array_like
        τ that a person typed; it is taken before all else.
    rain_or_fog : array_like of bool
        Then nothing is given.

    Returns
    -------
    AirPath
        The fitted τ where distance, air and humidity are known and within the fit; the assumed
        τ where one is missing or lies outside it.

    Notes
    -----
    *Outside the fit.* The formula is never extrapolated. Paths under 0.5 m, and paths up to 3 m
    through air that is colder or drier than 0 °C 20 %, have a τ between the driest of the fit
    and 1, which 0.996 ± 0.006 holds: no caution. Any other air outside the fit (over 40 °C or
    40.8 g/m³, or a known distance over 3 m without the rest) gives the assumed τ with the
    caution *long path*; so does every path over 30 m. Over 100 m nothing is given.

    The half width of the fit is max(0.005, τ_mid − τ_lo), of a typed τ 0.005.

    Examples
    --------
    >>> known = air_path(10.0, 25.0, 50.0)
    >>> round(float(known.transmission), 4), round(float(known.half_width), 4), bool(known.assumed)
    (0.9884, 0.0096, False)
    >>> float(air_path(air_c=25.0).transmission)
    0.996
    """
    d, air, humidity, typed, wet = np.broadcast_arrays(
        *(_floats(v) for v in (distance_m, air_c, humidity_percent, typed_transmission)),
        np.asarray(rain_or_fog, dtype=bool),
    )
    vapour = vapour_g_m3(air, humidity)
    middle, lower = fitted_transmission(d, np.where(air == _between(air, *FITTED_AIR_C), vapour, np.nan))
    by_hand, assumed = ~np.isnan(typed), np.isnan(middle) & np.isnan(typed)
    refusal = _refusals(d, air, humidity, typed, wet)
    sound = refusal == 0
    tau = np.where(by_hand, typed, np.where(assumed, ASSUMED_TRANSMISSION, middle))
    half = np.where(assumed, ASSUMED_HALF_WIDTH, np.fmax(LEAST_HALF_WIDTH, middle - lower))
    unknown_air = np.isnan(air)
    return AirPath(
        transmission=np.where(sound, tau, np.nan),
        half_width=np.where(sound, np.where(by_hand, LEAST_HALF_WIDTH, half), np.nan),
        air_c=np.where(unknown_air, ASSUMED_AIR_C, air),
        air_half_width_k=np.where(unknown_air, ASSUMED_AIR_HALF_WIDTH_K, 0.0),
        assumed=assumed,
        refusal=refusal,
        caution=np.where(sound & _long(d, air, vapour, assumed), np.uint8(Caution.LONG_PATH), np.uint8(0)),
    )


def _refusals(d: Floats, air: Floats, humidity: Floats, typed: Floats, wet: NDArray[np.bool_]) -> Codes:
    """Only what is known can be wrong."""
    with np.errstate(invalid="ignore"):
        distance = (d <= 0) | (d > FITTED_DISTANCE_M[1])
        climate = (air < _AIR_C[0]) | (air > _AIR_C[1]) | (humidity < 0) | (humidity > 100)
        reasons = {
            Refusal.BAD_WEATHER: wet,
            Refusal.BAD_TRANSMISSION: (typed <= 0) | (typed > 1),
            Refusal.OUT_OF_RANGE: distance | climate,
        }
    found = np.select(list(reasons.values()), [int(code) for code in reasons], default=int(Refusal.NONE))
    return found.astype(np.uint8)


def _long(d: Floats, air: Floats, vapour: Floats, assumed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Over 30 m, or an assumed τ where it is not known to hold the true one."""
    with np.errstate(invalid="ignore"):
        thick = (air > FITTED_AIR_C[1]) | (vapour > FITTED_VAPOUR_G_M3[1])
        unheld = (d > ASSUMED_DISTANCE_M) | (thick & ~(d < FITTED_DISTANCE_M[0]))
        found: NDArray[np.bool_] = (d > INDICATIVE_DISTANCE_M) | (assumed & unheld)
    return found


def _between(values: ArrayLike, low: float, high: float) -> Floats:
    """As floats; NaN outside the range."""
    found = _floats(values)
    with np.errstate(invalid="ignore"):
        return np.where((found >= low) & (found <= high), found, np.nan)


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)
