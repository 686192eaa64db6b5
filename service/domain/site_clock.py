"""Days and times on a site's clock, on the nights when that clock is changed too."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache, lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError


@dataclass(frozen=True, slots=True)
class ClockTime:
    """A time on a site's clock.

    Attributes
    ----------
    instant : datetime or None
        In UTC; of a time that comes twice, the earlier. None for a time that the clock skips.
    twice : bool
        The clock was put back over it, so that it came twice.
    unchanged : datetime
        What the site's clock showed when one that was not put forward showed a skipped time; for
        any other time, itself.
    """

    instant: datetime | None
    twice: bool
    unchanged: datetime


def zone_of(name: str) -> ZoneInfo:
    """The zone of a name; UTC for one that is not known."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return ZoneInfo("UTC")


@cache
def known_zone(name: str) -> ZoneInfo:
    """The zone of a site, whose name was checked when it was kept."""
    return ZoneInfo(name)


@lru_cache(maxsize=4096)
def local_day(moment: datetime, zone: str) -> date:
    """The day of an instant on a site's calendar."""
    return moment.astimezone(known_zone(zone)).date()


def on_site_clock(typed: datetime, zone: str) -> ClockTime:
    """Read a time without an offset on the clock of a zone.

    Parameters
    ----------
    typed : datetime
        Naive, as on the wall.
    zone : str
        IANA name, for example Europe/London.

    Notes
    -----
    A time that is skipped, and one that comes twice, are those whose offset depends on ``fold``
    (PEP 495): before a skip the offset of ``fold=0`` is the old one, and what is skipped does not
    come back unchanged from UTC.

    Examples
    --------
    >>> on_site_clock(datetime(2026, 10, 25, 1, 30), "Europe/London").twice
    True
    """
    local = typed.replace(tzinfo=zone_of(zone), fold=0)
    instant = local.astimezone(UTC)
    back = instant.astimezone(local.tzinfo).replace(tzinfo=None)
    if back != typed:
        return ClockTime(None, False, back)
    later = local.replace(fold=1)
    before, after = local.utcoffset() or timedelta(), later.utcoffset() or timedelta()
    return ClockTime(instant, before != after, typed)


def instant_at(day: date, minutes: float, *, zone: str) -> datetime:
    """The instant, in UTC, of minutes after midnight as a site's clock shows them.

    Parameters
    ----------
    day : date
        On the site's calendar.
    minutes : float
        As on the wall, 0 at midnight; 1440 and more lies on the days after [min].
    zone : str
        IANA name.

    Notes
    -----
    Of a time that comes twice the earlier one; a time that the clock skips is read on the clock as it
    went before (RFC 5545 §3.3.5 has the same two rules).

    Examples
    --------
    >>> instant_at(date(2026, 7, 1), 7 * 60, zone="Europe/London").isoformat()
    '2026-07-01T06:00:00+00:00'
    """
    found = on_site_clock(datetime.combine(day, time()) + timedelta(minutes=minutes), zone)
    instant = found.instant or on_site_clock(found.unchanged, zone).instant
    assert instant is not None
    return instant


def minute_of_day(value: float) -> str:
    """Minutes after midnight as 08:35, on to the next day where they run past it.

    >>> minute_of_day(515), minute_of_day(1450)
    ('08:35', '00:10')
    """
    hours, rest = divmod(round(value), 60)
    return f"{hours % 24:02d}:{rest:02d}"
