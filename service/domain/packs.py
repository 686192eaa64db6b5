"""The pack: what a device needs of a round to be walked without a signal."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from typing import NamedTuple

from service.domain.bands import Limit, Template
from service.domain.cautions import Cautions
from service.domain.criteria import Criteria
from service.domain.oddities import PointPast
from service.domain.readings import Reading
from service.domain.rounds import Round
from service.domain.settings import Instrument
from service.domain.stop_facts import EquipmentFacts, SheetPoint
from service.domain.trending import FanStep
from service.domain.visits import VisitPoint
from service.domain.walking_parties import RoundInstrument, Walker
from service.domain.words import Level, Reason, ReferenceKind, Trend

#: the shape of the pack: a device refuses one of another number
FORMAT = 1


class VisitBefore(NamedTuple):
    """One earlier visit of a point, as it stands: what was read and what it said."""

    taken_at: datetime
    temperature_c: float | None
    current_a: float | None
    reason: Reason | None
    level: Level | None
    at_least: bool
    value_k: float | None
    common_k: float | None
    reference: ReferenceKind | None
    over_first_line: bool
    episode: int
    counts_level: bool


@dataclass(frozen=True, slots=True)
class PointBefore:
    """What a point said before this round.

    ``last`` is its last visit of any kind; ``previous_over_first_line`` is that of the last one
    that said something, where no repair lies between.
    """

    last: VisitBefore | None
    past: PointPast | None
    previous_over_first_line: bool

    @classmethod
    def of(cls, visits: Sequence[VisitBefore], *, episode: int) -> "PointBefore":
        """Sum up earlier visits, oldest first."""
        read = [one.temperature_c for one in visits if one.temperature_c is not None]
        said = [
            one for one in visits if one.counts_level and (one.value_k is not None or one.level is not None)
        ]
        over = bool(said) and said[-1].over_first_line and said[-1].episode == episode
        return cls(visits[-1] if visits else None, PointPast.of(read), over)


@dataclass(frozen=True, slots=True)
class TrendSaid:
    """What the last trend job said of a point; the fan is empty without a forecast."""

    trend: Trend
    slope_k_month: float | None
    fan: tuple[FanStep, ...]

    def foretold_k(self, on: date) -> tuple[float, float] | None:
        """Where the rise may stand on a day, nine chances in ten [K].

        None without a forecast, and outside the days it was made for: it is not drawn out longer.
        """
        for before, after in pairwise(self.fan):
            if before.on <= on <= after.on:
                share = (on - before.on).days / max((after.on - before.on).days, 1)
                low = before.low_k + share * (after.low_k - before.low_k)
                return low, before.high_k + share * (after.high_k - before.high_k)
        return None


@dataclass(frozen=True, slots=True)
class PackPoint:
    """One row of the round with all that judging it on the device rests on.

    ``baseline_k`` is None where a repair lies between; ``templates`` and ``limit`` are those of
    its criteria that hold for it, so that the device need not know how they are found.
    """

    row: SheetPoint
    point: VisitPoint
    before: PointBefore
    trend: TrendSaid | None
    baseline_k: float | None
    scales: bool
    templates: tuple[Template, ...]
    limit: Limit | None
    stored: Reading | None


@dataclass(frozen=True, slots=True)
class PackView:
    """What is framed from one place."""

    id: int
    triggers: tuple[str, ...]
    neutral_last_a: float | None
    #: uid of its latest picture
    picture: str | None
    #: uid of its latest drawing
    drawing: str | None
    points: tuple[PackPoint, ...]

    @property
    def first(self) -> SheetPoint:
        return self.points[0].row


@dataclass(frozen=True, slots=True)
class PackPermit:
    id: int
    state: str
    number: str
    valid_from: datetime | None
    valid_to: datetime | None


@dataclass(frozen=True, slots=True)
class PackStop:
    """One stop with what is printed on its sheet; minutes are of the day, on the clock of its site."""

    id: int
    position: int
    sheet_code: str
    facts: EquipmentFacts
    access_words: str
    arrive_min: float
    minutes: int
    two_people: bool
    stand_off: str
    permit: PackPermit | None
    not_open: str
    running: str
    cautions: Cautions
    distances: tuple[str, ...]
    criteria: str
    #: uid of the latest drawing of the equipment as a whole
    drawing: str | None
    views: tuple[PackView, ...]


@dataclass(frozen=True, slots=True)
class PackInstrument:
    told: RoundInstrument
    kind: str
    optics: Instrument


@dataclass(frozen=True, slots=True)
class PackSite:
    """One site of the round: the union of its stops' cautions, and what is done before a door is opened."""

    facts: EquipmentFacts
    cautions: tuple[str, ...]
    before_doors: str


@dataclass(frozen=True, slots=True)
class Pack:
    """All of it. ``criteria`` are the sets in force, each under the name by which its stops call it."""

    made_at: datetime
    person: Walker | None
    round: Round
    walkers: Mapping[int, Walker]
    instruments: tuple[PackInstrument, ...]
    criteria: Mapping[str, Criteria]
    sites: tuple[PackSite, ...]
    stops: tuple[PackStop, ...]

    @property
    def points(self) -> int:
        return sum(len(view.points) for stop in self.stops for view in stop.views)

    @property
    def asked_on(self) -> date:
        """The day for which trends are asked where they may stand: the round's, or today when later."""
        return max(self.round.planned_on, self.made_at.date())
