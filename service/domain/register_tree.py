"""The register as a tree of marks: what stands under a node, and how it stands."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from service.domain.register import Equipment, Noun, Place, Point, Site, View


@dataclass(frozen=True, slots=True)
class Mark:
    """How the points under a node stand: how many at each level 0 … 4, and how many without a verdict.

    ``at_least`` belongs to the gravest level.
    """

    levels: tuple[int, ...] = (0, 0, 0, 0, 0)
    no_verdict: int = 0
    at_least: bool = False

    @property
    def points(self) -> int:
        return sum(self.levels) + self.no_verdict

    @property
    def level(self) -> int | None:
        """The gravest level; None when no point has a verdict."""
        return max((level for level, count in enumerate(self.levels) if count), default=None)

    @property
    def at_gravest(self) -> int:
        """How many points stand at the gravest level."""
        return 0 if self.level is None else self.levels[self.level]

    @staticmethod
    def of_points(level: int | None, at_least: bool, count: int = 1) -> "Mark":
        """The mark of one point, or of some that stand alike."""
        if level is None:
            return Mark(no_verdict=count)
        return Mark(tuple(count if at == level else 0 for at in range(5)), 0, at_least)

    @staticmethod
    def of(marks: Iterable["Mark"]) -> "Mark":
        """The mark of a node from those under it."""
        levels, no_verdict = [0, 0, 0, 0, 0], 0
        gravest, at_least = -1, False
        for mark in marks:
            levels = [mine + other for mine, other in zip(levels, mark.levels, strict=True)]
            no_verdict += mark.no_verdict
            here = -1 if mark.level is None else mark.level
            if here > gravest:
                gravest, at_least = here, mark.at_least
            elif here == gravest:
                at_least = at_least and mark.at_least
        return Mark(tuple(levels), no_verdict, at_least)


@dataclass(frozen=True, slots=True)
class Node:
    """One thing in the tree; ``key`` is its code or tag."""

    noun: Noun
    id: int
    key: str
    name: str
    mark: Mark
    children: tuple["Node", ...] = ()


@dataclass(frozen=True, slots=True)
class SiteLine:
    """A site in the list of sites."""

    id: int
    client_id: int
    code: str
    name: str
    mark: Mark


@dataclass(frozen=True, slots=True)
class ClientLine:
    id: int
    code: str
    name: str
    sites: tuple[SiteLine, ...]


@dataclass(frozen=True, slots=True)
class FoundTag:
    """One hit of the search by tag; a retired thing says so."""

    noun: Noun
    id: int
    tag: str
    name: str
    site_id: int
    site_name: str
    equipment_id: int
    equipment_name: str
    mark: Mark
    retired: bool


@dataclass(frozen=True, slots=True)
class PointStanding:
    """A point on the page of its equipment: what the register and its state say."""

    point: Point
    level: int | None
    at_least: bool
    since: date | None
    trend: str
    value_k: float | None
    common_k: float | None
    reference: str
    load_ratio: float | None
    last_read_at: datetime | None
    due_on: date | None
    due_reason: str
    last_sentence: str

    @property
    def mark(self) -> Mark:
        return Mark.of_points(self.level, self.at_least)


@dataclass(frozen=True, slots=True)
class ViewStanding:
    view: View
    points: tuple[PointStanding, ...]


@dataclass(frozen=True, slots=True)
class FindingLine:
    """A finding that still wants something."""

    id: int
    title: str
    state: str
    level: int | None
    due_on: date | None
    point_id: int | None


@dataclass(frozen=True, slots=True)
class EquipmentPage:
    """All that the page of one equipment shows."""

    equipment: Equipment
    site: Site
    place: Place
    views: tuple[ViewStanding, ...]
    findings: tuple[FindingLine, ...]
    retired_within: int = 0
    mark: Mark = field(default_factory=Mark)

    @property
    def scaled(self) -> bool:
        """Whether some rise was brought to common load."""
        return any(point.common_k is not None for of_view in self.views for point in of_view.points)
