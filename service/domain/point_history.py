"""One point through its visits: what was read, what it said, what was done, what comes next."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from service.domain.trend_verdicts import KeptVerdict
from service.domain.trending import FanStep
from service.domain.words import (
    FindingState,
    Level,
    PointKind,
    Reason,
    ReferenceKind,
    Trend,
    VisitKind,
)


@dataclass(frozen=True, slots=True)
class PointFacts:
    """What the register says of a point, with its place."""

    point_id: int
    tag: str
    name: str
    kind: PointKind
    phase: str
    component: str
    coating: str
    reference: ReferenceKind
    rated_rise_k: float | None
    common_load_a: float | None
    common_load_source: str
    emissivity: float | None
    emissivity_source: str
    reflected_habit: str
    distance_m: float | None
    window_transmission: float | None
    last_greased_on: date | None
    retired: bool
    view_id: int
    view: str
    asks_amps: bool
    equipment_id: int
    equipment: str
    equipment_tag: str
    rated_current_a: float | None
    consequence: str
    repair_lead_days: int | None
    area: str
    site_id: int
    site: str
    zone: str


@dataclass(frozen=True, slots=True)
class PointStanding:
    """What point_state says of it now."""

    level: Level | None
    at_least: bool
    since: date | None
    last_read_at: datetime | None
    sentence: str
    rule: str
    reference: ReferenceKind | None
    value_k: float | None
    common_k: float | None
    load_ratio: float | None
    u_k: float | None
    u_common_k: float | None
    trend: Trend
    slope_k_month: float | None
    slope_low: float | None
    slope_high: float | None
    trend_visits: int
    trend_fitted: int | None
    trend_since: date | None
    risen_k: float | None
    onset_on: date | None
    chance_6: float | None
    chance_12: float | None
    crossing_from: date | None
    crossing_to: date | None
    crossing_likeliest: date | None
    fan: tuple[FanStep, ...]
    pending: bool
    episode: int
    baseline_k: float | None
    due_on: date | None
    due_reason: str
    criteria_id: int | None


class DrawnVisit(NamedTuple):
    """What a drawing and a trend need of one stored reading.

    A named tuple, because a point with a logger has thousands of them on one page.
    """

    reading_id: int
    taken_at: datetime
    replaced: bool
    reason: Reason | None
    temperature_c: float | None
    instrument_id: int | None
    level: Level | None
    at_least: bool
    trended: bool
    counts_trend: bool
    episode: int
    reference: ReferenceKind | None
    value_k: float | None
    common_k: float | None
    load_ratio: float | None
    u_k: float | None
    u_common_k: float | None

    @property
    def u_rise_k(self) -> float | None:
        """Standard uncertainty of ``rise_k`` [K]."""
        return self.u_k if self.common_k is None else self.u_common_k

    @property
    def rise_k(self) -> float | None:
        """The rise that compares between visits: at common load, else as measured."""
        return self.value_k if self.common_k is None else self.common_k


class PastVisit(NamedTuple):
    """One stored reading with all it said; a replaced one is kept and shown."""

    reading_id: int
    taken_at: datetime
    round_id: int | None
    round_code: str
    reader: str
    instrument: str
    visit_kind: VisitKind
    reason: Reason | None
    temperature_c: float | None
    ambient_c: float | None
    reflected_c: float | None
    wind_m_s: float | None
    current_a: float | None
    neutral_a: float | None
    emissivity_set: float | None
    picture: str
    note: str
    revision: int
    correction_reason: str
    replaced: bool
    no_permit_recorded: bool
    judged: bool
    level: Level | None
    at_least: bool
    near_line: bool
    trended: bool
    counts_trend: bool
    episode: int
    reference: ReferenceKind | None
    value_k: float | None
    common_k: float | None
    load_ratio: float | None
    u_common_k: float | None
    unequal_load: bool
    sentence: str
    published_band: str
    uid: str
    band: Level | None
    u_k: float | None
    p0: float | None
    p1: float | None
    p2: float | None
    p3: float | None
    p4: float | None
    smallest_fault_k: float | None

    @property
    def chances(self) -> tuple[float, ...] | None:
        """Chances of the five levels by the value as measured; None without a budget."""
        told = (self.p0, self.p1, self.p2, self.p3, self.p4)
        known = tuple(chance for chance in told if chance is not None)
        return known if len(known) == len(told) else None

    @property
    def rise_k(self) -> float | None:
        """The rise that compares between visits: at common load, else as measured."""
        return self.value_k if self.common_k is None else self.common_k


@dataclass(frozen=True, slots=True)
class Cut:
    """Where the series was cut, and what was done there."""

    at: datetime
    reason: str
    note: str
    as_left: str
    finding_id: int | None


@dataclass(frozen=True, slots=True)
class LikePartReadings:
    """A like part of the same view: its temperature by visit (round, or day off the round)."""

    point_id: int
    name: str
    phase: str
    readings: tuple[tuple[datetime, int | None, float | None, float | None], ...]


@dataclass(frozen=True, slots=True)
class PointFinding:
    """A finding of the point, latest first."""

    finding_id: int
    title: str
    state: FindingState
    level: Level | None
    owner: str
    work_order: str
    due_on: date | None
    planned_for: date | None
    opened_at: datetime


@dataclass(frozen=True, slots=True)
class Neighbour:
    point_id: int
    name: str


@dataclass(frozen=True, slots=True)
class Lines:
    """Action lines of the deciding column, gentlest first, with their source."""

    rows: tuple[tuple[Level, float], ...]
    source: str
    criteria: str
    exponent: float
    min_load_share: float
    unit: str


@dataclass(frozen=True, slots=True)
class TrendLine:
    """The fit that the trend's word and slope belong to, as a line [K] through its visits."""

    first_on: date
    first_k: float
    last_on: date
    last_k: float
    visits: int


@dataclass(frozen=True, slots=True)
class PointHistory:
    """Everything the point's page shows; visits oldest first, replaced ones included.

    ``drawn`` holds every visit in short, ``visits`` those that are told in full: all of them, or
    the latest with the last that were read. ``verdicts`` is what was said of its trend, the
    present one first.
    """

    facts: PointFacts
    standing: PointStanding
    drawn: tuple[DrawnVisit, ...]
    visits: tuple[PastVisit, ...]
    cuts: tuple[Cut, ...]
    lines: Lines
    like_parts: tuple[LikePartReadings, ...]
    findings: tuple[PointFinding, ...]
    planned: tuple[date, ...]
    before: Neighbour | None
    after: Neighbour | None
    verdicts: tuple[KeptVerdict, ...] = ()
    trend_line: TrendLine | None = None

    @property
    def standing_visits(self) -> tuple[PastVisit, ...]:
        """Visits told in full as they stand: without what a correction replaced."""
        return tuple(visit for visit in self.visits if not visit.replaced)

    @property
    def standing_drawn(self) -> tuple[DrawnVisit, ...]:
        """Every visit as it stands, in short."""
        return tuple(visit for visit in self.drawn if not visit.replaced)

    @property
    def series(self) -> tuple[DrawnVisit, ...]:
        """Visits of the current episode that a trend may stand on: one kind of reference, one scale.

        Values at common load where there are any, else as measured; the two never mix.
        """
        episode = self.standing.episode
        mine = [
            visit
            for visit in self.standing_drawn
            if visit.trended and visit.counts_trend and visit.episode == episode and visit.rise_k is not None
        ]
        kinds = {visit.reference for visit in mine}
        kind = (
            self.facts.reference if self.facts.reference in kinds else (mine[-1].reference if mine else None)
        )
        alike = [visit for visit in mine if visit.reference is kind]
        scaled = [visit for visit in alike if visit.common_k is not None]
        return tuple(scaled or alike)

    @property
    def directed(self) -> bool:
        """The trend says a direction, so that its line may be drawn."""
        stands = self.standing
        return not stands.pending and (stands.trend.worsening or stands.trend is Trend.EASING)

    @property
    def foretold(self) -> tuple[FanStep, ...]:
        """Where the level may go; nothing where the date of crossing is not told either."""
        stands = self.standing
        return stands.fan if stands.trend.worsening and not stands.pending else ()

    @property
    def last_read(self) -> PastVisit | None:
        """The last visit that gave a number."""
        return next(
            (visit for visit in reversed(self.standing_visits) if visit.temperature_c is not None), None
        )

    @property
    def could_have_missed_k(self) -> float | None:
        """Smallest fault at common load that the last visit would have shown [K].

        Notes
        -----
        As kept with its assessment: load, uncertainty, wind, spot and settling are in it. None
        where that cannot be said.
        """
        last = self.last_read
        return None if last is None else last.smallest_fault_k
