"""A year of a client: what was walked, how far the interval rules were kept, what was opened for it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Self

from service.domain.coverage import Coverage, CoveredEquipment

MONTHS = 12
#: order in which criticalities are told, the gravest first
CRITICALITIES = ("high", "medium", "low")
#: filter for equipment of which nobody typed a class
NO_CLASS = "-"


@dataclass(frozen=True, slots=True)
class YearAsked:
    """Whose year: the client of the site where one is given, else the first in sight by name."""

    year: int
    client_id: int | None = None
    site_id: int | None = None


@dataclass(frozen=True, slots=True)
class EquipmentAsked:
    """Which lines of the auditor's list, from after which equipment on; no limit gives all."""

    equipment_class: str | None = None
    coverage: Coverage | None = None
    after: int = 0
    limit: int | None = None


@dataclass(frozen=True, slots=True)
class YearSite:
    """A site in use at some time of the year, with its client."""

    id: int
    client_id: int
    client: str
    name: str
    time_zone: str


@dataclass(frozen=True, slots=True)
class MonthCount:
    """One month: rounds planned for it and not withdrawn, those that came back, those signed off and withdrawn.

    ``covers`` are stops of those rounds at equipment behind a hinged or bolted cover from which
    a reading came back; ``findings`` were opened in it.
    """

    month: int
    planned: int = 0
    walked: int = 0
    signed_off: int = 0
    withdrawn: int = 0
    covers: int = 0
    findings: int = 0


@dataclass(frozen=True, slots=True)
class OpenedFinding:
    """A finding of the year: its month on the site's calendar, and how it was come by."""

    month: int
    of_reading: bool
    behind_cover: bool


@dataclass(frozen=True, slots=True)
class Faults:
    """Findings opened in the year, and of them those from a round's reading and those behind a cover."""

    opened: int
    of_readings: int
    behind_covers: int

    @classmethod
    def of(cls, findings: Sequence[OpenedFinding]) -> Self:
        return cls(
            len(findings),
            sum(one.of_reading for one in findings),
            sum(one.behind_cover for one in findings),
        )

    @property
    def off_round(self) -> int:
        return self.opened - self.of_readings


@dataclass(frozen=True, slots=True)
class CoverageShare:
    """Equipment of one class or criticality by where it stands; without points it counts in no share."""

    name: str
    equipment: int
    within: int
    due: int
    late: int
    never_read: int
    no_points: int
    #: the longest ago of the days since which every point has been read so that it could clear
    oldest: CoveredEquipment | None

    @classmethod
    def of(cls, name: str, rows: Sequence[CoveredEquipment]) -> Self:
        def count(coverage: Coverage) -> int:
            return sum(row.coverage is coverage for row in rows)

        counted = len(rows) - count(Coverage.NO_POINTS)
        seen = [row for row in rows if row.cleared_on is not None]
        return cls(
            name,
            counted,
            count(Coverage.WITHIN),
            count(Coverage.DUE),
            count(Coverage.LATE),
            count(Coverage.NEVER_READ),
            count(Coverage.NO_POINTS),
            min(seen, key=lambda row: (row.cleared_on or date.max, row.equipment.walk), default=None),
        )

    def share(self, count: int) -> float | None:
        """A count over the equipment that has points; None where there is none."""
        return count / self.equipment if self.equipment else None


@dataclass(frozen=True, slots=True)
class YearReport:
    """All figures of a year; coverage stands on ``on``: today, or the last day of a year gone by."""

    asked: YearAsked
    on: date
    first_year: int
    last_year: int
    clients: tuple[tuple[int, str], ...]
    sites: tuple[YearSite, ...]
    months: tuple[MonthCount, ...]
    faults: Faults
    total: CoverageShare
    classes: tuple[CoverageShare, ...]
    criticalities: tuple[CoverageShare, ...]

    @property
    def year(self) -> MonthCount:
        """The sums of the twelve months; its month is 0."""
        names = ("planned", "walked", "signed_off", "withdrawn", "covers", "findings")
        return MonthCount(0, **{name: sum(getattr(one, name) for one in self.months) for name in names})

    @property
    def covers_per_finding(self) -> float | None:
        return self.year.covers / self.faults.opened if self.faults.opened else None

    @property
    def covers_per_finding_behind(self) -> float | None:
        return self.year.covers / self.faults.behind_covers if self.faults.behind_covers else None


@dataclass(frozen=True, slots=True)
class AuditedEquipment:
    """One line of the auditor's list with why it is late: each reason and how many points it holds for."""

    covered: CoveredEquipment
    why: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class EquipmentPage:
    """A page of the list, how many lines there are in all, and the id after which the next page begins."""

    on: date
    rows: tuple[AuditedEquipment, ...]
    found: int
    next_after: int | None


def shares_by_class(rows: Iterable[CoveredEquipment]) -> tuple[CoverageShare, ...]:
    """By class of equipment in the order of the alphabet; without a class last."""
    grouped: dict[str, list[CoveredEquipment]] = {}
    for row in rows:
        grouped.setdefault(row.equipment.equipment_class.strip(), []).append(row)
    ordered = sorted(grouped, key=lambda name: (not name, name.casefold()))
    return tuple(CoverageShare.of(name, grouped[name]) for name in ordered)


def shares_by_criticality(rows: Sequence[CoveredEquipment]) -> tuple[CoverageShare, ...]:
    """By criticality, the gravest first; those that nothing has are left out."""
    grouped = {name: [row for row in rows if row.equipment.criticality == name] for name in CRITICALITIES}
    return tuple(CoverageShare.of(name, found) for name, found in grouped.items() if found)


def matches(row: CoveredEquipment, asked: EquipmentAsked) -> bool:
    """Whether a line is among those asked for; without a class asked for, all classes are."""
    own = row.equipment.equipment_class.strip()
    wanted = asked.equipment_class
    of_class = wanted is None or own == ("" if wanted == NO_CLASS else wanted)
    return of_class and asked.coverage in (None, row.coverage)
