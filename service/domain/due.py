"""When a point is due and why: the interval rule applied to one point."""

from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

from service.domain.day_words import day_words
from service.domain.stop_facts import DuePoint
from service.domain.words import CURRENT_KINDS, Level, PointKind, Trend
from service.planning.intervals import DAYS_PER_MONTH, Interval, due_on, interval_rule
from service.planning.priorities import pulled_forward

#: a point above Nothing found, or worsening, is read sooner (own rule, no source)
SOONER = 0.5
#: the soonest that reading again tells anything new (own rule, no source)
LEAST_MONTHS = 1.0
#: days within which a repair wants its proof (design: proven)
PROOF_DAYS = 30


@dataclass(frozen=True, slots=True)
class Due:
    """The day and the line that explains it; no day for what is retired."""

    on: date | None
    reason: str


def interval_of(point: DuePoint) -> Interval:
    """The interval of a point by the facts of its equipment.

    Notes
    -----
    NFPA 70B takes the worst of physical condition, criticality and environment; here poor
    condition or high criticality count as the worst.
    """
    return _interval(
        point.criticality,
        point.condition,
        kind=point.kind,
        lead_days=point.repair_lead_days or 0,
        pf_months=point.pf_interval_months,
        override_months=point.interval_months,
    )


@lru_cache(maxsize=1024)
def _interval(
    criticality: str,
    condition: str,
    *,
    kind: str,
    lead_days: int,
    pf_months: float | None,
    override_months: float | None,
) -> Interval:
    """The same facts come by with every point of a board: the rule is worked out once."""
    return interval_rule(
        criticality,
        condition,
        electrical=PointKind(kind) in CURRENT_KINDS,
        worst_condition=condition == "poor" or criticality == "high",
        pf_months=pf_months,
        lead_months=lead_days / DAYS_PER_MONTH,
        override_months=override_months,
    )


def due_of(point: DuePoint) -> Due:
    """Day and reason for one point.

    Parameters
    ----------
    point : DuePoint
        The facts.

    Returns
    -------
    Due
        A repair waiting for its proof is due since the repair. Otherwise the last visit that
        could have cleared, plus the interval; visits that could only accuse do not count, so
        that such a point stays due.
    """
    if point.retired:
        return Due(None, "")
    if point.repaired_at is not None:
        told = f"read again: repaired {_day(point.repaired_at)}, proof wanted within {PROOF_DAYS} days"
        return Due(point.repaired_at.date(), told)
    months, reason = interval_in_force(point)
    if point.last_full_at is not None:
        return Due(_on(point.last_full_at.date(), months), f"{reason}; {_since(point)}")
    if point.last_seen_at is not None:
        return Due(
            point.made_on, f"not cleared yet: the reading of {_day(point.last_seen_at)} could not clear it"
        )
    if point.fresh_place is None:
        return Due(point.made_on, "never read")
    spread = f"never read; first visits are spread by site over {_plain(months)}"
    day = due_on(None, months, today=point.made_on, place=point.fresh_place, places=point.fresh_places)
    return Due(day, spread)


def interval_in_force(point: DuePoint) -> tuple[float, str]:
    """The interval by which a point is read [months], half of its rule's where it worsens, and the rule in words."""
    interval = interval_of(point)
    worsening = Trend(point.trend).worsening
    if not point.level and not worsening:
        return interval.months, interval.reason
    half = interval.months * SOONER
    pulled = _pulled_forward(point, interval) if worsening else None
    if pulled is not None and pulled < half:
        return _by_crossing(point, interval, pulled)
    trend = "its trend is a first sign" if point.trend == Trend.FIRST_SIGN else f"its trend is {point.trend}"
    why = trend if worsening else f"the point stands at {Level(point.level or 0).word}"
    return half, f"half the interval, since {why}; the whole one is {interval.reason}"


def _pulled_forward(point: DuePoint, interval: Interval) -> float | None:
    """What the early end of the crossing range makes of the interval; None without a range."""
    if point.crossing_from is None or point.last_seen_at is None:
        return None
    early = max((point.crossing_from - point.last_seen_at.date()).days, 0) / DAYS_PER_MONTH
    return pulled_forward(interval.months, early, lead_months=(point.repair_lead_days or 0) / DAYS_PER_MONTH)


def _by_crossing(point: DuePoint, interval: Interval, months: float) -> tuple[float, str]:
    assert point.crossing_from is not None
    day = day_words(point.crossing_from)
    if not months:
        told = f"its trend may reach Act now by {day}, before a repair can be arranged: ask for the work now"
        return min(LEAST_MONTHS, interval.months), f"{told}; the whole interval is {interval.reason}"
    told = f"{_plain(round(months, 1))}, since its trend may reach Act now by {day}"
    return months, f"{told} (half of what is left before a repair); the whole interval is {interval.reason}"


@lru_cache(maxsize=1024)
def _on(last: date, months: float) -> date:
    return due_on(last, months, today=last)


def _since(point: DuePoint) -> str:
    assert point.last_full_at is not None
    if point.last_seen_at is not None and point.last_seen_at > point.last_full_at:
        return f"last cleared {_day(point.last_full_at)}, {_day(point.last_seen_at)} could not clear"
    return f"last read {_day(point.last_full_at)}"


def _plain(months: float) -> str:
    return f"{months:g} month{'' if months == 1 else 's'}"


def _day(moment: datetime) -> str:
    return day_words(moment.date())
