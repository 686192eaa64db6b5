"""Where the sun stands: its height over the horizon, and when it rises and sets."""

from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

#: Height of the sun's centre when its upper edge touches the horizon: half its width and refraction [deg].
AT_HORIZON_DEG = -0.833
_DAY_S, _MIN_S = 86400.0, 60.0
#: Julian date of the Unix epoch and of J2000.0, and days of a Julian century.
_JD_UNIX, _JD_J2000, _CENTURY_DAYS = 2440587.5, 2451545.0, 36525.0
#: Minutes that the sky turns through one degree.
_MIN_PER_DEG = 4.0
_ROUNDS = 4


class Daylight(IntEnum):
    """What the sun does on a day at a place."""

    RISES = 0
    NEVER_SETS = 1
    NEVER_RISES = 2
    UNKNOWN = 3


class Sun(NamedTuple):
    """Declination [deg], and what a sundial is ahead of the clock [min]."""

    declination_deg: Floats
    equation_of_time_min: Floats


class SunDay(NamedTuple):
    """Seconds since 1970 UTC of noon, rise and set; rise and set NaN where ``daylight`` is not RISES."""

    noon_s: Floats
    rise_s: Floats
    set_s: Floats
    daylight: NDArray[np.uint8]


def sun_at(unix_s: ArrayLike) -> Sun:
    """Declination of the sun and the equation of time.

    Parameters
    ----------
    unix_s : array_like
        Instant [s since 1970-01-01 UTC].

    Returns
    -------
    Sun

    Notes
    -----
    Low accuracy (0.01° of longitude), without the difference between clock and ephemeris time
    (about a minute: 0.0007°). Valid for some centuries about 2000.

    References
    ----------
    J. Meeus, Astronomical Algorithms, 2nd ed. 1998, chapter 25 (low accuracy) and eq. 28.3, with
    the coefficients of NOAA's solar calculator.

    Examples
    --------
    >>> sun = sun_at(718934400.0)  # 1992-10-13 00:00
    >>> round(float(sun.declination_deg), 3), round(float(sun.equation_of_time_min), 2)
    (-7.785, 13.71)
    """
    t = _centuries(unix_s)
    mean = np.mod(280.46646 + t * (36000.76983 + 0.0003032 * t), 360.0)
    anomaly = np.radians(357.52911 + t * (35999.05029 - 0.0001537 * t))
    eccentricity = 0.016708634 - t * (0.000042037 + 0.0000001267 * t)
    node = np.radians(125.04 - 1934.136 * t)
    longitude = np.radians(mean + _centre_deg(t, anomaly) - 0.00569 - 0.00478 * np.sin(node))
    tilt = np.radians(_mean_tilt_deg(t) + 0.00256 * np.cos(node))
    y = np.tan(tilt / 2.0) ** 2
    two_l = 2.0 * np.radians(mean)
    equation = (
        y * np.sin(two_l)
        - 2.0 * eccentricity * np.sin(anomaly)
        + 4.0 * eccentricity * y * np.sin(anomaly) * np.cos(two_l)
        - 0.5 * y**2 * np.sin(2.0 * two_l)
        - 1.25 * eccentricity**2 * np.sin(2.0 * anomaly)
    )
    declination = np.degrees(np.arcsin(np.sin(tilt) * np.sin(longitude)))
    return Sun(declination, _MIN_PER_DEG * np.degrees(equation))


def _centuries(unix_s: ArrayLike) -> Floats:
    seconds = np.asarray(unix_s, dtype=np.float64)
    found: Floats = (seconds / _DAY_S + _JD_UNIX - _JD_J2000) / _CENTURY_DAYS
    return found


def _centre_deg(t: Floats, anomaly: Floats) -> Floats:
    """Equation of the centre [deg]."""
    found: Floats = (
        np.sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t))
        + np.sin(2.0 * anomaly) * (0.019993 - 0.000101 * t)
        + np.sin(3.0 * anomaly) * 0.000289
    )
    return found


def _mean_tilt_deg(t: Floats) -> Floats:
    """Mean obliquity of the ecliptic [deg]."""
    return 23.0 + (26.0 + (21.448 - t * (46.815 + t * (0.00059 - t * 0.001813))) / 60.0) / 60.0


def elevation_deg(unix_s: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Floats:
    """Height of the sun's centre over the horizon, without refraction.

    Parameters
    ----------
    unix_s : array_like
        Instant [s since 1970-01-01 UTC].
    latitude_deg, longitude_deg : array_like
        Of the place [deg], north and east positive.

    Returns
    -------
    ndarray of float
        [deg]; NaN outside ±90° and ±180°.

    References
    ----------
    Meeus, eq. 13.6, as `sun_at`.

    Examples
    --------
    >>> round(float(elevation_deg(1066419030.0, 39.742476, -105.1786)), 1)  # 2003-10-17 19:30:30
    39.9
    """
    latitude, longitude = _place(latitude_deg, longitude_deg)
    sun = sun_at(unix_s)
    seconds = np.asarray(unix_s, dtype=np.float64)
    solar_min = np.mod(seconds, _DAY_S) / _MIN_S + sun.equation_of_time_min + _MIN_PER_DEG * longitude
    hour = np.radians(solar_min / _MIN_PER_DEG - 180.0)
    phi, delta = np.radians(latitude), np.radians(sun.declination_deg)
    sine = np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.cos(hour)
    found: Floats = np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))
    return found


def sun_day(near_noon_s: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> SunDay:
    """Noon, sunrise and sunset of the solar day whose noon lies nearest to an instant.

    Parameters
    ----------
    near_noon_s : array_like
        Noon on the clock of the place on that day [s since 1970-01-01 UTC].
    latitude_deg, longitude_deg : array_like
        Of the place [deg], north and east positive.

    Returns
    -------
    SunDay
        Polar day and night by ``daylight``; all NaN and UNKNOWN outside ±90° and ±180°.

    Notes
    -----
    Horizon level and free, sun's upper edge, standard refraction. A minute or better up to 72°
    of latitude, ten minutes beyond; hills, walls and weather are not in it.

    References
    ----------
    NOAA solar calculator; Meeus, chapter 15.

    Examples
    --------
    >>> day = sun_day(718977600.0, 0.0, 0.0)
    >>> round(float(day.set_s - day.rise_s) / 60), int(day.daylight)
    (727, 0)
    """
    latitude, longitude = _place(latitude_deg, longitude_deg)
    near = np.asarray(near_noon_s, dtype=np.float64) + 0.0 * latitude
    noon = _nearest_noon(near, longitude)
    half, cosine = _half_day_s(noon, latitude)
    rise, sets = noon - half, noon + half
    for _ in range(_ROUNDS):
        rise = _noon_by(noon, rise) - _half_day_s(rise, latitude)[0]
        sets = _noon_by(noon, sets) + _half_day_s(sets, latitude)[0]
    lost = np.isnan(rise) | np.isnan(sets)
    daylight = np.select(
        [np.isnan(cosine), (cosine > 1.0) | (lost & (cosine > 0.0)), (cosine < -1.0) | lost],
        [Daylight.UNKNOWN, Daylight.NEVER_RISES, Daylight.NEVER_SETS],
        Daylight.RISES,
    ).astype(np.uint8)
    rises = daylight == Daylight.RISES
    return SunDay(noon, np.where(rises, rise, np.nan), np.where(rises, sets, np.nan), daylight)


def _nearest_noon(near: Floats, longitude: Floats) -> Floats:
    """The sun's noon nearest to an instant: the equation of time as it is then."""
    ahead = sun_at(near).equation_of_time_min * _MIN_S
    off = (720.0 - _MIN_PER_DEG * longitude) * _MIN_S - ahead
    found: Floats = off + _DAY_S * np.round((near - off) / _DAY_S)
    return found


def _noon_by(noon: Floats, at: Floats) -> Floats:
    """Noon of the same day by the equation of time at another instant of it."""
    return noon + (sun_at(noon).equation_of_time_min - sun_at(at).equation_of_time_min) * _MIN_S


def _half_day_s(at: Floats, latitude: Floats) -> tuple[Floats, Floats]:
    """Half the time for which the sun is up by its declination at an instant, and the cosine of its angle."""
    phi, delta = np.radians(latitude), np.radians(sun_at(at).declination_deg)
    with np.errstate(invalid="ignore", divide="ignore"):
        cosine = (np.sin(np.radians(AT_HORIZON_DEG)) - np.sin(phi) * np.sin(delta)) / (
            np.cos(phi) * np.cos(delta)
        )
        angle = np.degrees(np.arccos(np.where(np.abs(cosine) <= 1.0, cosine, np.nan)))
    return angle * _MIN_PER_DEG * _MIN_S, cosine


def _place(latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[Floats, Floats]:
    latitude = np.asarray(latitude_deg, dtype=np.float64)
    longitude = np.asarray(longitude_deg, dtype=np.float64)
    sound = (np.abs(latitude) <= 90.0) & (np.abs(longitude) <= 180.0)
    return np.where(sound, latitude, np.nan), np.where(sound, longitude, np.nan)
