"""An order of visits tried by hand: whether it holds, what breaks first, and what would mend it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.planning.crew_days import Work
from service.planning.day_routes import PlannedDays
from service.planning.ground import NEVER, Ground, barred
from service.planning.reasons import RULES, Code
from service.planning.walks import Order, clock_walk, clock_without_end, walk_legs
from service.planning.ways import TENTHS


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
    >>> from service.planning.crew_days import Candidate, CrewDay
    >>> from service.planning.places import Place
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
