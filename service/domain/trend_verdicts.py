"""What was once said of a point's trend: kept when it changes, with what changed it."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from service.domain.words import Trend


class Cause(StrEnum):
    """What made a trend say something else."""

    METHOD = "another rule"
    CRITERIA = "other criteria"
    CUT = "a new series"
    VISIT = "a new visit"
    REVISED = "earlier visits revised"


@dataclass(frozen=True, slots=True)
class KeptVerdict:
    """A trend as it was told on a day.

    ``fitted`` is the number of visits that the slope belongs to; ``episode`` counts the cuts of
    the series until then; ``newest_on`` is the day of the newest visit that counted, on round
    ``round_id``. Criteria are those by which the point had last been judged.
    """

    told_at: datetime
    trend: Trend
    slope_k_month: float | None
    slope_low: float | None
    slope_high: float | None
    visits: int
    fitted: int
    risen_k: float | None
    onset_on: date | None
    chance_6: float | None
    chance_12: float | None
    crossing_from: date | None
    crossing_to: date | None
    method: str
    criteria_id: int | None
    episode: int
    newest_on: date | None
    round_id: int | None
    round_code: str = ""
    criteria: str = ""


def worth_keeping(before: KeptVerdict | None, after: KeptVerdict) -> bool:
    """True when the page says something else than before.

    Of a trend without direction the word counts, of another one also its speed, the months of its
    range and the chance of crossing, each as finely as they are printed. A point of which nothing
    could be said yet has nothing to keep.
    """
    if before is None:
        return after.trend is not Trend.TOO_FEW_VISITS
    return _said(before) != _said(after)


def _said(kept: KeptVerdict) -> tuple[object, ...]:
    rules = (kept.trend, kept.method, kept.criteria_id)
    if not kept.trend.worsening and kept.trend is not Trend.EASING:
        return rules
    months = tuple(None if on is None else (on.year, on.month) for on in _dates(kept))
    chances = (kept.chance_6, kept.chance_12)
    figures = (_rounded(kept.slope_k_month, 2), _rounded(kept.risen_k, 1))
    return (*rules, *months, *figures, *(_rounded(chance, 2) for chance in chances))


def _dates(kept: KeptVerdict) -> tuple[date | None, ...]:
    return kept.onset_on, kept.crossing_from, kept.crossing_to


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def causes(before: KeptVerdict | None, after: KeptVerdict) -> tuple[Cause, ...]:
    """What had changed between two verdicts; nothing for the first one.

    Where nothing else had, earlier visits were: by a correction, by another evaluation, or by
    what the rounds they share turned out to have in common.
    """
    if before is None:
        return ()
    found = [
        cause
        for cause, changed in (
            (Cause.METHOD, before.method != after.method),
            (Cause.CRITERIA, before.criteria_id != after.criteria_id),
            (Cause.CUT, before.episode != after.episode),
            (Cause.VISIT, _newer(before, after)),
        )
        if changed
    ]
    return tuple(found) or (Cause.REVISED,)


def _newer(before: KeptVerdict, after: KeptVerdict) -> bool:
    return after.newest_on is not None and (before.newest_on is None or after.newest_on > before.newest_on)
