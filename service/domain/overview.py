"""Where the fleet stands: counts and strokes per site, what to decide first, what has moved."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from service.domain.findings import SetAside
from service.domain.losses import Loss
from service.domain.words import FindingState, Level, PointKind, ReferenceKind


@dataclass(frozen=True, slots=True)
class SiteCount:
    """A site in sight with how many of its points stand at each level.

    ``read`` counts the points read since the first day of the month shown.
    """

    site_id: int
    name: str
    zone: str
    data_version: int
    levels: tuple[int, int, int, int, int] = (0, 0, 0, 0, 0)
    no_verdict: int = 0
    read: int = 0
    last_read_at: datetime | None = None

    @property
    def points(self) -> int:
        return sum(self.levels) + self.no_verdict


@dataclass(frozen=True, slots=True)
class Strokes:
    """Points of one site in walking order, column by column.

    Attributes
    ----------
    point_ids : ndarray of int, shape (n,)
    levels : ndarray of int, shape (n,)
        −1 for No verdict.
    now, then : ndarray of float, shape (n,)
        Heights on the four rungs, NaN when unknown.
    steady, repaired, pending : ndarray of bool, shape (n,)
        ``pending``: the trend is being worked out after new readings.
    names, areas : tuples of str, length n
    """

    point_ids: NDArray[np.int64]
    levels: NDArray[np.int64]
    now: NDArray[np.float64]
    then: NDArray[np.float64]
    steady: NDArray[np.bool_]
    repaired: NDArray[np.bool_]
    pending: NDArray[np.bool_]
    names: tuple[str, ...]
    areas: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SparkVisit:
    """One visit as a thumb-sized history shows it."""

    taken_at: datetime
    rise_k: float
    episode: int


@dataclass(frozen=True, slots=True)
class WorstPoint:
    """A point that waits for a decision, with what is known of it; ``aside`` is what was decided before."""

    point_id: int
    site: str
    equipment: str
    view: str
    point: str
    level: Level
    at_least: bool
    value_k: float | None
    line_k: float | None
    reference: ReferenceKind | None
    sentence: str
    consequence: str
    finding_id: int | None
    finding_state: FindingState | None
    owner: str
    due_on: date | None
    planned_for: date | None
    work_order: str
    told_whom: str = ""
    told_at: datetime | None = None
    aside: SetAside | None = None
    visits: tuple[SparkVisit, ...] = ()
    loss: Loss | None = None


@dataclass(frozen=True, slots=True)
class Overdue:
    """A finding whose day has passed; ``repaired_at`` when it is the proof that is late."""

    finding_id: int
    title: str
    site: str
    state: FindingState
    owner: str
    due_on: date | None
    repaired_at: datetime | None


@dataclass(frozen=True, slots=True)
class Moves:
    """What has moved since a day: points by kind, and repairs that held or wait for proof."""

    up: Mapping[PointKind, int] = field(default_factory=dict)
    down: Mapping[PointKind, int] = field(default_factory=dict)
    down_after_repair: int = 0
    awaiting_proof: Mapping[str, int] = field(default_factory=dict)
    repairs_read_again: int = 0
    repairs_held: int = 0


@dataclass(frozen=True, slots=True)
class MonthEnd:
    """Standings of all sites in sight at the end of one month, "2026-10"."""

    month: str
    levels: tuple[int, int, int, int, int]
    no_verdict: int


@dataclass(frozen=True, slots=True)
class Overview:
    """All that Standing shows; ``strokes`` holds only the sites that were asked for.

    ``month`` is the first day of the month of the latest reading (of ``on`` when there is
    none), ``since`` the day before it: what "since last month" counts from.
    """

    on: date
    month: date
    since: date
    sites: tuple[SiteCount, ...]
    strokes: Mapping[int, Strokes]
    worst: tuple[WorstPoint, ...]
    overdue: tuple[Overdue, ...]
    moves: Moves
    months: tuple[MonthEnd, ...]

    @property
    def levels(self) -> tuple[int, int, int, int, int]:
        counted = [sum(site.levels[level] for site in self.sites) for level in range(5)]
        return counted[0], counted[1], counted[2], counted[3], counted[4]

    @property
    def no_verdict(self) -> int:
        return sum(site.no_verdict for site in self.sites)


@dataclass(frozen=True, slots=True)
class SitePoint:
    """One row of a site's table of points."""

    point_id: int
    tag: str
    name: str
    area: str
    level: Level | None
    at_least: bool
    value_k: float | None
    trend: str
    pending: bool
    last_read_at: datetime | None


@dataclass(frozen=True, slots=True)
class SitePicture:
    """One site large: its strokes and its points as rows."""

    site: SiteCount
    strokes: Strokes
    points: tuple[SitePoint, ...]
