"""Questions about single points, sent back to those who walked the round."""

from dataclasses import dataclass
from datetime import datetime

LONGEST = 1000


@dataclass(frozen=True, slots=True)
class RoundQuestion:
    """A question about one row of a round; ``answered_at`` None: it is open."""

    id: int
    round_id: int
    row_uid: str
    stop_id: int
    point_id: int
    point_tag: str
    point_title: str
    question: str
    asked_at: datetime
    asked_by: str
    answer: str
    answered_at: datetime | None
    answered_by: str
    version: int

    @property
    def open(self) -> bool:
        return self.answered_at is None
