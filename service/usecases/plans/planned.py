"""The planner's answer as a plan: walks on its clock, and what is on none with its reason."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from service.domain.carried_over import better_time
from service.domain.plan_visits import PlanSite, Visit
from service.domain.plans import ON_ANOTHER_ROUND, LeftOut, PlanBody, PlannedStop, Walk
from service.domain.reserve_days import is_kept
from service.domain.working_days import asked_when
from service.planning.crew_days import Work
from service.planning.day_routes import PlannedDay, PlannedDays, PlannedVisit
from service.planning.order_checks import OrderCheck
from service.planning.reasons import Code, Reason
from service.planning.ways import TENTHS
from service.usecases.plans.better_times import (
    Means,
    first_at_site,
    hurried,
    means_of,
    sun_hours,
)
from service.usecases.plans.candidates import Ground
from service.usecases.plans.work import NOT_WORTH_ITS_COVER, STANDS_BY, pins_of, timed_by_hand

#: why a visit is on its walk, by the planner's code
PLACED = (Code.SCHEDULED, Code.MUST, Code.PINNED)


def planned_days_of(body: PlanBody) -> PlannedDays:
    """The plan as it stands, as the one a search begins with."""
    walks = [walk for walk in body.walks if not walk.lost]
    days = tuple(_day_of(walk, at) for at, walk in enumerate(walks))
    return PlannedDays(
        days=days, reasons=(), value=body.value, minutes=body.minutes, bound=None, seed=body.seed, steps=0
    )


def _day_of(walk: Walk, at: int) -> PlannedDay:
    visits = tuple(
        PlannedVisit(
            key=stop.equipment_id,
            way_tenths=round(stop.way_min * TENTHS),
            arrive_tenths=round(stop.arrive_min * TENTHS),
            start_tenths=round(stop.start_min * TENTHS),
            end_tenths=round(stop.end_min * TENTHS),
        )
        for stop in walk.stops
    )
    return PlannedDay(
        key=at,
        visits=visits,
        leave_tenths=round(walk.leave_min * TENTHS),
        back_tenths=round(walk.back_min * TENTHS),
        value=sum(stop.worth for stop in walk.stops),
        break_tenths=None if walk.break_min is None else round(walk.break_min * TENTHS),
        break_before=walk.break_before,
    )


def body_with(body: PlanBody, plan: PlannedDays, ground: Ground) -> PlanBody:
    """The plan that the planner's answer makes of this one."""
    walks = [walk for walk in body.walks if not walk.lost]
    changed = [
        walk if walk.frozen or is_kept(walk) else walk_with(walk, day, ground)
        for walk, day in zip(walks, _in_order(plan, len(walks)), strict=True)
    ]
    return replace(
        body.with_walks(changed),
        left_out=tuple(_left_out(body, ground, plan.reasons, walks=walks)),
        value=plan.value,
        bound=plan.bound,
        seed=plan.seed,
        steps=plan.steps,
        cover_minutes=ground.cover_minutes,
        drawn=True,
    )


def _in_order(plan: PlannedDays, count: int) -> list[PlannedDay]:
    by_key = {day.key: day for day in plan.days}
    return [by_key[at] for at in range(count)]


def walk_with(walk: Walk, day: PlannedDay, ground: Ground) -> Walk:
    """A walk on the planner's clock; what a hand has held stays held."""
    before = {stop.equipment_id: stop for stop in walk.stops}
    visits = ground.by_equipment
    stops = tuple(
        _stop(
            before.get(one.key),
            one,
            visits[one.key],
            why=_why(
                visits[one.key],
                walk.day,
                ground.sites[visits[one.key].facts.site_id],
                today=ground.today,
            ),
        )
        for one in day.visits
    )
    return replace(
        walk,
        stops=stops,
        leave_min=day.leave_tenths / TENTHS,
        back_min=day.back_tenths / TENTHS,
        break_min=None if day.break_tenths is None else day.break_tenths / TENTHS,
        break_before=day.break_before,
    )


def _stop(before: PlannedStop | None, one: PlannedVisit, visit: Visit, *, why: str) -> PlannedStop:
    return PlannedStop(
        equipment_id=one.key,
        minutes=visit.facts.minutes,
        arrive_min=one.arrive_tenths / TENTHS,
        start_min=one.start_tenths / TENTHS,
        end_min=one.end_tenths / TENTHS,
        way_min=one.way_tenths / TENTHS,
        pinned_min=None if before is None else before.pinned_min,
        held=before is not None and before.held,
        anyway="" if before is None else before.anyway,
        worth=visit.score,
        points=visit.points,
        must=bool(visit.must),
        early=visit.early,
        due_on=visit.due_on,
        carried=0 if visit.carried is None else visit.carried.times,
        why=why,
    )


def _why(visit: Visit, day: date, site: PlanSite, *, today: date) -> str:
    told = visit.reason
    if visit.early:
        told = f"taken early, since somebody is there: {visit.reason}"
    elif visit.must:
        told = f"cannot wait, {visit.must}: {visit.reason}"
    if visit.turn:
        told = f"{told}; {visit.turn}: ask the site {asked_when(day, today=today)} to run it"
    if visit.carried is None:
        return told
    better = better_time(visit.carried, visit.facts, day=day, today=today, sun=sun_hours(site, day))
    return f"{told}; {visit.carried.said}; better: {better}"


def _left_out(
    body: PlanBody, ground: Ground, reasons: Iterable[Reason], *, walks: list[Walk]
) -> Iterable[LeftOut]:
    """What is due and on no walk; what was only to be taken along early is not missed."""
    why = {reason.key: reason for reason in reasons if reason.code not in PLACED}
    held = pins_of(walks, {walk.key: at for at, walk in enumerate(walks)})
    for visit in ground.visits:
        key = visit.facts.id
        if visit.early and key not in body.excluded:
            continue
        if key in body.excluded:
            yield left_out(visit, "excluded", said=body.excluded[key])
        elif key in ground.taken:
            yield left_out(visit, ON_ANOTHER_ROUND, said=ground.taken[key])
        elif visit.stands_by and key not in held:
            yield left_out(visit, STANDS_BY, said=visit.stands_by)
        elif visit.not_worth_its_cover and key not in held:
            told = {"worth": float(visit.worth), "price": float(visit.cover_price)}
            yield replace(left_out(visit, NOT_WORTH_ITS_COVER), figures=told)
        elif key in why and visit.later is not None:
            yield left_out(visit, "levelled", said=f"{visit.later:%B %Y}")
        elif key in why:
            yield _better_told(_told(why[key], walks, visit), means_of(visit, body, ground))


def _better_told(left: LeftOut, means: Means) -> LeftOut:
    """What was put off for the sake of a better time says so, not that the site is shut."""
    if means.code and left.code in (Code.LOAD_HOURS.value, Code.LOCK_OUT.value):
        return replace(left, code=means.code)
    return left


def first_where_hurried(work: Work, plan: PlannedDays, ground: Ground) -> PlannedDays:
    """The plan with what time ran out for read first at its site, where the walk can hold that."""
    keys = hurried(ground.visits)
    site_of = {one.key: one.place.site for one in work.candidates}
    frozen = {day.key for day in work.crew_days if day.frozen}
    days = []
    for day in plan.days:
        order = first_at_site(day.keys, site_of, keys) if keys and day.key not in frozen else list(day.keys)
        timed = day if order == list(day.keys) else timed_by_hand(work, day.key, order)
        days.append(day if isinstance(timed, OrderCheck) else timed)
    return replace(plan, days=tuple(days))


def left_out(visit: Visit, code: str, *, said: str = "") -> LeftOut:
    """A visit that is on no walk, for a reason in a word."""
    return LeftOut(
        visit.facts.id,
        code,
        said=said,
        worth=visit.worth,
        points=visit.points,
        due_on=visit.due_on,
        must=bool(visit.must),
        carried=0 if visit.carried is None else visit.carried.times,
    )


def _told(reason: Reason, walks: list[Walk], visit: Visit) -> LeftOut:
    told = [name for name in Reason.__dataclass_fields__ if name.endswith(("_min", "_with"))]
    figures = {
        name: float(value)
        for name in (*told, "at_site", "worth")
        if (value := getattr(reason, name)) is not None
    }
    return replace(
        left_out(visit, reason.code.value),
        also=tuple(code.value for code in reason.also),
        figures=figures,
        walk="" if reason.crew_day is None else walks[reason.crew_day].key,
    )
