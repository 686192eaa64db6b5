"""What the trends would have said of past visits, and what became of it."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from statistics import median

from service.domain.words import Found, ReferenceKind


class Came(StrEnum):
    """What became of a flag."""

    FAULT = "fault found"
    MENDED = "mended, and the repair held"
    PASSED = "passed its line"
    NO_FAULT = "no fault found"
    WRONG_LOAD = "the load was wrong"
    WENT = "went by itself"
    CUT = "ended by a repair or a change"
    WAITS = "being decided"
    STANDS = "still standing"

    @property
    def right(self) -> bool:
        return self in (Came.FAULT, Came.MENDED, Came.PASSED)

    @property
    def wrong(self) -> bool:
        return self in (Came.NO_FAULT, Came.WRONG_LOAD, Came.WENT)


@dataclass(frozen=True, slots=True)
class Ending:
    """A finding on a point: when it was opened, whether it still waits, and how its last repair went."""

    finding_id: int
    point_id: int
    opened_on: date
    live: bool
    repaired_on: date | None
    proven: bool
    found: str | None


@dataclass(frozen=True, slots=True)
class Passing:
    """A reading that was judged at Plan repair or worse."""

    point_id: int
    on: date
    level: int


@dataclass(frozen=True, slots=True)
class PastFlag:
    """One flag: told when, confirmed when, and what came of it.

    ``line_on`` is the first day on which a reading by itself said Plan repair or worse, from the
    first sign on; ``forecast_from`` and ``forecast_to`` the range that was told of the Act-now
    line when the flag was confirmed (``forecast_to`` None where open), ``reached_on`` the day on
    which a reading passed it.
    """

    point_id: int
    where: str
    reference: ReferenceKind
    first_on: date
    confirmed_on: date | None
    ended_on: date | None
    came: Came
    finding_id: int | None
    line_on: date | None
    forecast_from: date | None = None
    forecast_to: date | None = None
    reached_on: date | None = None

    @property
    def lead_days(self) -> int | None:
        """How long before the readings alone; None where they never said so."""
        return None if self.line_on is None else (self.line_on - self.first_on).days

    def held(self, today: date) -> bool | None:
        """Whether the range held the day; None while nobody can know."""
        if self.forecast_from is None:
            return None
        if self.reached_on is not None:
            return self.forecast_from <= self.reached_on and (
                self.forecast_to is None or self.reached_on <= self.forecast_to
            )
        gone_by = self.forecast_to is not None and self.forecast_to < (self.ended_on or today)
        return False if gone_by else None


@dataclass(frozen=True, slots=True)
class LineChoice:
    """What every line so much higher or lower would have told of the same visits."""

    shift: float
    flags: int
    per_100_years: float
    right: int
    wrong: int
    lead_days: float | None


@dataclass(frozen=True, slots=True)
class RoundOffset:
    """What the points of one round shared: a kelvin as measured, with its standard uncertainty."""

    site: str
    on: date
    reference: ReferenceKind
    offset_k: float
    u_k: float
    members: int


@dataclass(frozen=True, slots=True)
class Hindsight:
    """The look back of some sites."""

    site_id: int | None
    sites: tuple[tuple[int, str], ...]
    points: int
    years: float
    flags: tuple[PastFlag, ...]
    choices: tuple[LineChoice, ...]
    offsets: tuple[RoundOffset, ...]

    @property
    def right(self) -> int:
        return sum(flag.came.right for flag in self.flags)

    @property
    def wrong(self) -> int:
        return sum(flag.came.wrong for flag in self.flags)

    @property
    def wrong_per_100_years(self) -> float | None:
        """Wrong flags per 100 points a year; None where nobody watched."""
        return self.wrong / self.years * 100 if self.years > 0 else None

    def ranges(self, today: date) -> tuple[int, int]:
        """Told ranges that held, of those of which it is known."""
        known = [held for flag in self.flags if (held := flag.held(today)) is not None]
        return sum(known), len(known)


def what_came(
    first_on: date,
    ended_on: date | None,
    endings: tuple[Ending, ...],
    passings: tuple[Passing, ...],
    *,
    cut: bool = False,
) -> tuple[Came, Ending | None]:
    """What became of a flag, by the finding that followed it or, without one, by the readings.

    A finding belongs to the flag when it was still open after the first sign and was opened before
    the flag ended: it may have been opened for another reason, and repaired because of this one.
    ``cut`` says that a repair or another cut ended the flag.
    """
    belongs = [
        one
        for one in endings
        if (ended_on is None or one.opened_on <= ended_on)
        and (one.live or one.repaired_on is None or one.repaired_on >= first_on)
        and (one.repaired_on is not None or one.live)
    ]
    ending = belongs[0] if belongs else None
    passed = any(one.level >= 3 and one.on >= first_on for one in passings)
    if ending is not None and ending.found is not None:
        return Came(Found(ending.found).value), ending
    if ending is not None and ending.proven:
        return Came.MENDED, ending
    if passed:
        return Came.PASSED, ending
    if ending is not None and ending.live:
        return Came.WAITS, ending
    if cut:
        return Came.CUT, ending
    return (Came.STANDS if ended_on is None else Came.WENT), ending


def middle_lead(flags: tuple[PastFlag, ...]) -> float | None:
    """Median of the days gained by the flags that proved right."""
    known = [flag.lead_days for flag in flags if flag.came.right and flag.lead_days is not None]
    return float(median(known)) if known else None
