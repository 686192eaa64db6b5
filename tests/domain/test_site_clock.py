"""Times typed on a site's clock: an ordinary day, the skipped hour, the hour that comes twice.

The nights of change are published: Directive 2000/84/EC, articles 2 and 3 (last Sundays of March and
October, 01:00 UTC), for Great Britain the Summer Time Order 2002; Lord Howe Island changes by half
an hour (IANA tz database, file australasia).
"""

from datetime import UTC, datetime, timedelta

import pytest

from service.domain.site_clock import on_site_clock, zone_of

#: wall clock, zone, instant, comes twice
KNOWN = [
    ("2026-07-01 12:00", "Europe/London", "2026-07-01 11:00", False),
    ("2026-01-15 12:00", "Europe/London", "2026-01-15 12:00", False),
    ("2026-03-29 00:59", "Europe/London", "2026-03-29 00:59", False),
    ("2026-03-29 02:00", "Europe/London", "2026-03-29 01:00", False),
    ("2026-10-25 00:59", "Europe/London", "2026-10-24 23:59", False),
    ("2026-10-25 01:00", "Europe/London", "2026-10-25 00:00", True),
    ("2026-10-25 01:59", "Europe/London", "2026-10-25 00:59", True),
    ("2026-10-25 02:00", "Europe/London", "2026-10-25 02:00", False),
    ("2026-10-25 02:30", "Europe/Berlin", "2026-10-25 00:30", True),
    ("2026-04-05 01:45", "Australia/Lord_Howe", "2026-04-04 14:45", True),
    ("2026-06-01 12:00", "Asia/Kathmandu", "2026-06-01 06:15", False),
    ("2026-06-01 12:00", "Nowhere/Atall", "2026-06-01 12:00", False),
]
#: wall clock, zone, what the clock showed then
SKIPPED = [
    ("2026-03-29 01:00", "Europe/London", "2026-03-29 02:00"),
    ("2026-03-29 01:30", "Europe/London", "2026-03-29 02:30"),
    ("2026-03-29 02:59", "Europe/Berlin", "2026-03-29 03:59"),
    ("2026-10-04 02:15", "Australia/Lord_Howe", "2026-10-04 02:45"),
]


@pytest.mark.parametrize(("typed", "zone", "instant", "twice"), KNOWN)
def test_a_time_on_the_clock_is_its_instant_and_of_two_the_earlier(
    typed: str, zone: str, instant: str, twice: bool
) -> None:
    found = on_site_clock(datetime.fromisoformat(typed), zone)
    assert found.instant == datetime.fromisoformat(instant).replace(tzinfo=UTC)
    assert found.twice is twice


@pytest.mark.parametrize(("typed", "zone", "unchanged"), SKIPPED)
def test_a_time_that_never_was_is_no_instant_and_names_the_one_meant(
    typed: str, zone: str, unchanged: str
) -> None:
    found = on_site_clock(datetime.fromisoformat(typed), zone)
    assert found.instant is None
    assert found.unchanged == datetime.fromisoformat(unchanged)


@pytest.mark.parametrize("zone", ["Europe/London", "America/St_Johns", "Australia/Lord_Howe", "UTC"])
def test_every_instant_of_a_year_is_found_again_from_what_the_wall_showed(zone: str) -> None:
    at, local = datetime(2026, 1, 1, tzinfo=UTC), zone_of(zone)
    for _ in range(2 * 24 * 365):
        at += timedelta(minutes=30)
        found = on_site_clock(at.astimezone(local).replace(tzinfo=None), zone)
        assert found.instant is not None
        assert found.instant == at or (found.twice and found.instant < at)
