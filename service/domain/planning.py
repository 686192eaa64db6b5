"""Who walks when, what is closed when: what a plan of rounds stands on."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.domain.words import Role


class WalkPart(StrEnum):
    """What somebody does on a round."""

    READS = "reads"
    GOES_ALONG = "goes along"
    NONE = "does not walk"


@dataclass(frozen=True, slots=True)
class WalkingHours:
    """When somebody walks, from where, and as what.

    ``hours`` is in the grammar of load hours, on the clock of the sites; ``holidays_of`` an
    ISO 3166 country, or country and part such as GB-SCT, whose public holidays are free.
    """

    person_id: int
    part: WalkPart = WalkPart.READS
    hours: str = "mon-fri 07:30-15:30"
    start_place: str = ""
    start_latitude: float | None = None
    start_longitude: float | None = None
    holidays_of: str = ""
    version: int = 0


@dataclass(frozen=True, slots=True)
class Span:
    """Whole days from the first to the last, both included."""

    from_on: date
    to_on: date

    def covers(self, day: date) -> bool:
        return self.from_on <= day <= self.to_on


@dataclass(frozen=True, slots=True)
class Absence(Span):
    """Days on which somebody does not walk."""

    id: int
    person_id: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class SiteClosure(Span):
    """Days on which a site lets nobody in."""

    id: int
    site_id: int
    reason: str


#: hours of a technician of whom nothing is on record (own default, no source)
DEFAULT_HOURS = "mon-fri 07:30-15:30"


def hours_unless_told(person_id: int, role: Role) -> WalkingHours:
    """What holds for somebody of whom nothing is on record: technicians read, engineers stay."""
    part = WalkPart.READS if role is Role.TECHNICIAN else WalkPart.NONE
    return WalkingHours(person_id=person_id, part=part, hours=DEFAULT_HOURS)


@dataclass(frozen=True, slots=True)
class WorkingDay:
    """What one person can do on one day; ``why_not`` says in words why the day is free.

    ``category`` is the best of the certificates valid that day (ISO 18436-7), 0 with none;
    ``start_min`` and ``end_min`` are the first and the last minute of the hours of that weekday,
    after midnight on the clock of the sites, both 0 on a free day. ``site_ids`` are those of the
    sites asked about that the person's grants reach.
    """

    day: date
    person_id: int
    name: str
    part: WalkPart
    qualified: bool
    category: int
    start_min: int
    end_min: int
    start_place: str
    start_latitude: float | None
    start_longitude: float | None
    site_ids: frozenset[int]
    why_not: str = ""

    @property
    def free(self) -> bool:
        return bool(self.why_not)
