"""Date and time as people type them, on the clock of a site, to an instant."""

import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from service.domain.cells import Cell

EARLIEST, LATEST = 1970, 2100
#: How far from the round's day a day may lie when the order of its day and month is in doubt.
NEAR = timedelta(days=62)

_ISO = re.compile(
    r"(\d{4})-(\d{2})-(\d{2})[ T](\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s?(Z|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE | re.ASCII,
)
_DAY_FIRST = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})(?:[ ,]+(\d{1,2}):(\d{2})(?::(\d{2}))?)?", re.ASCII)
_EITHER = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})(?:[ ,]+(\d{1,2}):(\d{2})(?::(\d{2}))?)?", re.ASCII)
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", re.ASCII)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


class Clock:
    """Reads moments for one round; remembers what it has read, since rows share their minutes.

    A moment without an offset stands on the site's clock; a clock time alone means the round's
    day; a day alone means the round's start on that day.
    """

    def __init__(self, planned_on: date, start_min: int) -> None:
        self.planned_on = planned_on
        self.start = time(start_min // 60, start_min % 60)
        self._known: dict[tuple[Cell, str], tuple[datetime, bool] | None] = {}
        self._zones: dict[str, ZoneInfo] = {}

    def zone(self, name: str) -> ZoneInfo:
        found = self._zones.get(name)
        if found is None:
            try:
                found = ZoneInfo(name)
            except (ZoneInfoNotFoundError, ValueError):
                found = ZoneInfo("UTC")
            self._zones[name] = found
        return found

    def planned_start(self, zone: str) -> datetime:
        return datetime.combine(self.planned_on, self.start, self.zone(zone)).astimezone(UTC)

    def read(self, cell: Cell, zone: str) -> tuple[datetime, bool] | None:
        """The instant, and whether a clock time was typed; None when the cell is no moment."""
        mark = (cell, zone)
        if mark not in self._known:
            self._known[mark] = self._read(cell, zone)
        return self._known[mark]

    def _read(self, cell: Cell, zone: str) -> tuple[datetime, bool] | None:
        try:
            local = self._local(cell)
            if local is None or not EARLIEST <= local[0].year <= LATEST:
                return None
            moment, typed = local
            if moment.tzinfo is None:
                moment = moment.replace(tzinfo=self.zone(zone))
            return moment.astimezone(UTC), typed
        except (ValueError, OverflowError):
            return None

    def _local(self, cell: Cell) -> tuple[datetime, bool] | None:
        if isinstance(cell, datetime):
            return cell, True
        if isinstance(cell, date):
            return datetime.combine(cell, self.start), False
        if isinstance(cell, time):
            return datetime.combine(self.planned_on, cell), True
        return self._of_text(cell.strip()) if isinstance(cell, str) else None

    def _of_text(self, text: str) -> tuple[datetime, bool] | None:
        iso = _ISO.fullmatch(text)
        if iso:
            return _of_iso(iso), True
        if _DAY.fullmatch(text):
            return datetime.combine(date.fromisoformat(text), self.start), False
        clock = _CLOCK.fullmatch(text)
        if clock:
            hour, minute, second = (int(part or 0) for part in clock.groups())
            return datetime.combine(self.planned_on, time(hour, minute, second)), True
        for pattern in (_DAY_FIRST, _EITHER):
            found = pattern.fullmatch(text)
            if found:
                return self._of_parts(found, either=pattern is _EITHER)
        return None

    def _of_parts(self, found: re.Match[str], *, either: bool) -> tuple[datetime, bool] | None:
        first, second, year, *clock = found.groups()
        day = self._day(int(first), int(second), int(year), either=either)
        if day is None:
            return None
        if clock[0] is None:
            return datetime.combine(day, self.start), False
        return datetime.combine(day, _time_of(clock)), True

    def _day(self, first: int, second: int, year: int, *, either: bool) -> date | None:
        """With slashes two days may be meant: the one near the round, if only one is."""
        readings = {(second, first), (first, second)} if either else {(second, first)}
        days = set()
        for month, day in readings:
            try:
                days.add(date(year, month, day))
            except ValueError:
                continue
        if len(days) > 1:
            days = {day for day in days if abs(day - self.planned_on) <= NEAR}
        return days.pop() if len(days) == 1 else None


def _of_iso(found: re.Match[str]) -> datetime:
    year, month, day, hour, minute, second, fraction, offset = found.groups()
    # a leap second is the last second of its minute to every clock that a camera has
    seconds = min(int(second or 0), 59)
    micro = int((fraction or "0").ljust(6, "0")[:6])
    moment = datetime(  # noqa: DTZ001 - on the clock of the site, if no offset follows
        int(year), int(month), int(day), int(hour), int(minute), seconds, micro
    )
    if offset is None:
        return moment
    if offset in "Zz":
        return moment.replace(tzinfo=UTC)
    sign = -1 if offset[0] == "-" else 1
    hours, minutes = int(offset[1:3]), int(offset[-2:])
    if hours > 23 or minutes > 59:
        raise ValueError(offset)
    return (moment - sign * timedelta(hours=hours, minutes=minutes)).replace(tzinfo=UTC)


def _time_of(parts: Sequence[str | None]) -> time:
    """Hour, minute and, where typed, second."""
    hour, minute, second = ([int(part or 0) for part in parts] + [0, 0])[:3]
    return time(hour, minute, second)
