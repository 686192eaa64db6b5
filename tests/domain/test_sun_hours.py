"""Outdoor stops in the sun: on the site's clock, in summer time, in polar day and night."""

from datetime import date, timedelta

import pytest

from service.domain.site_clock import zone_of
from service.domain.sun_hours import AFTER_SUNSET_MIN, SunOfDay, sun_of_day, sun_on_stop
from service.physics.sun import Daylight

JUNE, DECEMBER = date(2026, 6, 21), date(2026, 12, 8)


def sun(day: date, latitude: float = 54.6, longitude: float = -2.7, zone: str = "Europe/London") -> SunOfDay:
    found = sun_of_day(day, latitude_deg=latitude, longitude_deg=longitude, zone=zone)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("zone", "longitude"),
    [("Europe/London", -2.7), ("Pacific/Auckland", 174.8), ("Pacific/Honolulu", -157.9)],
)
def test_the_day_is_that_of_the_site(zone: str, longitude: float) -> None:
    found = sun(DECEMBER, 20.0, longitude, zone)
    assert found.rises_at is not None
    assert found.sets_at is not None
    assert found.rises_at.astimezone(zone_of(zone)).date() == DECEMBER
    assert found.sets_at.astimezone(zone_of(zone)).date() == DECEMBER


def test_a_stop_in_the_sun_is_told_before_and_after_when() -> None:
    one = sun_on_stop(sun(DECEMBER), start_min=12 * 60, end_min=12 * 60 + 10)
    assert one is not None
    assert 10 < one.height_deg < 15  # 90 − 54.6 − 22.7 = 12.7° at noon (by hand)
    assert one.before == sun(DECEMBER).rises_at
    sets = sun(DECEMBER).sets_at
    assert sets is not None
    assert one.after == sets + timedelta(minutes=AFTER_SUNSET_MIN)


@pytest.mark.parametrize("start", [5 * 60, 20 * 60])
def test_in_the_dark_nothing_is_told(start: int) -> None:
    assert sun_on_stop(sun(DECEMBER), start_min=start, end_min=start + 10) is None


def test_just_after_sunset_it_is_still_warm() -> None:
    sets = sun(DECEMBER).sets_at
    assert sets is not None
    local = sets.astimezone(zone_of("Europe/London"))
    minute = 60 * local.hour + local.minute + 10
    one = sun_on_stop(sun(DECEMBER), start_min=minute, end_min=minute + 5)
    assert one is not None
    assert one.height_deg < 0


def test_summer_time_moves_the_clock_not_the_sun() -> None:
    """Sunrise on 21 June at 54.6° north lies about 3:40 UTC, 4:40 on the clock (almanacs, from memory)."""
    assert sun_on_stop(sun(JUNE), start_min=4 * 60 + 10, end_min=4 * 60 + 20) is None
    assert sun_on_stop(sun(JUNE), start_min=5 * 60, end_min=5 * 60 + 10) is not None


def test_polar_day_has_no_hour_without_sun_and_polar_night_none_with_it() -> None:
    north = {"latitude": 69.65, "longitude": 18.96, "zone": "Europe/Oslo"}
    assert sun(JUNE, **north).daylight is Daylight.NEVER_SETS  # type: ignore[arg-type]
    one = sun_on_stop(sun(JUNE, **north), start_min=0, end_min=10)  # type: ignore[arg-type]
    assert one is not None
    assert (one.before, one.after) == (None, None)
    assert sun_on_stop(sun(DECEMBER, **north), start_min=720, end_min=730) is None  # type: ignore[arg-type]


def test_without_a_place_nothing_is_made_up() -> None:
    assert sun_of_day(JUNE, latitude_deg=None, longitude_deg=1.0, zone="UTC") is None
