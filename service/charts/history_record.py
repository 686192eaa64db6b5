"""What a point's history drawing holds: visits, repairs, lines, and the scales they stand on."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import NamedTuple

from service.charts.axes import MONTHS, Along, Upward
from service.charts.forecast import Crossing, FanRow


def day_word(on: date) -> str:
    """26 Mar 2024."""
    return f"{on.day} {MONTHS[on.month - 1]} {on.year}"


class Shown(StrEnum):
    """How a visit stands in the drawing."""

    COUNTS = "counts"
    ACCUSES_ONLY = "accuses only"
    NOT_ASSESSABLE = "not assessable"


class Visit(NamedTuple):
    """One visit: ``value_k`` at common load (or as judged), ``raw_k`` as measured, U at k = 2;
    ``episode`` counts the repairs before it, ``apart`` one that lies apart from those about it. A
    named tuple, because there may be thousands."""

    on: date
    shown: Shown
    value_k: float | None
    words: str
    raw_k: float | None = None
    u_k: float | None = None
    load_percent: float | None = None
    level: int | None = None
    episode: int = 0
    apart: bool = False


@dataclass(frozen=True, slots=True)
class Seam:
    """A repair: no trend runs across it. ``work`` is what was done, ``detail`` what it changed."""

    on: date
    work: str
    detail: str = ""

    @property
    def title(self) -> str:
        """Repaired 26 Mar 2024."""
        return f"{self.work} {day_word(self.on)}"

    @property
    def told(self) -> str:
        """Repaired 26 Mar 2024: 10.3 to 5.0 K."""
        return f"{self.title}: {self.detail}" if self.detail else self.title


@dataclass(frozen=True, slots=True)
class ActionLine:
    level: int
    value_k: float
    words: str


@dataclass(frozen=True, slots=True)
class History:
    """All that the drawing shows; words come ready made.

    ``fit`` is the trend since the last repair as two ends; ``fan_k``, with ``fan_words``, and
    ``crossing`` stay empty until a forecast exists. ``least_load_percent`` is the load below which a reading cannot clear;
    None where load has no meaning (a bearing). All values are differences in ``unit``, whatever their names
    say: kelvin, unless the reader wants °F.
    """

    title: str
    scale_title: str
    visits: Sequence[Visit]
    lines: Sequence[ActionLine]
    today: date
    level: int | None
    seams: Sequence[Seam] = ()
    planned: Sequence[date] = ()
    fit: tuple[tuple[date, float], tuple[date, float]] | None = None
    fan_k: Sequence[FanRow] = ()
    fan_words: str = ""
    crossing: Crossing | None = None
    least_load_percent: float | None = 40.0
    last_words: str = ""
    unit: str = "K"


@dataclass(frozen=True, slots=True)
class Sheet:
    """Where things stand on the paper, in pixels."""

    width: float
    left: float
    right: float
    top: float
    bottom: float
    load_top: float
    load_bottom: float
    narrow: bool

    @property
    def height(self) -> float:
        return self.load_bottom + 30


WIDE = Sheet(932, 34, 788, 58, 372, 404, 446, narrow=False)
NARROW = Sheet(366, 26, 358, 68, 346, 378, 416, narrow=True)
NARROW_MONTHS = 24


def recent(history: History, months: int = NARROW_MONTHS) -> History:
    """The last months only, for a phone; everything when it is shorter anyway."""
    start = history.today - timedelta(days=round(months * 30.44))
    visits = [visit for visit in history.visits if visit.on >= start]
    if len(visits) < 3:
        return history
    fit = history.fit
    if fit is not None and fit[0][0] < start < fit[1][0]:
        (d0, k0), (d1, k1) = fit
        share = (start - d0).days / (d1 - d0).days
        fit = ((start, k0 + share * (k1 - k0)), fit[1])
    return replace(
        history, visits=visits, seams=[seam for seam in history.seams if seam.on >= start], fit=fit
    )


def clipped(
    fit: tuple[tuple[date, float], tuple[date, float]], low: float, high: float
) -> list[tuple[date, float]]:
    """The part of a straight trend that lies between two values; nothing when all of it is outside."""
    (day0, k0), (day1, k1) = fit
    if k0 == k1:
        return [fit[0], fit[1]] if low <= k0 <= high else []
    shares = sorted([(low - k0) / (k1 - k0), (high - k0) / (k1 - k0)])
    first, last = max(0.0, shares[0]), min(1.0, shares[1])
    if first >= last:
        return []
    days = (day1 - day0).days
    return [(day0 + timedelta(days=round(share * days)), k0 + share * (k1 - k0)) for share in (first, last)]


def has_load(history: History) -> bool:
    """False for a bearing, or where no load was ever given."""
    return history.least_load_percent is not None and any(
        visit.load_percent is not None for visit in history.visits
    )


def highest_of(history: History) -> float:
    tops = [(visit.value_k or 0) + (visit.u_k or 0) for visit in history.visits]
    tops += [visit.raw_k or 0 for visit in history.visits]
    # past its highest line a fan is cut off: nothing is known there
    most = max((row.value_k for row in history.lines), default=0.0)
    tops += [min(row.high, most) for row in history.fan_k]
    if history.crossing is not None:
        tops.append(history.crossing.line_k)
    return max(tops)


def lines_in_sight(history: History) -> list[ActionLine]:
    """All lines of a point that rises or waits for a repair; of a calm one only up to the next above it,
    so that its readings are not pressed flat."""
    rising = sorted(history.lines, key=lambda row: row.value_k)
    if history.fit is not None or (history.level or 0) >= 2:
        return rising
    below = [row for row in rising if row.value_k <= highest_of(history)]
    return rising[: max(len(below) + 1, 2)]


def scales(history: History, lines: Sequence[ActionLine], sheet: Sheet) -> tuple[Upward, Along]:
    highest = max([highest_of(history), *(row.value_k for row in lines), 1.0])
    lows = [visit.value_k - (visit.u_k or 0) for visit in history.visits if visit.value_k is not None]
    lows += [visit.raw_k for visit in history.visits if visit.raw_k is not None]
    lowest = min([*lows, 0.0])
    up = Upward(
        lowest - (0.04 * (highest - lowest) if lowest < 0 else 0), highest * 1.12, sheet.top, sheet.bottom
    )
    first = min([history.visits[0].on, *(seam.on for seam in history.seams)])
    later = [history.today + timedelta(days=75), *history.planned, *(row.on for row in history.fan_k)]
    if history.crossing is not None:
        later.append(history.crossing.latest + timedelta(days=20))
    span = max(later) - first
    return up, Along(
        first - timedelta(days=max(round(span.days * 0.015), 4)), max(later), sheet.left + 4, sheet.right
    )


def value_range(history: History) -> tuple[float, float]:
    """Lowest and highest value on the paper, for other drawings of the same history."""
    up, _ = scales(history, lines_in_sight(history), WIDE)
    return up.low, up.high


def described(history: History) -> str:
    """The drawing in words, for those who do not see it."""
    counting = [visit for visit in history.visits if visit.value_k is not None]
    said = [
        f"{len(history.visits)} visits from {day_word(history.visits[0].on)} to {day_word(history.visits[-1].on)}."
    ]
    if counting:
        said.append(f"Last {counting[-1].words}.")
    said.extend(f"{row.words}." for row in history.lines)
    said.extend(f"{seam.told}." for seam in history.seams)
    if history.crossing is not None:
        said.append(f"{history.crossing.words}.")
    if history.fan_words:
        said.append(history.fan_words)
    return " ".join(said)
