"""Points whose trend is called, surest first, and how many of them chance alone would call."""

from dataclasses import dataclass
from datetime import date

from service.domain.words import Level, ReferenceKind, Trend

#: Share of a list that may be false; common practice, no source.
FALSE_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class ScoredPoint:
    """A point with the score of its trend, and what is called of it."""

    point_id: int
    z: float
    visits: int
    reference: ReferenceKind
    called: bool


@dataclass(frozen=True, slots=True)
class CalledPlace:
    """A called point as it is told."""

    point_id: int
    where: str
    trend: Trend
    level: Level | None
    risen_k: float | None
    onset_on: date | None
    chance_12: float | None


@dataclass(frozen=True, slots=True)
class CalledPoint:
    """A row of the list.

    ``by_chance`` is the chance of so large a score where nothing changes; ``false_share`` the
    share of the list down to here that is expected to be false.
    """

    place: CalledPlace
    reference: ReferenceKind
    visits: int
    by_chance: float
    false_share: float

    @property
    def holds(self) -> bool:
        """It belongs to the list of which at most ``FALSE_SHARE`` is false."""
        return self.false_share <= FALSE_SHARE


@dataclass(frozen=True, slots=True)
class CalledPoints:
    """All called points in sight, surest first, of ``scored`` points that have a score."""

    scored: int
    points: tuple[CalledPoint, ...]

    @property
    def holding(self) -> int:
        """How many stand in the list that holds."""
        return sum(point.holds for point in self.points)

    @property
    def expected_false(self) -> float:
        """How many of those that hold are expected to be false, at most."""
        holding = [point.false_share for point in self.points if point.holds]
        return len(holding) * max(holding, default=0.0)
