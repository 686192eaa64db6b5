"""Work that follows: what a job is, how long a lease lasts and when a failed one is tried again."""

from dataclasses import dataclass, field
from datetime import timedelta
from enum import StrEnum
from typing import Any

#: A worker that has not renewed for so long is taken for dead.
LEASE = timedelta(seconds=60)
#: After so many attempts a job is left *failed* for a person to look at.
MOST_ATTEMPTS = 5
FIRST_DELAY = timedelta(seconds=2)
LONGEST_DELAY = timedelta(minutes=15)


class JobKind(StrEnum):
    """What the service does by itself; each is idempotent, since a killed worker's job runs again."""

    ASSESS_TRENDS = "assess trends"
    REFRESH_DUE = "refresh due"
    SWEEP_EXPIRED = "sweep expired"
    DRAW_UP_PLAN = "draw up plan"


class JobState(StrEnum):
    READY = "ready"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Job:
    """One claimed job; ``worker`` and ``attempt`` together name the lease it is held under."""

    id: int
    kind: str
    worker: str
    attempt: int
    payload: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class JobCounts:
    """How many jobs are in each state, for those who look after the service."""

    ready: int = 0
    running: int = 0
    done: int = 0
    failed: int = 0


def delay_after(attempt: int) -> timedelta:
    """How long to wait after a failed attempt: 2 s, 8 s, 32 s …, at most a quarter of an hour.

    >>> delay_after(2).total_seconds()
    8.0
    """
    return min(LONGEST_DELAY, FIRST_DELAY * int(4 ** (attempt - 1)))
