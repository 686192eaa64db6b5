"""Notes that are spoken on a walk to a reading or a stop: kept as recorded, never opened."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

#: longest reason for taking one back
LONGEST_REASON = 500


class SpokenKind(StrEnum):
    """What a recording may be; the value is the end of its kept name."""

    WEBM = "webm"
    OGG = "ogg"
    MP4 = "m4a"

    @property
    def media_type(self) -> str:
        return {"webm": "audio/webm", "ogg": "audio/ogg", "m4a": "audio/mp4"}[self.value]


@dataclass(frozen=True, slots=True)
class SpokenNote:
    """One recording as it is kept.

    ``row_uid`` and ``point_id`` are those of the reading it speaks of; without them it speaks of its
    stop as a whole. ``taken_at`` is on a true clock; None where the device's could not be believed.
    """

    id: int
    uid: str
    site_id: int
    zone: str
    round_id: int
    round_code: str
    stop_id: int
    stop: str
    row_uid: str
    point_id: int | None
    point_tag: str
    point: str
    kind: SpokenKind
    content_hash: str
    stored_as: str
    size_bytes: int
    taken_at: datetime | None
    received_at: datetime
    by: str
    taken_back_at: datetime | None
    taken_back_by: str
    taken_back_reason: str

    @property
    def at(self) -> datetime:
        """When it was spoken, as far as it is known; else when it came."""
        return self.taken_at or self.received_at

    @property
    def about(self) -> str:
        """What it speaks of, as people call it."""
        return f"{self.stop}: {self.point}" if self.point else self.stop
