"""What a point's trend foretold when its round was issued, and whether a reading is worse than that."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

from service.domain.trending import FanStep
from service.domain.words import Trend

#: At most one in twenty lies above the fan, whose upper end is the early end of the range of dates (quantile of the
#: normal, 0.95).
OF_FAN = 1.6448536269514722
#: Most points of a fleet stay where they are, so that of them only one in a hundred may be told by chance.
OF_STEADY = 2.3263478740408408


@dataclass(frozen=True, slots=True)
class Foretold:
    """What was foretold of the level at common load [K].

    ``fan`` holds one step a month where the trend worsens; elsewhere the point was to stay at
    ``stays_k``, its last level, of standard uncertainty ``u_k``.
    """

    trend: Trend
    fan: tuple[FanStep, ...] = ()
    stays_k: float | None = None
    u_k: float | None = None

    def to_dict(self) -> dict[str, Any]:
        fan = [[step.on.isoformat(), *step[1:]] for step in self.fan]
        return {"trend": self.trend.value, "fan": fan, "stays_k": self.stays_k, "u_k": self.u_k}


def foretold_from_dict(kept: Mapping[str, Any]) -> Foretold:
    fan = tuple(FanStep(date.fromisoformat(day), *levels) for day, *levels in kept["fan"])
    return Foretold(Trend(kept["trend"]), fan, kept["stays_k"], kept["u_k"])


@dataclass(frozen=True, slots=True)
class Worse:
    """A reading above what was foretold [K]: the middle of it, its upper end and the reading itself."""

    trend: Trend
    middle_k: float
    most_k: float
    read_k: float

    @property
    def above_k(self) -> float:
        return self.read_k - self.most_k


def worse_than(foretold: Foretold, read_k: float, u_k: float | None, *, on: date) -> Worse | None:
    """A reading at common load above what its trend foretold for that day; None where it is not.

    Parameters
    ----------
    foretold : Foretold
        What was kept when the round was issued.
    read_k : float
        The reading at common load [K].
    u_k : float or None
        Its standard uncertainty [K]; None is not known, and then nothing is told.
    on : date
        The day on which it was read.

    Returns
    -------
    Worse or None
        None also where nothing was foretold for that day.

    Notes
    -----
    The fan tells the level, a reading scatters about it: the upper end is the middle plus the
    root of the sum of squares of the fan's upper half and of the reading's ``OF_FAN`` u. Of a
    point that was to stay both readings scatter alike. A cooler reading is never told here.
    """
    if u_k is None:
        return None
    if foretold.fan:
        spot = _between(foretold.fan, on)
        if spot is None:
            return None
        middle_k, high_k = spot
        most_k = middle_k + math.hypot(high_k - middle_k, OF_FAN * u_k)
    elif foretold.stays_k is not None and foretold.u_k is not None:
        middle_k = foretold.stays_k
        most_k = middle_k + OF_STEADY * math.hypot(foretold.u_k, u_k)
    else:
        return None
    return Worse(foretold.trend, middle_k, most_k, read_k) if read_k > most_k else None


def _between(fan: Sequence[FanStep], on: date) -> tuple[float, float] | None:
    """Middle and upper end on a day [K], straight between two steps; None outside the fan."""
    if fan and on == fan[0].on:
        return fan[0].middle_k, fan[0].high_k
    for before, after in pairwise(fan):
        if before.on <= on <= after.on:
            share = (on - before.on).days / (after.on - before.on).days
            middle = before.middle_k + share * (after.middle_k - before.middle_k)
            return middle, before.high_k + share * (after.high_k - before.high_k)
    return None
