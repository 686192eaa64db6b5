"""When a plan meets the day: a day is lost, a visit is moved, an order is tried, hours change."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.planning.crew_days import CrewDay, Pin, Work
from service.planning.day_routes import STEPS, PlannedDays, moved_visits, plan_days
from service.planning.ground import NEVER, Ground, barred
from service.planning.reasons import RULES, Code
from service.planning.recreate import Progress
from service.planning.walks import Order, clock_walk, clock_without_end, walk_legs
from service.planning.ways import TENTHS, tenths

#: Seeds of a what-if: their range shows what is search and what is gained.
SEEDS = (0, 1, 2)


@dataclass(frozen=True, slots=True)
class DayLost:
    """Two ways to go on without a crew day, side by side.

    Attributes
    ----------
    lost : tuple of int
        Visits that were on the day, by key.
    lost_value : int
    inserted, reworked : PlannedDays
        Nobody else changes day; or the open days are planned anew.
    inserted_back, reworked_back : int
        Value won back by each.
    moved : tuple of int
        Visits of other days that change day, or lose theirs, in ``reworked``.
    unpinned : tuple of int
        Visits that the engineer had pinned to the lost day.
    """

    lost: tuple[int, ...]
    lost_value: int
    inserted: PlannedDays
    reworked: PlannedDays
    inserted_back: int
    reworked_back: int
    moved: tuple[int, ...]
    unpinned: tuple[int, ...]


def lose_day(
    work: Work,
    plan: PlannedDays,
    *,
    crew_day: int,
    seed: int = 0,
    steps: int = STEPS,
    stay_price: int = 0,
    progress: Progress | None = None,
) -> DayLost:
    """Go on without one crew day.

    Parameters
    ----------
    work : Work
        As it was planned, the lost day included; days worked or held are frozen in it.
    plan : PlannedDays
        The plan in force.
    crew_day : int
        The day that is lost.
    seed, steps : int
        Of the search.
    stay_price : int
        What it must win to move one visit of another day.
    progress : callable, optional

    Returns
    -------
    DayLost

    Raises
    ------
    ValueError
        Where the plan has no such day.

    Examples
    --------
    >>> from service.planning.day_routes import Candidate, Place
    >>> days = [CrewDay(k, day=k, start_min=480, end_min=540) for k in (1, 2)]
    >>> work = Work([Candidate(k, Place(1, 0, 0), 40, 10) for k in (1, 2)], days)
    >>> lost = lose_day(work, plan_days(work, steps=0), crew_day=1, steps=0)
    >>> len(lost.lost), lost.lost_value, lost.inserted_back
    (1, 10, 0)
    """
    gone = next((day for day in plan.days if day.key == crew_day), None)
    if gone is None:
        raise ValueError(f"the plan has no crew day {crew_day}")
    pinned = tuple(one.key for one in work.candidates if one.pin is not None and one.pin.crew_day == crew_day)
    left = replace(
        work,
        candidates=[replace(one, pin=None) if one.key in pinned else one for one in work.candidates],
        crew_days=[day for day in work.crew_days if day.key != crew_day],
    )
    kept = replace(plan, days=tuple(day for day in plan.days if day.key != crew_day))
    inserted = plan_days(left, seed=seed, steps=0, incumbent=kept, bounded=False)
    # Begun from the plan in force, so that the price holds against it and not against the insertion.
    reworked = plan_days(
        left, seed=seed, steps=steps, incumbent=kept, stay_price=stay_price, bounded=False, progress=progress
    )
    frozen = {day.key for day in work.crew_days if day.frozen}
    held = sum(day.value for day in kept.days if day.key not in frozen)
    return DayLost(
        lost=tuple(sorted(gone.keys)),
        lost_value=gone.value,
        inserted=inserted,
        reworked=reworked,
        inserted_back=inserted.value - held,
        reworked_back=reworked.value - held,
        moved=moved_visits(kept.day_of, reworked.day_of),
        unpinned=pinned,
    )


@dataclass(frozen=True, slots=True)
class OrderCheck:
    """Whether an order holds, and if not, what breaks first and what would mend it.

    Attributes
    ----------
    keys : tuple of int
        The order that was tried.
    fits : bool
    finish_min : float or None
        Back at the end of the day [min from local midnight]; None where it does not fit.
    change_min : float
        More or less way and work than in the order that holds now [min].
    broken : int or None
        First visit at which a rule breaks, by key.
    rule : Code or None
    arrive_min, opens_min, closes_min : float or None
        Arrival there, and the hours within which work would have to begin [min].
    over_min : float or None
        So much earlier it would fit, as far as this rule goes [min].
    fits_at : int or None
        From 1: the place in the same order at which the broken visit would fit.
    """

    keys: tuple[int, ...]
    fits: bool
    finish_min: float | None
    change_min: float
    broken: int | None = None
    rule: Code | None = None
    arrive_min: float | None = None
    opens_min: float | None = None
    closes_min: float | None = None
    over_min: float | None = None
    fits_at: int | None = None


def check_order(work: Work, *, crew_day: int, keys: Sequence[int], before: Sequence[int] = ()) -> OrderCheck:
    """Try an order of visits on one crew day.

    Parameters
    ----------
    work : Work
    crew_day : int
    keys : sequence of int
        The order to try.
    before : sequence of int
        The order that holds now, for what changes.

    Returns
    -------
    OrderCheck

    Raises
    ------
    ValueError
        For a key or a crew day that is not in the work, or a key named twice.

    Examples
    --------
    >>> from service.planning.day_routes import Candidate, Place
    >>> early = Candidate(1, Place(1, 0, 0), 10, 5, windows=((480, 510),))
    >>> late = Candidate(2, Place(1, 0, 0), 30, 5)
    >>> work = Work([early, late], [CrewDay(9, day=1, start_min=480, end_min=600)])
    >>> check = check_order(work, crew_day=9, keys=[2, 1])
    >>> check.broken, check.rule.value, check.arrive_min, check.over_min, check.fits_at
    (1, 'load hours', 520.0, 20.0, 1)
    """
    ground = _ground_of_day(work, crew_day, {*keys, *before})
    if len(set(keys)) != len(keys):
        raise ValueError("a visit is named twice")
    order = tuple(ground.at[key] for key in keys)
    change = _minutes(ground, order) - _minutes(ground, tuple(ground.at[key] for key in before))
    clocked = _allowed(ground, order)
    if clocked is not None:
        return OrderCheck(tuple(keys), True, clocked / TENTHS, change)
    return _broken(ground, order, change=change)


def try_on_day(work: Work, plan: PlannedDays, *, key: int, crew_day: int) -> OrderCheck:
    """Put a visit, new or from another day, at its best place on a crew day.

    Parameters
    ----------
    work : Work
    plan : PlannedDays
        The plan in force; it does not change.
    key : int
        The visit.
    crew_day : int
        Where it is to go.

    Returns
    -------
    OrderCheck
        Of the order that is home first; where none fits, of the one with the shortest way.
    """
    held = next((day.keys for day in plan.days if day.key == crew_day), ())
    ground = _ground_of_day(work, crew_day, {*held, key})
    rest = tuple(ground.at[one] for one in held if one != key)
    tried = [(*rest[:k], ground.at[key], *rest[k:]) for k in range(len(rest) + 1)]
    best = min(tried, key=lambda order: _rank(ground, order))
    keys = [ground.candidates[at].key for at in best]
    return check_order(work, crew_day=crew_day, keys=keys, before=held)


def _rank(ground: Ground, order: Order) -> tuple[int, float]:
    finish = _allowed(ground, order)
    return (1, _minutes(ground, order)) if finish is None else (0, float(finish))


def _ground_of_day(work: Work, crew_day: int, keys: set[int]) -> Ground:
    """Only that day and those visits; a frozen day may be tried, it is not changed by it."""
    days = [day for day in work.crew_days if day.key == crew_day]
    chosen = [one for one in work.candidates if one.key in keys]
    if not days or len(chosen) != len(keys):
        raise ValueError("a visit or the crew day is not in the work")
    return Ground(replace(work, candidates=chosen, crew_days=days))


def _minutes(ground: Ground, order: Order) -> float:
    if not order:
        return 0.0
    return (sum(walk_legs(ground, 0, order=order)) + sum(ground.service[at] for at in order)) / TENTHS


def _allowed(ground: Ground, order: Order) -> int | None:
    """When an order that keeps every rule is home; None for one that does not."""
    clocked = None if any(_bars(ground, at) for at in order) else clock_walk(ground, 0, order=order)
    return None if clocked is None else clocked.timing.finish


def _bars(ground: Ground, at: int) -> frozenset[str]:
    one = ground.candidates[at]
    return barred(one, ground.days[0], gate=ground.gates.get(one.place.site)) - {"frozen"}


def _broken(ground: Ground, order: Order, *, change: float) -> OrderCheck:
    """The first visit at which something breaks: who may work there, its hours, the break, the shift."""
    endless = NEVER // 2
    for k, at in enumerate(order):
        begun = order[: k + 1]
        found = OrderCheck(
            tuple(ground.candidates[one].key for one in order),
            False,
            None,
            change,
            broken=ground.candidates[at].key,
            fits_at=_fits_at(ground, order, k),
        )
        bars = _bars(ground, at)
        if bars:
            return replace(found, rule=next(code for code, name in RULES.items() if name in bars))
        if clock_walk(ground, 0, order=begun, end=endless) is None:
            return _off_hours(ground, found, begun=begun)
        if clock_walk(ground, 0, order=begun) is None:
            return _overrun(ground, found, order=order)
    raise AssertionError("an order of which every beginning holds, holds")


def _off_hours(ground: Ground, found: OrderCheck, *, begun: Order) -> OrderCheck:
    held, at = begun[:-1], begun[-1]
    leg = walk_legs(ground, 0, order=begun)[len(held)]
    clocked = clock_walk(ground, 0, order=held, end=NEVER // 2)
    assert clocked is not None, "every shorter beginning held"
    leaves = clocked.timing.leaves
    arrive = (leaves[-1] if leaves else ground.start[0]) + leg
    spans = ground.spans[0][at]
    if spans and arrive <= spans[-1][1] and clock_without_end(ground, 0, order=begun) is not None:
        return replace(found, rule=Code.BREAK, arrive_min=arrive / TENTHS)
    missed = [span for span in spans if span[1] < arrive]
    return replace(
        found,
        rule=Code.LOAD_HOURS,
        arrive_min=arrive / TENTHS,
        opens_min=missed[-1][0] / TENTHS if missed else None,
        closes_min=missed[-1][1] / TENTHS if missed else None,
        over_min=(arrive - missed[-1][1]) / TENTHS if missed else None,
    )


def _overrun(ground: Ground, found: OrderCheck, *, order: Order) -> OrderCheck:
    clocked = clock_walk(ground, 0, order=order, end=NEVER // 2)
    over = None if clocked is None else (clocked.timing.finish - ground.end[0]) / TENTHS
    return replace(found, rule=Code.HOURS, over_min=over)


def _fits_at(ground: Ground, order: Order, k: int) -> int | None:
    """The first place of the same order, otherwise unchanged, at which visit ``k`` would fit."""
    rest = order[:k] + order[k + 1 :]
    tried = ((j, (*rest[:j], order[k], *rest[j:])) for j in range(len(order)))
    return next((j + 1 for j, one in tried if _allowed(ground, one) is not None), None)


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Plans of changed work, one per seed, each begun from the plan in force."""

    plans: tuple[PlannedDays, ...]

    @property
    def low(self) -> int:
        return min(plan.value for plan in self.plans)

    @property
    def high(self) -> int:
        return max(plan.value for plan in self.plans)


def what_if(changed: Work, plan: PlannedDays, *, seeds: Sequence[int] = SEEDS, steps: int = STEPS) -> WhatIf:
    """Plan changed work from the plan in force, once per seed.

    Parameters
    ----------
    changed : Work
    plan : PlannedDays
        No answer is worth less than what of it still keeps every rule.
    seeds : sequence of int
    steps : int

    Returns
    -------
    WhatIf
    """
    return WhatIf(
        tuple(plan_days(changed, seed=seed, steps=steps, incumbent=plan, bounded=False) for seed in seeds)
    )


def change_hours(work: Work, minutes: float) -> Work:
    """So many minutes more (or less) in all, shared by the open crew days at their ends [min]."""
    open_days = [day for day in work.crew_days if not day.frozen]
    if not open_days:
        return work
    share = tenths(minutes / len(open_days)) / TENTHS
    return replace(work, crew_days=[_lengthened(day, share) for day in work.crew_days])


def _lengthened(day: CrewDay, minutes: float) -> CrewDay:
    return day if day.frozen else replace(day, end_min=max(day.end_min + minutes, day.start_min))


def add_qualified_person(work: Work, crew_days: Sequence[int]) -> Work:
    """A qualified person joins on those crew days."""
    return replace(
        work,
        crew_days=[
            replace(day, has_qualified_person=True) if day.key in crew_days else day for day in work.crew_days
        ],
    )


def close_site(work: Work, site: int, *, days: Sequence[int]) -> Work:
    """A site is closed to every crew on those days."""
    return replace(
        work,
        crew_days=[
            replace(day, closed_sites=day.closed_sites | {site}) if day.day in days else day
            for day in work.crew_days
        ],
    )


def pin_visit(work: Work, key: int, *, pin: Pin | None) -> Work:
    """Pin a visit to a crew day, or set it free."""
    return replace(
        work,
        candidates=[replace(one, pin=pin) if one.key == key else one for one in work.candidates],
    )
