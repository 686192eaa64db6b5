"""What waits for a decision, and in which order it is looked at."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.domain.losses import Loss
from service.domain.words import Level


class Waiting(StrEnum):
    """Why something is on the Desk, gravest kind first."""

    TELL = "Act now: nobody told yet"
    DECIDE = "above Nothing found, no decision yet"
    NOT_PROVEN = "repair not proven"
    TAKEN_BACK = "Act now whose reading no longer says so"
    OVERDUE = "decision overdue"
    OFF_ROUND = "met off the round, not in the register"
    HELD = "sent to a round that no longer takes it"
    DOUBLE = "two readings of one point"
    READ_AGAIN = "repaired, not read again in 30 days"
    QUESTION = "question sent back, no answer yet"
    NO_PERMIT = "read with no permit recorded"
    CARRIED_OVER = "carried over again and again"
    REVIEW = "set aside, review is due"
    SIGN_OFF = "round returned, not signed off"


_RANK = {
    Waiting.TELL: 100,
    Waiting.NOT_PROVEN: 60,
    Waiting.TAKEN_BACK: 55,
    Waiting.OVERDUE: 50,
    Waiting.OFF_ROUND: 45,
    Waiting.HELD: 42,
    Waiting.DOUBLE: 40,
    Waiting.READ_AGAIN: 35,
    Waiting.QUESTION: 32,
    Waiting.NO_PERMIT: 30,
    Waiting.CARRIED_OVER: 25,
    Waiting.SIGN_OFF: 15,
}


@dataclass(frozen=True, slots=True)
class DeskItem:
    """One thing that waits: what, where, since when and which thing it is about."""

    waiting: Waiting
    since: date
    site_id: int
    site_name: str
    title: str
    detail: str
    level: Level | None = None
    point_id: int | None = None
    finding_id: int | None = None
    round_id: int | None = None
    held_id: int | None = None
    equipment_id: int | None = None
    value_k: float | None = None
    loss: Loss | None = None

    @property
    def gravity(self) -> int:
        """Act now above everything else; then kind and level together."""
        level = 0 if self.level is None else int(self.level)
        if self.waiting is Waiting.DECIDE:
            return 95 if self.level is Level.ACT_NOW else 20 * level
        if self.waiting is Waiting.REVIEW:
            return 20 * max(1, level)  # it waits to be decided anew
        return _RANK[self.waiting] + level


def in_order(items: list[DeskItem]) -> list[DeskItem]:
    """Gravest first, of equals what may cost most, then the oldest."""
    return sorted(items, key=lambda i: (-i.gravity, -(i.loss.expected if i.loss else 0), i.since, i.title))
