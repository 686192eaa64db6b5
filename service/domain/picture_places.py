"""Where a picture belongs: by a code in its name, else by its time on the camera's clock, put right."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from service.domain.pictures import MatchedBy
from service.domain.site_clock import on_site_clock

#: A picture belongs to the reading nearest in time, no further away than this (common practice, no source).
NEAREST_READING = timedelta(minutes=5)
#: A stop lasts from its first reading to its last, and so much on either side (common practice, no source).
BESIDE_A_STOP = timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class CameraTime:
    """What the camera's clock showed: ``local`` without zone, ``offset`` where the camera wrote one."""

    local: datetime
    offset: timedelta | None


@dataclass(frozen=True, slots=True)
class RowPlace:
    """A row of the round a picture may be of; ``picture`` is the number typed with its reading."""

    row_id: int
    row_uid: str
    stop_id: int
    view_id: int
    point_id: int
    tag: str
    name: str
    phase: str
    view: str
    equipment: str
    taken_at: datetime | None
    picture: str


@dataclass(frozen=True, slots=True)
class StopPlace:
    stop_id: int
    position: int
    sheet_code: str
    title: str
    site_id: int
    zone: str


@dataclass(frozen=True, slots=True)
class FindingPlace:
    """A hot part met off the round; ``picture`` is the number typed with it."""

    finding_id: int
    picture: str
    title: str
    site_id: int


@dataclass(frozen=True, slots=True)
class Places:
    """All that the pictures of one round may be of."""

    rows: tuple[RowPlace, ...]
    stops: tuple[StopPlace, ...]
    findings: tuple[FindingPlace, ...]


@dataclass(frozen=True, slots=True)
class Match:
    """Where a picture belongs, how that was found, and by which code."""

    matched: MatchedBy
    row: RowPlace | None = None
    stop_id: int | None = None
    finding: FindingPlace | None = None
    code: str = ""


def camera_instant(shot: CameraTime, *, zone: str, ahead_s: float) -> datetime:
    """When the shutter opened, in UTC.

    Parameters
    ----------
    shot : CameraTime
        As the camera wrote it; without an offset it is read on the clock of the site.
    zone : str
        IANA name of the site's zone.
    ahead_s : float
        So much the camera's clock was ahead [s].

    Examples
    --------
    >>> camera_instant(CameraTime(datetime(2026, 7, 1, 9, 0, 30), None), zone="Europe/London", ahead_s=30)
    datetime.datetime(2026, 7, 1, 8, 0, tzinfo=datetime.timezone.utc)
    """
    if shot.offset is not None:
        instant = (shot.local - shot.offset).replace(tzinfo=UTC)
    else:
        found = on_site_clock(shot.local, zone)
        instant = (
            found.instant or on_site_clock(found.unchanged, zone).instant or shot.local.replace(tzinfo=UTC)
        )
    return instant - timedelta(seconds=ahead_s)


def match_picture(file_name: str, taken_at: datetime | None, places: Places) -> Match | None:
    """Where a picture belongs: by a code in its name, else by its time; None where neither says.

    Parameters
    ----------
    file_name : str
        As the camera called it: a picture number typed with a reading, a point's tag or a sheet's
        code in it decide, in this order.
    taken_at : datetime or None
        On a true clock.
    places : Places
        Of its round.
    """
    code = _by_code(stem_of(file_name), places)
    if code is not None and (code.row is not None or code.finding is not None):
        return code
    if code is not None:
        near = _nearest(taken_at, [row for row in places.rows if row.stop_id == code.stop_id])
        return Match(MatchedBy.CODE, row=near, stop_id=code.stop_id, code=code.code)
    row = _nearest(taken_at, places.rows)
    if row is not None:
        return Match(MatchedBy.TIME, row=row, stop_id=row.stop_id)
    stop_id = _within(taken_at, places.rows)
    return None if stop_id is None else Match(MatchedBy.TIME, stop_id=stop_id)


def stem_of(file_name: str) -> str:
    """The name without its kind, in capitals: what a code is looked for in."""
    return file_name.rsplit(".", 1)[0].strip().upper()


def same_picture(typed: str, stem: str) -> bool:
    """Whether a typed picture number means a file: its whole name, or its last number.

    Examples
    --------
    >>> same_picture("TH_0417", "TH_0417"), same_picture("417", "TH_0417"), same_picture("17", "TH_0417")
    (True, True, False)
    """
    wanted = stem_of(typed)
    if not wanted:
        return False
    if wanted == stem:
        return True
    numbers = re.findall(r"\d+", stem)
    return wanted.isascii() and wanted.isdigit() and bool(numbers) and int(numbers[-1]) == int(wanted)


def _by_code(stem: str, places: Places) -> Match | None:
    rows = [row for row in places.rows if same_picture(row.picture, stem)]
    findings = [finding for finding in places.findings if same_picture(finding.picture, stem)]
    if len({row.view_id for row in rows}) + len(findings) == 1:
        if findings:
            return Match(MatchedBy.CODE, finding=findings[0], code=findings[0].picture)
        return Match(MatchedBy.CODE, row=rows[0], stop_id=rows[0].stop_id, code=rows[0].picture)
    if rows or findings:
        return None  # one number for several things: a person must say
    tagged = [row for row in places.rows if _holds(stem, row.tag)]
    if tagged:
        row = max(tagged, key=lambda one: len(one.tag))
        return Match(MatchedBy.CODE, row=row, stop_id=row.stop_id, code=row.tag)
    for stop in places.stops:
        if stop.sheet_code and _holds(stem, stop.sheet_code):
            return Match(MatchedBy.CODE, stop_id=stop.stop_id, code=stop.sheet_code)
    return None


def _holds(stem: str, code: str) -> bool:
    """Whether the code stands in the name by itself, not as part of a longer word or number."""
    return bool(re.search(rf"(?<![A-Z0-9]){re.escape(code.upper())}(?![A-Z0-9])", stem))


def _nearest(taken_at: datetime | None, rows: Iterable[RowPlace]) -> RowPlace | None:
    if taken_at is None:
        return None
    read = [(abs(row.taken_at - taken_at), place, row) for place, row in enumerate(rows) if row.taken_at]
    near = min(read, key=lambda one: one[:2], default=None)
    return near[2] if near is not None and near[0] <= NEAREST_READING else None


def _within(taken_at: datetime | None, rows: Sequence[RowPlace]) -> int | None:
    """The one stop that was being read at this time."""
    if taken_at is None:
        return None
    times: dict[int, list[datetime]] = {}
    for row in rows:
        if row.taken_at is not None:
            times.setdefault(row.stop_id, []).append(row.taken_at)
    found = [
        stop_id
        for stop_id, at in times.items()
        if min(at) - BESIDE_A_STOP <= taken_at <= max(at) + BESIDE_A_STOP
    ]
    return found[0] if len(found) == 1 else None
