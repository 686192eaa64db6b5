"""Checks of an instrument against a reference: at the start, at the end, after a drop."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from service.errors import Problem

#: what may be typed [°C], as for readings
LOWEST_C, HIGHEST_C = -90.0, 2000.0
LONGEST_NOTE = 500
EARLIEST_YEAR = 1970
#: decimals as typed are not what binary numbers hold: 32.2 − 30.2 is a little more than 2
_SLACK_K = 1e-6


class Occasion(StrEnum):
    START = "start"
    END = "end"
    AFTER_DROP = "after a drop"


class Outcome(StrEnum):
    WITHIN = "within its accuracy"
    OUTSIDE = "outside its accuracy"
    UNKNOWN = "no accuracy on record to hold it against"


@dataclass(frozen=True, slots=True)
class Accuracy:
    """What the maker of an instrument grants: ± kelvin or ± per cent of what is shown, the larger."""

    kelvin: float | None
    percent: float | None

    def allowed_k(self, shown_c: float) -> float | None:
        """Greatest deviation [K] at a shown temperature [°C]; None where nothing is on record.

        Per cent are of the temperature in °C, as data sheets of infrared instruments have it
        (common practice, no source).
        """
        share = None if self.percent is None else self.percent / 100 * abs(shown_c)
        granted = [limit for limit in (self.kelvin, share) if limit is not None]
        return max(granted, default=None)


@dataclass(frozen=True, slots=True)
class CheckedInstrument:
    """The instrument as a check needs it."""

    id: int
    client_id: int
    name: str
    serial: str
    kind: str
    accuracy: Accuracy
    retired: bool

    @property
    def reads_degrees(self) -> bool:
        return self.kind != "ammeter"


@dataclass(frozen=True, slots=True)
class InstrumentCheck:
    """One check: what it showed against what was true, both in °C.

    ``round_code`` is empty where the check belongs to no round, or to one out of sight.
    """

    id: int
    instrument: CheckedInstrument
    round_id: int | None
    round_code: str
    at: datetime
    occasion: Occasion
    reference_c: float | None
    shown_c: float | None
    note: str
    by: str

    @property
    def deviation_k(self) -> float | None:
        """Shown minus true [K]."""
        if self.shown_c is None or self.reference_c is None:
            return None
        return self.shown_c - self.reference_c

    @property
    def allowed_k(self) -> float | None:
        return None if self.shown_c is None else self.instrument.accuracy.allowed_k(self.shown_c)

    @property
    def outcome(self) -> Outcome:
        deviation, allowed = self.deviation_k, self.allowed_k
        if deviation is None or allowed is None:
            return Outcome.UNKNOWN
        return Outcome.WITHIN if abs(deviation) <= allowed + _SLACK_K else Outcome.OUTSIDE

    @property
    def failed(self) -> bool:
        return self.outcome is Outcome.OUTSIDE


@dataclass(frozen=True, slots=True)
class CheckFields:
    """A check as typed; ``at`` is an instant."""

    occasion: str
    at: datetime
    reference_c: float | None
    shown_c: float | None
    note: str = ""

    def problems(self, now: datetime) -> list[Problem]:
        """Everything wrong with it, none raised."""
        found = []
        if self.occasion not in list(Occasion):
            found.append(_wrong("occasion", self.occasion, "This is none of the choices.", "Choose one."))
        if self.at.year < EARLIEST_YEAR:
            found.append(_wrong("at", self.at.isoformat(), "This day is out of range.", "Check the year."))
        elif self.at > now:
            found.append(
                _wrong("at", self.at.isoformat(), "That time is still to come.", "Give when it was checked.")
            )
        for name, what in (("reference_c", "what was true"), ("shown_c", "what it showed")):
            value = getattr(self, name)
            if value is None:
                found.append(_wrong(name, "", f"A check needs {what}.", "Type it."))
            elif not LOWEST_C <= value <= HIGHEST_C:
                bounds = f"Between {LOWEST_C:g} and {HIGHEST_C:g} °C is expected."
                found.append(_wrong(name, f"{value:g}", bounds, "Check the figure and its unit."))
        return found


def standing(checks: Iterable[InstrumentCheck]) -> tuple[InstrumentCheck, ...]:
    """Of each instrument and occasion the latest check: one that is repeated stands for the one before."""
    latest: dict[tuple[int, Occasion], InstrumentCheck] = {}
    for check in sorted(checks, key=lambda one: (one.at, one.id)):
        latest[check.instrument.id, check.occasion] = check
    return tuple(sorted(latest.values(), key=lambda one: (one.at, one.id)))


def in_doubt(checks: Sequence[InstrumentCheck]) -> tuple[InstrumentCheck, ...]:
    """Those of the standing checks in which an instrument was outside its accuracy."""
    return tuple(check for check in standing(checks) if check.failed)


def _wrong(field: str, found: str, message: str, remedy: str) -> Problem:
    return Problem("form", field, found[:60], message, remedy)
