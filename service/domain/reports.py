"""What the printable report of a round says (union of the lists of ASTM E1934, ISO 18434-1 and NETA MTS)."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from service.domain.instrument_checks import InstrumentCheck
from service.domain.words import Level, Reason, RoundState


@dataclass(frozen=True, slots=True)
class ReportedPoint:
    """One point of the round: what was read and what it says, or why it was not read."""

    point_id: int
    tag: str
    name: str
    kind: str
    phase: str
    component: str
    site: str
    area: str
    equipment: str
    view: str
    taken_at: datetime | None
    reason: Reason | None
    temperature_c: float | None
    ambient_c: float | None
    reflected_c: float | None
    wind_m_s: float | None
    current_a: float | None
    common_load_a: float | None
    load_ratio: float | None
    emissivity: float | None
    emissivity_source: str
    distance_m: float | None
    window_transmission: float | None
    reference: str
    value_k: float | None
    common_k: float | None
    rise_air_k: float | None
    u_k: float | None
    level: Level | None
    at_least: bool
    published_band: str
    rule: str
    sentence: str
    trend: str
    standing: Level | None
    picture: str
    note: str
    no_permit_recorded: bool
    finding_id: int | None
    finding_state: str
    finding_cause: str
    finding_action: str
    reading_uid: str = ""
    u_common_k: float | None = None
    band: Level | None = None
    chances: tuple[float, ...] | None = None
    smallest_fault_k: float | None = None

    @property
    def read(self) -> bool:
        return self.temperature_c is not None

    @property
    def above(self) -> bool:
        """Above Nothing found."""
        return self.level is not None and self.level > Level.NOTHING_FOUND


@dataclass(frozen=True, slots=True)
class CouldHaveMissed:
    """What a round could have missed: of clean readings, how many can be told, and the worst."""

    clean: int
    told: int
    worst: ReportedPoint | None

    @property
    def untold(self) -> int:
        return self.clean - self.told


def could_have_missed(points: Iterable[ReportedPoint]) -> CouldHaveMissed:
    """Smallest faults that the clean readings of a round would have hidden, summed.

    A reading is clean here when it accuses nobody: *Nothing found*, or no verdict because it
    could not clear.
    """
    clean = [point for point in points if point.read and not point.above]
    told = [point for point in clean if point.smallest_fault_k is not None]
    worst = max(told, key=lambda point: point.smallest_fault_k or 0.0, default=None)
    return CouldHaveMissed(len(clean), len(told), worst)


@dataclass(frozen=True, slots=True)
class ReportHead:
    """Who, where, when, with what; what the letter is headed with."""

    round_id: int
    code: str
    name: str
    state: RoundState
    planned_on: date
    client: str
    letterhead: str
    sites: tuple[str, ...]
    read_by: str
    assisted_by: str
    certificates: tuple[str, ...]
    signed_by: str
    signed_off_at: datetime | None
    instrument: str
    calibration_due: date | None
    weather: str
    permits: tuple[str, ...]
    criteria: tuple[str, ...]
    time_zone: str


@dataclass(frozen=True, slots=True)
class RoundReport:
    """``checks`` are those of the instruments on the round, in the order of time."""

    head: ReportHead
    points: tuple[ReportedPoint, ...]
    checks: tuple[InstrumentCheck, ...] = ()

    @property
    def above(self) -> tuple[ReportedPoint, ...]:
        """Points above Nothing found, gravest first."""
        found = [point for point in self.points if point.above]
        return tuple(sorted(found, key=lambda p: (-(p.level or 0), -(p.value_k or 0.0))))

    @property
    def not_read(self) -> tuple[ReportedPoint, ...]:
        return tuple(point for point in self.points if not point.read)

    @property
    def no_verdict(self) -> tuple[ReportedPoint, ...]:
        """Read, but could neither accuse nor clear."""
        return tuple(point for point in self.points if point.read and point.level is None)

    @property
    def missed(self) -> CouldHaveMissed:
        return could_have_missed(self.points)

    def count(self, level: Level) -> int:
        return sum(1 for point in self.points if point.read and point.level is level)
