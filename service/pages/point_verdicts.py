"""What a point's page said of its trend before, in words: when, what, and what changed it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice, zip_longest
from zoneinfo import ZoneInfo

from service.domain.trend_verdicts import Cause, KeptVerdict, causes
from service.domain.words import Trend
from service.pages import view
from service.pages.view import ForecastFacts, TrendFacts
from service.usecases.condition.point_history import VERDICTS


@dataclass(frozen=True, slots=True)
class SaidBefore:
    """A row: the days it was said, the sentences, why it came to be said, and by which rule."""

    days: str
    said: str
    when: str
    because: str
    rule: str


def said_before(verdicts: Sequence[KeptVerdict], zone: str) -> tuple[SaidBefore, ...]:
    """Rows of the block, latest first; the present one begins them, so that one sees what it took over from.

    Parameters
    ----------
    verdicts : sequence of KeptVerdict
        Latest first; of more than ``VERDICTS`` the earliest gives the one after it its cause and is not told.
    """
    if len(verdicts) < 2:
        return ()
    rows = []
    until = ""
    for verdict, before in islice(zip_longest(verdicts, verdicts[1:]), VERDICTS):
        day = view.day(verdict.told_at, zone)
        rows.append(_row(verdict, before, days=f"{day} to {until}" if until else f"Since {day}", zone=zone))
        until = day
    return tuple(rows)


def _row(verdict: KeptVerdict, before: KeptVerdict | None, *, days: str, zone: str) -> SaidBefore:
    day = view.local(verdict.told_at, ZoneInfo(zone)).date()
    forecast = ForecastFacts(
        trend=verdict.trend,
        chance_6=verdict.chance_6,
        chance_12=verdict.chance_12,
        earliest=verdict.crossing_from,
        latest=verdict.crossing_to,
    )
    return SaidBefore(
        days=days,
        said=view.trend_sentence(_facts(verdict)),
        when=view.forecast_sentence(forecast, today=day),
        because=because(before, verdict),
        rule=f"{verdict.method}; {verdict.criteria}" if verdict.criteria else verdict.method,
    )


def _facts(verdict: KeptVerdict) -> TrendFacts:
    counted = verdict.visits if verdict.trend is Trend.TOO_FEW_VISITS else verdict.fitted or verdict.visits
    return TrendFacts(
        trend=verdict.trend,
        slope_k_month=verdict.slope_k_month,
        low=verdict.slope_low,
        high=verdict.slope_high,
        visits=counted,
        risen_k=verdict.risen_k,
        onset_on=verdict.onset_on,
    )


def because(before: KeptVerdict | None, after: KeptVerdict) -> str:
    """Round 2026-11-A came in."""
    told = [_cause(cause, after) for cause in causes(before, after)]
    return " ".join(told) if told else "The first that is kept."


def _cause(cause: Cause, after: KeptVerdict) -> str:
    if cause is Cause.METHOD:
        return f"The rule became {after.method}."
    if cause is Cause.CRITERIA:
        return f"The criteria became {after.criteria or 'those shipped'}."
    if cause is Cause.CUT:
        return "A repair or another cut began a new series."
    if cause is Cause.VISIT:
        return (
            f"Round {after.round_code} came in." if after.round_code else "A reading off the round came in."
        )
    return "Earlier visits were corrected or evaluated again, or their rounds turned out to share something else."
