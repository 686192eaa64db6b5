"""Pictures of a round: thermal and visible, and what is drawn on a copy of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from service.errors import Problem

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
    """What a picture is; a drawing (single line, or where a thing stands) is of a place, not of a visit."""

    THERMAL = "thermal"
    VISIBLE = "visible"
    DRAWING = "drawing"


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
