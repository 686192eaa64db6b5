"""What the trend job takes up of a point, and what it lays down again."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from service.domain.standing import StandingState
from service.domain.words import Level, PointKind, ReferenceKind, Trend


@dataclass(frozen=True, slots=True)
class TrendedPoint:
    """A point as the job finds it.

    ``data_version`` tells later whether somebody changed the point meanwhile. ``zone`` is that
    of its site, ``habit`` the register's kind of reference. ``episode`` counts the cuts so far:
    visits of earlier ones are no longer its series. ``view_id`` is the view whose like part it
    is. ``standing`` is by readings alone, ``level`` what everybody sees.
    """

    point_id: int
    site_id: int
    zone: str
    data_version: int
    criteria_id: int | None
    habit: ReferenceKind
    kind: PointKind
    component: str
    view_id: int | None
    episode: int
    standing: StandingState
    trend: Trend
    since: date | None
    level: Level | None
    at_least: bool
    height: float | None
    common_k: float | None


class FanStep(NamedTuple):
    """Where the level at common load may stand on a day [K].

    Between ``low_k`` and ``high_k`` nine chances in ten, between ``lower_k`` and ``upper_k`` one
    in two.
    """

    on: date
    low_k: float
    lower_k: float
    middle_k: float
    upper_k: float
    high_k: float


@dataclass(frozen=True, slots=True)
class TrendTold:
    """What the history of one point says, as it is stored beside its standing.

    ``fitted`` is the number of latest visits that the slope belongs to; ``z`` how sure a rise is,
    ``risen_k`` its size since ``onset_on``. Chances are those of reaching the Act-now line within
    6 and 12 months; ``crossing_to`` is None where the range is open. ``fan`` is empty without a
    forecast. ``newest_on`` is the day of the newest visit that counts, ``round_id`` its round.
    """

    point: TrendedPoint
    level: Level | None
    level_since: date | None
    trend: Trend
    since: date
    today: date
    slope_k_month: float | None
    slope_low: float | None
    slope_high: float | None
    p: float | None
    visits: int
    method: str
    fitted: int = 0
    z: float | None = None
    risen_k: float | None = None
    onset_on: date | None = None
    chance_6: float | None = None
    chance_12: float | None = None
    crossing_from: date | None = None
    crossing_to: date | None = None
    crossing_likeliest: date | None = None
    fan: tuple[FanStep, ...] = ()
    newest_on: date | None = None
    round_id: int | None = None

    @property
    def moves(self) -> bool:
        """True when the level that everybody sees changes."""
        return self.level != self.point.level


@dataclass(frozen=True, slots=True)
class TrendsTold:
    """How a run of the job ended."""

    points: int
    changed: int
    words: Mapping[Trend, int]
