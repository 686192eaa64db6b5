"""Hours in which the sun may load what stands outdoors, on the clock of its site."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from service.domain.site_clock import on_site_clock, zone_of
from service.physics.sun import Daylight, elevation_deg, sun_day

#: What the sun has warmed keeps it for a while: wait so long after sunset (own rule, no source) [min].
AFTER_SUNSET_MIN = 60
WARM_RULE = f"{AFTER_SUNSET_MIN} min after sunset: own rule, no source"


@dataclass(frozen=True, slots=True)
class SunOfDay:
    """What the sun does at a site on a day; instants are None on days without them."""

    day: date
    zone: str
    latitude_deg: float
    longitude_deg: float
    daylight: Daylight
    rises_at: datetime | None
    sets_at: datetime | None

    @property
    def clear_after(self) -> datetime | None:
        """From when on what stood in the sun counts as cooled."""
        return None if self.sets_at is None else self.sets_at + timedelta(minutes=AFTER_SUNSET_MIN)


@dataclass(frozen=True, slots=True)
class SunOnStop:
    """A stop read while the sun may load it, or just after: ``height_deg`` below 0 after sunset."""

    height_deg: float
    before: datetime | None
    after: datetime | None


def sun_of_day(
    day: date, *, latitude_deg: float | None, longitude_deg: float | None, zone: str
) -> SunOfDay | None:
    """Sunrise and sunset of a day on a site; None where its place is not on record.

    Parameters
    ----------
    day : date
        On the site's clock.
    latitude_deg, longitude_deg : float or None
        Of the site [deg].
    zone : str
        IANA name of its time zone.
    """
    if latitude_deg is None or longitude_deg is None:
        return None
    noon = datetime.combine(day, time(12), zone_of(zone)).timestamp()
    found = sun_day(noon, latitude_deg, longitude_deg)
    return SunOfDay(
        day=day,
        zone=zone,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        daylight=Daylight(int(found.daylight)),
        rises_at=_instant(float(found.rise_s)),
        sets_at=_instant(float(found.set_s)),
    )


def _instant(unix_s: float) -> datetime | None:
    return None if unix_s != unix_s else datetime.fromtimestamp(round(unix_s), UTC)


def sun_on_stop(sun: SunOfDay, *, start_min: float, end_min: float) -> SunOnStop | None:
    """Whether a stay lies in the hours of sun or just after them; None where it does not.

    Parameters
    ----------
    sun : SunOfDay
        Of the site on that day.
    start_min, end_min : float
        The stay on the clock of the site [min from midnight].
    """
    start, end = _at(sun, start_min), _at(sun, end_min)
    if sun.daylight in (Daylight.NEVER_RISES, Daylight.UNKNOWN):
        return None
    height = max(_height(sun, start), _height(sun, end))
    if sun.rises_at is None or sun.clear_after is None:
        return SunOnStop(height, None, None)
    if end <= sun.rises_at or start >= sun.clear_after:
        return None
    return SunOnStop(height, sun.rises_at, sun.clear_after)


def _height(sun: SunOfDay, at: datetime) -> float:
    return float(elevation_deg(at.timestamp(), sun.latitude_deg, sun.longitude_deg))


def _at(sun: SunOfDay, minute: float) -> datetime:
    typed = datetime.combine(sun.day, time()) + timedelta(minutes=round(minute))
    moment = on_site_clock(typed, sun.zone)
    return moment.instant or typed.replace(tzinfo=zone_of(sun.zone)).astimezone(UTC)


@dataclass(frozen=True, slots=True)
class SunHours:
    """When the sun may load what stands outdoors on a day [min from local midnight]; equal ends: not at all."""

    from_min: float
    to_min: float


def hours_of_sun(sun: SunOfDay | None) -> SunHours | None:
    """The hours of a day in which the sun loads a site; None where the place of the site is not on record."""
    if sun is None or sun.daylight is Daylight.UNKNOWN:
        return None
    if sun.daylight is Daylight.NEVER_RISES:
        return SunHours(0.0, 0.0)
    if sun.rises_at is None or sun.clear_after is None:
        return SunHours(0.0, 24.0 * 60.0)
    return SunHours(_minute(sun, sun.rises_at), _minute(sun, sun.clear_after))


def _minute(sun: SunOfDay, at: datetime) -> float:
    local = at.astimezone(zone_of(sun.zone))
    return (local.date() - sun.day).days * 24 * 60 + local.hour * 60.0 + local.minute
