"""Level a plan over its weeks: stops move from the fullest week into emptier ones, and nothing is dropped."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from itertools import islice

from service.domain.plan_weeks import PlanWeek, fullest, monday_of, weeks_of
from service.domain.plans import PlanBody, Walk
from service.domain.reserve_days import is_kept
from service.planning.crew_days import Work
from service.planning.order_checks import OrderCheck, try_on_day
from service.usecases.plans.candidates import Ground
from service.usecases.plans.change import Edit
from service.usecases.plans.planned import planned_days_of, walk_with
from service.usecases.plans.work import timed_by_hand, work_of

#: moves at most, and walks tried for each: a month is level long before (own choice, no source)
MOST_MOVES, MOST_TRIES = 60, 400
#: a move must lower the greater share of its two weeks by as much
LEAST_GAIN = 0.005


def levelling_weeks() -> Edit:
    """Move whole walks into free days first, then single stops, while the fullest week gets emptier.

    Held, frozen and reserve days stay. A stop that is on time is not moved past its day. Every
    walk that changes is timed anew by the rules of the planner.
    """

    def edit(body: PlanBody, ground: Ground) -> tuple[PlanBody, str]:
        before = fullest(weeks_of(body))
        for _ in range(MOST_MOVES):
            better = _step(body, ground)
            if better is None:
                break
            body = better
        body = replace(body, value=sum(day.value for day in planned_days_of(body).days))
        return body, f"weeks levelled: the fullest {before:.0%} before, {fullest(weeks_of(body)):.0%} now"

    return edit


def _step(body: PlanBody, ground: Ground) -> PlanBody | None:
    """The first move out of the fullest week that makes it emptier; None where none does."""
    weeks = sorted(weeks_of(body), key=lambda week: (-week.share, week.monday))
    work = work_of(body, ground, wanted=body.on_walks)
    for keys, source, target in islice(_moves(body, weeks), MOST_TRIES):
        moved = _moved(body, ground, work, keys=keys, source=source, target=target)
        if moved is not None and _gains(body, moved, monday_of(source.day), monday_of(target.day)):
            return moved
    return None


def _moves(body: PlanBody, weeks: Sequence[PlanWeek]) -> Iterator[tuple[tuple[int, ...], Walk, Walk]]:
    """What could move where: whole walks to free days, then single stops, emptiest weeks first."""
    if not weeks:
        return
    place = {week.monday: k for k, week in enumerate(weeks)}
    full = [walk for walk in body.walks if monday_of(walk.day) == weeks[0].monday and _movable(walk)]
    targets = [walk for walk in body.walks if monday_of(walk.day) != weeks[0].monday and _takes(walk)]
    targets.sort(key=lambda walk: (-place[monday_of(walk.day)], walk.day, walk.key))
    full.sort(key=lambda walk: (walk.minutes, walk.day, walk.key))
    for source in full:
        for target in targets:
            if not target.stops and _in_time(source, target.day):
                yield tuple(stop.equipment_id for stop in source.stops), source, target
    for source in full:
        for stop in source.stops:
            for target in targets:
                if target.stops and (stop.due_on is None or not source.day <= stop.due_on < target.day):
                    yield (stop.equipment_id,), source, target


def _movable(walk: Walk) -> bool:
    return walk.open and bool(walk.stops) and not any(stop.held for stop in walk.stops)


def _takes(walk: Walk) -> bool:
    return walk.open and not is_kept(walk)


def _in_time(source: Walk, day: date) -> bool:
    return not any(stop.due_on is not None and source.day <= stop.due_on < day for stop in source.stops)


def _moved(
    body: PlanBody, ground: Ground, work: Work, *, keys: tuple[int, ...], source: Walk, target: Walk
) -> PlanBody | None:
    """The plan with these stops moved and both walks timed anew; None where a rule would break."""
    walks = [walk.key for walk in body.walks if not walk.lost]
    there = walks.index(target.key)
    if target.stops:
        order = try_on_day(work, planned_days_of(body), key=keys[0], crew_day=there).keys
    else:
        order = keys
    rest = [stop.equipment_id for stop in source.stops if stop.equipment_id not in keys]
    into = timed_by_hand(work, there, order)
    if isinstance(into, OrderCheck):
        return None
    stops = {stop.equipment_id: stop for stop in source.stops}
    brought = replace(target, stops=(*target.stops, *(stops[key] for key in keys)))
    changed = [walk_with(brought, into, ground)]
    if rest:
        left = timed_by_hand(work, walks.index(source.key), rest)
        if isinstance(left, OrderCheck):
            return None
        changed.append(walk_with(source, left, ground))
    else:
        changed.append(source.emptied)
    return body.with_walks(changed)


def _gains(before: PlanBody, after: PlanBody, one: date, other: date) -> bool:
    """The greater share of the two weeks falls."""
    pair = (one, other)
    was, now = (fullest(week for week in weeks_of(body) if week.monday in pair) for body in (before, after))
    return now <= was - LEAST_GAIN
