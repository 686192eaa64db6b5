"""What other ways to look at a series say, beside the trend: figures that engineers know from elsewhere."""

from dataclasses import dataclass
from datetime import datetime

from service.trends.unsaid import Unsaid


@dataclass(frozen=True, slots=True)
class SlopeOpinion:
    """A slope [K/month] with its range, nine chances in ten."""

    k_month: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class OrderOpinion:
    """Mann-Kendall: pairs in order less pairs against it, and the one-sided chance of as much."""

    s: int
    pairs: int
    tied_pairs: int
    p: float
    exact: bool


@dataclass(frozen=True, slots=True)
class RelatedOpinion:
    """The same with neighbours allowed for: by what the variance grew, z, and the one-sided chance."""

    z: float
    factor: float
    p: float


@dataclass(frozen=True, slots=True)
class ChangeOpinion:
    """The likeliest visit after which the level is another one, with the medians on either side [K]."""

    last_before: datetime
    visits_before: int
    before_k: float
    since_k: float
    size: float
    p: float


@dataclass(frozen=True, slots=True)
class ChartOpinion:
    """A control chart at the last visit, in standard deviations; above 0 is upwards.

    ``over_since`` begins the run beyond the line that still lasts, ``last_over`` is the last
    visit beyond it, and ``last_over_up`` the side on which that was.
    """

    baseline_k: float
    now: float
    line: float
    over_since: datetime | None
    last_over: datetime | None
    last_over_up: bool


@dataclass(frozen=True, slots=True)
class ApartVisit:
    """A visit that lies apart from those about it, and by how much [K]; it stays in the series."""

    reading_id: int
    taken_at: datetime
    rise_k: float
    off_k: float


@dataclass(frozen=True, slots=True)
class SecondOpinions:
    """All of them, on the visits since repair as they are drawn; each, or why it is not told.

    ``visits`` is the number looked at, one a day; ``same_day`` and ``earlier`` count the readings
    that were left out: others of one day, and those before the latest visits.
    """

    visits: int
    same_day: int
    earlier: int
    first_at: datetime | None
    slope: SlopeOpinion | Unsaid
    order: OrderOpinion | Unsaid
    related: RelatedOpinion | Unsaid
    change: ChangeOpinion | Unsaid
    cusum: ChartOpinion | Unsaid
    ewma: ChartOpinion | Unsaid
    wander: SlopeOpinion | Unsaid
    apart: tuple[ApartVisit, ...] | Unsaid
