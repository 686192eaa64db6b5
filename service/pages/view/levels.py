"""Levels, slopes and trends in words."""

from dataclasses import dataclass
from datetime import date

from service.domain.words import NO_VERDICT, Level, Trend
from service.pages.view.numbers import MINUS, NONE, bare_kelvin, kelvin
from service.pages.view.times import month
from service.pages.view.units import KELVIN, own_value
from service.pages.view.words import counted, number_word, sentence_case


def level_word(level: int | None, at_least: bool = False) -> str:
    """Plan repair, at least Plan repair, No verdict."""
    if level is None:
        return NO_VERDICT
    word = Level(level).word
    return f"at least {word}" if at_least else word


def level_of(level: int | None) -> str:
    """2 of 4, as printed beside a level's word."""
    return "" if level is None else f"{int(level)} of 4"


def slope(value: float | None, low: float | None = None, high: float | None = None) -> str:
    """0.9 K a month (0.8 to 1.0)."""
    if value is None:
        return NONE
    digits = 1 if abs(own_value(value, KELVIN)) >= 0.095 else 2
    text = f"{kelvin(value, digits)} a month"
    if low is None or high is None:
        return text
    return f"{text} ({bare_kelvin(low, digits)} to {bare_kelvin(high, digits)})"


@dataclass(frozen=True, slots=True)
class TrendFacts:
    """What a trend sentence stands on; slopes in kelvin a month, the rise since its onset in kelvin."""

    trend: Trend
    slope_k_month: float | None = None
    low: float | None = None
    high: float | None = None
    visits: int = 0
    pending: bool = False
    least_visits: int = 4
    risen_k: float | None = None
    onset_on: date | None = None


def trend_sentence(facts: TrendFacts) -> str:
    """One plain sentence on the trend, with its slope and range where there are any."""
    if facts.pending:
        return "The trend is being worked out again."
    if facts.trend is Trend.TOO_FEW_VISITS:
        missing = max(facts.least_visits, facts.visits + 1)
        return f"Trend after {missing} visits; {number_word(facts.visits)} so far."
    visits = counted(facts.visits, "visit")
    speed = slope(facts.slope_k_month, facts.low, facts.high)
    if facts.trend is Trend.CANNOT_TELL:
        return f"{sentence_case(visits)} cannot tell a rise from scatter."
    if facts.trend is Trend.STEADY:
        return f"Steady over {visits}."
    if facts.trend is Trend.EASING:
        return f"Easing by {speed.replace(MINUS, '')}, over {visits}."
    if facts.trend is Trend.FIRST_SIGN:
        return f"A first sign of a rise, not yet confirmed, at visit {facts.visits}."
    if facts.trend is Trend.STEPPED_UP and facts.risen_k is not None and facts.onset_on is not None:
        return f"Stepped up by {kelvin(facts.risen_k)} after {month(facts.onset_on)}, told by {visits} since."
    if facts.trend is Trend.HAS_RISEN and facts.risen_k is not None and facts.onset_on is not None:
        return f"Has risen by {kelvin(facts.risen_k)} since {month(facts.onset_on)}; too few visits yet for a speed."
    return f"{sentence_case(facts.trend.value)} {speed}, over {visits}."
