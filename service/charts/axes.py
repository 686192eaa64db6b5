"""Scales and their ticks: kelvin upwards, dates along."""

import math
from dataclasses import dataclass
from datetime import date

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True)
class Upward:
    """Values from low (at bottom) to high (at top), in pixels."""

    low: float
    high: float
    top: float
    bottom: float

    def __call__(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return self.bottom - share * (self.bottom - self.top)


@dataclass(frozen=True, slots=True)
class Along:
    """Days from first (at left) to last (at right), in pixels."""

    first: date
    last: date
    left: float
    right: float

    def __call__(self, value: date) -> float:
        days = max((self.last - self.first).days, 1)
        return self.left + (value - self.first).days / days * (self.right - self.left)


def round_step(span: float, wanted: int) -> float:
    """A step of 1, 2 or 5 times a power of ten that gives about the wanted number of ticks."""
    raw = max(span, 1e-9) / max(wanted, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    return next(power * factor for factor in (1.0, 2.0, 5.0, 10.0) if power * factor >= raw * 0.999)


def ticks(low: float, high: float, wanted: int = 5) -> list[float]:
    """Round values inside low … high."""
    step = round_step(high - low, wanted)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [round(index * step, 6) for index in range(first, last + 1)]


def tick_word(value: float) -> str:
    return f"{value:g}".replace("-", "−")


@dataclass(frozen=True, slots=True)
class DateTick:
    on: date
    word: str
    year: bool


def date_ticks(first: date, last: date, room: int) -> list[DateTick]:
    """Years, and as many months between them as there is room for.

    Parameters
    ----------
    room : int
        How many words fit side by side.
    """
    months = max((last - first).days / 30.44, 1)
    step = next((step for step in (1, 3, 6, 12) if months / step <= room), 12)
    years_apart = max(1, math.ceil(months / 12 / room))
    found: list[DateTick] = []
    year, month = first.year, 1
    while date(year, month, 1) <= last:
        on = date(year, month, 1)
        if on >= first:
            if month == 1 and (year - first.year) % years_apart == 0:
                found.append(DateTick(on, str(year), True))
            elif month != 1:
                found.append(DateTick(on, MONTHS[month - 1], False))
        month += step
        if month > 12:
            year, month = year + 1, 1
    return found
