"""The register as a tree of marks: what stands under a node, and how it stands."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from service.domain.register import Equipment, Noun, Place, Point, Site, View


@dataclass(frozen=True, slots=True)
class Mark:
    """How the points under a node stand: the gravest level, and what hides behind it.

    ``level`` is None when no point has a verdict. ``at_least`` belongs to the gravest level.
    """

    points: int = 0
    level: int | None = None
    at_least: bool = False
    no_verdict: int = 0

    @staticmethod
    def of(marks: Iterable["Mark"]) -> "Mark":
        """The mark of a node from those under it."""
        points = no_verdict = 0
        level, at_least = None, False
        for mark in marks:
            points += mark.points
            no_verdict += mark.no_verdict
            if mark.level is not None and (level is None or (mark.level, mark.at_least) > (level, at_least)):
                level, at_least = mark.level, mark.at_least
        return Mark(points, level, at_least, no_verdict)


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
        return Mark(1, self.level, self.at_least, int(self.level is None))


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
