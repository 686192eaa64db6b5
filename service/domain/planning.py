"""Who walks when, what is closed when: what a plan of rounds stands on."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


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
