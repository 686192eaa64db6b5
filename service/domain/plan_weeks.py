"""A plan week by week: minutes that are walked against those that are offered."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from service.domain.plans import PlanBody, Walk
from service.domain.reserve_days import is_kept


@dataclass(frozen=True, slots=True)
class PlanWeek:
    """One week by its Monday [min]; ``kept_min`` of what is offered is held in reserve."""

    monday: date
    planned_min: float
    offered_min: float
    kept_min: float

    @property
    def share(self) -> float:
        """Share of the offered minutes that is walked; 0 where none are offered."""
        return self.planned_min / self.offered_min if self.offered_min else 0.0


def monday_of(day: date) -> date:
    """The first day of its week (ISO 8601).

    >>> monday_of(date(2026, 12, 3))
    datetime.date(2026, 11, 30)
    """
    return day - timedelta(days=day.weekday())


def weeks_of(body: PlanBody) -> tuple[PlanWeek, ...]:
    """Weeks that have a walk, in order; lost walks offer nothing."""
    by_week: dict[date, list[Walk]] = {}
    for walk in body.walks:
        by_week.setdefault(monday_of(walk.day), []).append(walk)
    return tuple(
        PlanWeek(
            monday,
            planned_min=sum(walk.minutes for walk in by_week[monday]),
            offered_min=_offered(walk for walk in by_week[monday] if not walk.lost),
            kept_min=_offered(walk for walk in by_week[monday] if is_kept(walk)),
        )
        for monday in sorted(by_week)
    )


def _offered(walks: Iterable[Walk]) -> float:
    return float(sum(walk.end_min - walk.start_min for walk in walks))


def fullest(weeks: Iterable[PlanWeek]) -> float:
    """The greatest share of a week."""
    return max((week.share for week in weeks), default=0.0)
