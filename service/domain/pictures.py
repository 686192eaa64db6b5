"""Pictures of a round: thermal and visible, where they belong, and what is drawn on a copy of them."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Any

from service.domain.site_clock import on_site_clock
from service.errors import Problem

#: A picture belongs to the reading nearest in time, no further away than this (common practice, no source).
NEAREST_READING = timedelta(minutes=5)
#: A stop lasts from its first reading to its last, and so much on either side (common practice, no source).
BESIDE_A_STOP = timedelta(minutes=10)
#: what each kind of kept file is told to be, whatever it was called when it came
MEDIA = {
    "jpg": "image/jpeg",
    "png": "image/png",
    "webp": "image/webp",
    "webm": "audio/webm",
    "ogg": "audio/ogg",
    "m4a": "audio/mp4",
}
MOST_MARKS = 24
#: the ends of a mark, in per cent of the picture
ENDS = ("x_from", "y_from", "x_to", "y_to")
LONGEST_WORDS = 60
LONGEST_NOTE = 1000
LONGEST_PHRASE = 160
MOST_PHRASES = 60
#: What a client's list of phrases begins with; ours, to be edited.
FIRST_PHRASES = (
    "Hottest at the bolted joint; the cable beside it is cooler.",
    "Hottest along the cable, not at the joint.",
    "All like parts alike.",
    "Bare metal: read on tape or paint beside it.",
    "Moved to the side and the warm patch moved too: a reflection.",
    "Seen at an angle; the far side was hidden.",
    "Cover opened by the qualified person.",
    "Seen through the inspection window.",
)


class PictureKind(StrEnum):
    THERMAL = "thermal"
    VISIBLE = "visible"


class MatchedBy(StrEnum):
    """How a picture found its place."""

    APP = "app"
    CODE = "code"
    TIME = "time"
    HAND = "hand"


class TimeFrom(StrEnum):
    """Whose clock its time is from."""

    CAMERA = "camera"
    DEVICE = "device"
    TYPED = "typed"


class MarkShape(StrEnum):
    ARROW = "arrow"
    RING = "ring"
    WORDS = "words"


@dataclass(frozen=True, slots=True)
class Mark:
    """One stroke on the copy: ends in per cent of width and height, from the top left.

    An arrow points at its second end; a ring touches the sides of the box between both; words begin
    at the first.
    """

    shape: MarkShape
    x_from: float
    y_from: float
    x_to: float
    y_to: float
    words: str = ""

    def as_dict(self) -> dict[str, Any]:
        return {
            "shape": self.shape.value,
            "x_from": self.x_from,
            "y_from": self.y_from,
            "x_to": self.x_to,
            "y_to": self.y_to,
            "words": self.words,
        }

    @classmethod
    def from_dict(cls, kept: Mapping[str, Any]) -> "Mark":
        x_from, y_from, x_to, y_to = (float(kept[name]) for name in ENDS)
        return cls(MarkShape(kept["shape"]), x_from, y_from, x_to, y_to, str(kept.get("words", "")))


@dataclass(frozen=True, slots=True)
class CameraTime:
    """What the camera's clock showed: ``local`` without zone, ``offset`` where the camera wrote one."""

    local: datetime
    offset: timedelta | None


@dataclass(frozen=True, slots=True)
class Picture:
    """A stored picture; its pixels lie in files and never change.

    ``row_id`` and ``point_id`` are of the point it is of, ``view_id`` of all that it shows: the pair
    of a view belongs to its like parts together. ``sent_hash`` names the bytes as they were sent.
    """

    id: int
    uid: str
    version: int
    site_id: int
    zone: str
    round_id: int | None
    round_code: str
    stop_id: int | None
    row_id: int | None
    row_uid: str
    point_id: int | None
    point_tag: str
    point_name: str
    phase: str
    view_id: int | None
    finding_id: int | None
    kind: PictureKind
    stored_as: str
    preview_as: str
    width: int
    height: int
    frames: int
    sent_hash: str
    taken_at: datetime | None
    time_from: TimeFrom | None
    received_at: datetime
    by: str
    file_name: str
    code: str
    matched: MatchedBy | None
    note: str
    marks: tuple[Mark, ...]
    voice_as: str
    retired_at: datetime | None
    retired_reason: str

    @property
    def placed(self) -> bool:
        """True once it is known what it shows."""
        return self.matched is not None

    @property
    def at(self) -> datetime:
        """When it was taken, as far as it is known; else when it came."""
        return self.taken_at or self.received_at


@dataclass(frozen=True, slots=True)
class Phrases:
    """Common phrases of a client, to be picked into a note."""

    client_id: int
    client: str
    lines: tuple[str, ...]
    version: int


# ---- where a picture belongs --------------------------------------------------------------------


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
    >>> same_picture("IR_0417", "IR_0417"), same_picture("417", "IR_0417"), same_picture("17", "IR_0417")
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


# ---- what is drawn on the copy ------------------------------------------------------------------


def marks_problems(marks: Sequence[Mark]) -> list[Problem]:
    """Everything wrong with what is to be drawn."""
    problems = []
    if len(marks) > MOST_MARKS:
        problems.append(
            Problem("form", "marks", str(len(marks)), f"More than {MOST_MARKS} marks.", "Take some back.")
        )
    for mark in marks:
        problems += [
            Problem("form", name, f"{getattr(mark, name):g}", "Outside the picture.", "0 to 100 per cent.")
            for name in ENDS
            if not 0 <= getattr(mark, name) <= 100
        ]
        if len(mark.words) > LONGEST_WORDS or not mark.words.isprintable():
            problems.append(
                Problem(
                    "form", "words", mark.words[:60], f"At most {LONGEST_WORDS} letters.", "Shorten them."
                )
            )
        if mark.shape is MarkShape.WORDS and not mark.words:
            problems.append(Problem("form", "words", "", "There are no words.", "Type what stands there."))
        elif mark.shape is not MarkShape.WORDS and (mark.x_from, mark.y_from) == (mark.x_to, mark.y_to):
            problems.append(
                Problem("form", "x_to", f"{mark.x_to:g}", "Both ends are one place.", "Move one of them.")
            )
    return problems


def note_with(note: str, phrase: str) -> str:
    """A note with a picked phrase after it."""
    return " ".join(part for part in (note.strip(), phrase.strip()) if part)
