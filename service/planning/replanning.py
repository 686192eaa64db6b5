"""Going on when a crew day is lost: nobody else moves, or the open days are planned anew."""

from dataclasses import dataclass, replace

from service.planning.crew_days import Work
from service.planning.day_routes import STEPS, PlannedDays, moved_visits, plan_days
from service.planning.recreate import Progress


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
    >>> from service.planning.crew_days import Candidate, CrewDay
    >>> from service.planning.places import Place
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
