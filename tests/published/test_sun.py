"""The sun: its declination, height, rise and set, against Meeus, NREL's example and astropy."""

from datetime import UTC, datetime

import numpy as np
import pytest

from service.physics.sun import AT_HORIZON_DEG, Daylight, elevation_deg, sun_at, sun_day
from tests.published.evidence import BY_HAND, LIBRARY, PUBLISHED, evidence, named

MEEUS = "J. Meeus, Astronomical Algorithms, 2nd ed."
NREL = "Reda & Andreas, NREL/TP-560-34302, Table A5.1"


def unix(*when: int) -> float:
    return datetime(*when, tzinfo=UTC).timestamp()  # type: ignore[misc]


OCTOBER = unix(1992, 10, 13)
GOLDEN = (39.742476, -105.1786)

# found, expected, tolerance, source, clause, kind
PLACES = [
    (sun_at(OCTOBER).declination_deg, -7.78507, 5e-4, MEEUS, "example 25.a, declination", PUBLISHED),
    (
        sun_at(OCTOBER).equation_of_time_min,
        13 + 42.7 / 60,
        5e-3,
        MEEUS,
        "example 28.b, equation of time 13 min 42.7 s",
        PUBLISHED,
    ),
    # the published zenith holds refraction at 820 mbar and 11 °C, a sixtieth of a degree
    (
        elevation_deg(unix(2003, 10, 17, 19, 30, 30), *GOLDEN),
        90 - 50.11162,
        0.02,
        NREL,
        "zenith 50.11162° at 12:30:30",
        PUBLISHED,
    ),
    (elevation_deg(unix(2026, 3, 20, 12), 90.0, 0.0), 0.0, 0.1, "definition", "equinox at the pole", BY_HAND),
]


@pytest.mark.parametrize(("found", "expected", "within"), named(PLACES))
def test_place_of_the_sun(found: float, expected: float, within: float) -> None:
    assert float(found) == pytest.approx(expected, abs=within)


@evidence("astropy", "get_sun in AltAz, 200 instants over the globe", LIBRARY)
def test_height_of_the_sun_against_astropy() -> None:
    """Kind: reference library (astropy.coordinates.get_sun; tables of earth rotation as shipped)."""
    from astropy import units
    from astropy.coordinates import AltAz, EarthLocation, get_sun
    from astropy.time import Time
    from astropy.utils import iers

    draw = np.random.default_rng(20261128)
    seconds = draw.uniform(unix(2005, 1, 1), unix(2025, 1, 1), 200)
    latitude, longitude = draw.uniform(-89, 89, 200), draw.uniform(-179, 179, 200)
    with iers.conf.set_temp("auto_download", False):
        when = Time(seconds, format="unix")
        place = EarthLocation(lat=latitude * units.deg, lon=longitude * units.deg)
        seen = get_sun(when).transform_to(AltAz(obstime=when, location=place)).alt.deg
    assert np.abs(elevation_deg(seconds, latitude, longitude) - seen).max() < 0.02


@evidence("definition", "upper edge on the horizon: centre 0.833° below it", BY_HAND)
def test_at_sunrise_and_sunset_the_sun_stands_on_the_horizon() -> None:
    draw = np.random.default_rng(7)
    latitude, longitude = draw.uniform(-65, 65, 300), draw.uniform(-180, 180, 300)
    noon = unix(2026, 1, 1, 12) + 86400.0 * draw.integers(0, 365, 300) - 240.0 * longitude
    day = sun_day(noon, latitude, longitude)
    assert (day.daylight == Daylight.RISES).all()
    for at in (day.rise_s, day.set_s):
        assert np.abs(elevation_deg(at, latitude, longitude) - AT_HORIZON_DEG).max() < 2e-3
    assert (day.rise_s < day.noon_s).all()
    assert (day.noon_s < day.set_s).all()
    assert (np.abs(day.noon_s - noon) < 43200).all()


# latitude, day, daylight, source, clause, kind
DAYS = [
    (69.65, (2026, 6, 21, 12), Daylight.NEVER_SETS, "polar day", "69.65° north at midsummer", BY_HAND),
    (69.65, (2026, 12, 21, 12), Daylight.NEVER_RISES, "polar night", "69.65° north in December", BY_HAND),
    (-77.85, (2026, 12, 21, 12), Daylight.NEVER_SETS, "polar day", "77.85° south in December", BY_HAND),
    (69.65, (2026, 3, 20, 12), Daylight.RISES, "equinox", "the sun rises everywhere", BY_HAND),
    (91.0, (2026, 3, 20, 12), Daylight.UNKNOWN, "definition", "no such latitude", BY_HAND),
]


@pytest.mark.parametrize(("latitude", "when", "daylight"), named(DAYS))
def test_polar_day_and_night_are_told(
    latitude: float, when: tuple[int, int, int, int], daylight: Daylight
) -> None:
    day = sun_day(unix(*when), latitude, 0.0)
    assert day.daylight == daylight
    assert np.isnan(day.rise_s) == (daylight is not Daylight.RISES)
