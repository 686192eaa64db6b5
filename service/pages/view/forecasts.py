"""The date of crossing in words: chances first, then the range, never a single day."""

from dataclasses import dataclass
from datetime import date, timedelta

from service.domain.words import Trend
from service.pages.view.numbers import percent
from service.pages.view.times import day, month
from service.pages.view.words import sentence_case

#: How far ahead the engine looks, in words.
FARTHEST = "15 years"
_HARDLY, _ALMOST = 0.01, 0.99


@dataclass(frozen=True, slots=True)
class ForecastFacts:
    """What a forecast is told from; ``earliest`` and ``latest`` are None where the range is open."""

    trend: Trend
    chance_6: float | None = None
    chance_12: float | None = None
    earliest: date | None = None
    latest: date | None = None
    lead_days: int | None = None
    pending: bool = False


def forecast_sentence(facts: ForecastFacts, *, today: date) -> str:
    """12 % within 6 months, 38 % within 12. Nine chances in ten: March 2027 to May 2029."""
    if facts.pending or not facts.trend.worsening:
        return ""
    if facts.trend is Trend.FIRST_SIGN:
        return "No date before another visit has confirmed the rise."
    if facts.chance_6 is None or facts.chance_12 is None:
        if facts.earliest is not None:
            return f"{_range(facts, today=today)} Chances are not told over a baseline: they have not held."
        return "No date yet: that takes five visits, two of them after the rise began."
    chances = f"{_chance(facts.chance_6)} within 6 months, {_chance(facts.chance_12)} within 12."
    return f"{sentence_case(chances)} {_range(facts, today=today)}"


def plan_by(facts: ForecastFacts, *, today: date) -> str:
    """10 Mar 2027: the early end less the days a repair takes to arrange; today when that has passed."""
    if facts.earliest is None or facts.lead_days is None:
        return ""
    by = facts.earliest - timedelta(days=facts.lead_days)
    if by <= today:
        return "Now: a repair takes longer to arrange than may be left."
    return f"{day(by)}, {facts.lead_days} days before the early end."


def _range(facts: ForecastFacts, *, today: date) -> str:
    if facts.earliest is None:
        return f"Not within {FARTHEST}."
    begins = "any day now" if facts.earliest <= today else month(facts.earliest)
    if facts.latest is None:
        return f"Nine chances in ten: {begins} or later."
    ends = month(facts.latest)
    if facts.latest <= today:
        return "By this history it should have been reached: read it again."
    return (
        f"Nine chances in ten: {begins}." if begins == ends else f"Nine chances in ten: {begins} to {ends}."
    )


def _chance(share: float) -> str:
    if share < _HARDLY:
        return "under 1\N{NO-BREAK SPACE}%"
    if share > _ALMOST:
        return "over 99\N{NO-BREAK SPACE}%"
    return percent(share)
