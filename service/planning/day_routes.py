"""Which visits go on which crew day, and in which order: the plan of days with its reasons."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.planning.crew_days import Candidate, CrewDay, Gate, Pin, Work
from service.planning.ground import Ground
from service.planning.places import Place, TravelRules
from service.planning.reasons import Code, Reason, reasons_of
from service.planning.recreate import Progress, Search
from service.planning.value_bounds import value_bound
from service.planning.walks import NO_REST, Clocked

__all__ = [
    "Candidate",
    "Code",
    "CrewDay",
    "Gate",
    "Pin",
    "Place",
    "PlannedDay",
    "PlannedDays",
    "PlannedVisit",
    "Reason",
    "TravelRules",
    "Work",
    "orders_of",
    "plan_days",
]

#: Steps of the search: a month of some hundred candidates settles within them (bench/plan_days.py).
STEPS = 600


@dataclass(frozen=True, slots=True)
class PlannedVisit:
    """One visit on the clock [tenths of a minute from local midnight; ``way_tenths`` a duration]."""

    key: int
    way_tenths: int
    arrive_tenths: int
    start_tenths: int
    end_tenths: int


@dataclass(frozen=True, slots=True)
class PlannedDay:
    """One crew day in order [tenths of a minute from local midnight].

    ``break_tenths`` is when the break begins, before visit number ``break_before`` (from 0);
    None where there is none.
    """

    key: int
    visits: tuple[PlannedVisit, ...]
    leave_tenths: int
    back_tenths: int
    value: int
    break_tenths: int | None = None
    break_before: int | None = None

    @property
    def keys(self) -> tuple[int, ...]:
        return tuple(visit.key for visit in self.visits)


@dataclass(frozen=True, slots=True)
class PlannedDays:
    """The plan, with one reason per candidate.

    Attributes
    ----------
    days : tuple of PlannedDay
        By day, crew and key.
    reasons : tuple of Reason
        By key of the candidate.
    value : int
        Scores of all that is placed on days that are not frozen.
    minutes : float
        From leaving to being back, over the days that have visits and are not frozen [min].
    bound : int or None
        What no plan can exceed; None where it was not asked for.
    seed, steps : int
    """

    days: tuple[PlannedDay, ...]
    reasons: tuple[Reason, ...]
    value: int
    minutes: float
    bound: int | None
    seed: int
    steps: int

    @property
    def gap(self) -> float | None:
        """Share of the bound that is not reached; most of it is the bound's own weakness."""
        if self.bound is None:
            return None
        return 0.0 if self.bound == 0 else (self.bound - self.value) / self.bound

    @property
    def day_of(self) -> dict[int, int]:
        """Crew day of each candidate that is placed."""
        return {key: day.key for day in self.days for key in day.keys}


def plan_days(
    work: Work,
    *,
    seed: int = 0,
    steps: int = STEPS,
    incumbent: PlannedDays | None = None,
    stay_price: int = 0,
    bounded: bool = True,
    progress: Progress | None = None,
) -> PlannedDays:
    """Put candidates on crew days.

    Parameters
    ----------
    work : Work
    seed : int
    steps : int
        Of the search; 0 only fills what is free and moves nothing to another day.
    incumbent : PlannedDays, optional
        The plan to begin with. Frozen days are taken over as they are; the answer is worth no
        less than what of the others still keeps every rule.
    stay_price : int
        What a visit must win to leave its crew day of the incumbent.
    bounded : bool
        Solve for the upper bound too.
    progress : callable, optional
        Called with steps done, steps in all and the best value so far.

    Returns
    -------
    PlannedDays

    Raises
    ------
    ValueError
        For keys named twice, or impossible minutes, scores or shifts.

    Notes
    -----
    Hard are shift and break, load hours, qualified person, category, opening hours, lock-outs,
    weather, pins and frozen days: what breaks one of them is postponed with its reason. Greedy
    insertion by worth per added minute with forward slack; then ruin and recreate (Schrimpf and
    others 2000; Vansteenwegen and others 2011 on team orienteering [from memory]).

    Examples
    --------
    >>> pump = Candidate(1, Place(1, 0, 0), 10, 50, windows=((780, 900),))
    >>> board = Candidate(2, Place(1, 100, 0), 20, 80)
    >>> plan = plan_days(Work([pump, board], [CrewDay(7, day=1, start_min=480, end_min=840)]))
    >>> [(v.key, v.start_tenths, v.end_tenths) for v in plan.days[0].visits], plan.value
    ([(2, 4900, 5100), (1, 7800, 7900)], 130)
    """
    ground = Ground(work)
    search = Search(ground, seed=seed, orders=orders_of(ground, incumbent), stay_price=stay_price)
    search.run(steps, progress)
    bound = value_bound(ground, search.open) if bounded else None
    return _told(search, incumbent, bound=bound, seed=seed, steps=steps)


def orders_of(ground: Ground, plan: PlannedDays | None) -> dict[int, list[int]]:
    """The orders of a plan by places in the ground; days and candidates that are no more are left out."""
    if plan is None:
        return {}
    return {
        ground.day_at[day.key]: [ground.at[key] for key in day.keys if key in ground.at]
        for day in plan.days
        if day.key in ground.day_at
    }


def _told(
    search: Search, incumbent: PlannedDays | None, *, bound: int | None, seed: int, steps: int
) -> PlannedDays:
    ground = search.ground
    held = {day.key: day for day in incumbent.days} if incumbent else {}
    days = []
    for d, day in enumerate(ground.days):
        if day.frozen and day.key in held:
            days.append(held[day.key])
        else:
            days.append(_told_day(search, d))
    free = [one for one, day in zip(days, ground.days, strict=True) if not day.frozen]
    return PlannedDays(
        days=tuple(days),
        reasons=reasons_of(search),
        value=sum(day.value for day in free),
        minutes=sum(day.back_tenths - day.leave_tenths for day in free if day.visits) / 10,
        bound=bound,
        seed=seed,
        steps=steps,
    )


def _told_day(search: Search, d: int) -> PlannedDay:
    ground, order, clocked = search.ground, search.orders[d], search.clocks[d]
    start = ground.start[d]
    if clocked is None or not order:
        return PlannedDay(ground.days[d].key, (), leave_tenths=start, back_tenths=start, value=0)
    return planned_day(ground, d, order=order, clocked=clocked)


def planned_day(ground: Ground, d: int, *, order: Sequence[int], clocked: Clocked) -> PlannedDay:
    """A timed order, told by keys."""
    timing = clocked.timing
    visits = tuple(
        PlannedVisit(ground.candidates[at].key, leg, arrive, start, leave)
        for at, leg, arrive, start, leave in zip(
            order, timing.legs, timing.arrivals, timing.starts, timing.leaves, strict=False
        )
    )
    rested = timing.rest_after != NO_REST
    return PlannedDay(
        key=ground.days[d].key,
        visits=visits,
        leave_tenths=ground.start[d],
        back_tenths=timing.finish,
        value=int(ground.score[list(order)].sum()),
        break_tenths=timing.rest_begin if rested else None,
        break_before=timing.rest_after if rested else None,
    )


def moved_visits(before: Mapping[int, int], after: Mapping[int, int]) -> tuple[int, ...]:
    """Visits of one plan that are on another crew day, or on none, in another; by key."""
    return tuple(sorted(key for key, day in before.items() if after.get(key) != day))
