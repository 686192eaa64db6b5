"""A plan in the planner's terms, and the planner's answer as a plan."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from service.domain.carried_over import better_time
from service.domain.load_hours import LoadHours, understood_hours
from service.domain.plan_visits import PlanSite, Visit
from service.domain.plans import ON_ANOTHER_ROUND, LeftOut, PlanBody, PlannedStop, Walk
from service.domain.reserve_days import days_after_reserve, is_kept
from service.domain.rounds import needs_permit
from service.domain.working_days import PERMIT_LEAD_DAYS, working_days_before
from service.planning.crew_days import Candidate, CrewDay, Gate, Pin, Windows, Work
from service.planning.day_routes import PlannedDay, PlannedDays, PlannedVisit, planned_day
from service.planning.ground import Ground as Timed
from service.planning.order_checks import OrderCheck, check_order
from service.planning.places import Place
from service.planning.reasons import Code, Reason
from service.planning.walks import clock_walk
from service.planning.ways import TENTHS
from service.usecases.plans.better_times import (
    NO_MEANS,
    Means,
    first_at_site,
    hurried,
    means_of,
    sun_hours,
)
from service.usecases.plans.candidates import Ground

#: why what waits for another of its group is put off
STANDS_BY = "runs in turn"
#: why what is behind a cover is put off where the cover weighs more than it tells
NOT_WORTH_ITS_COVER = "not worth its cover"
#: who reads holds at least the category that collects (ISO 18436-7)
COLLECTING = 1
#: why a visit is on its walk, by the planner's code
PLACED = (Code.SCHEDULED, Code.MUST, Code.PINNED)


def work_of(body: PlanBody, ground: Ground, *, wanted: Collection[int] = (), by_hand: bool = False) -> Work:
    """What the planner is asked.

    Parameters
    ----------
    body : PlanBody
        The plan as it stands: its walks, pins, exclusions and days shut.
    ground : Ground
        Visits, sites and people.
    wanted : collection of int
        Equipment that is in it though the plan of itself would leave it to another of its group,
        or its cover shut.
    by_hand : bool
        A hand decides: forecasts, better times and reserve days are for it to weigh. The rules stay.

    Returns
    -------
    Work
        Crew days in the order of the walks; stops held by hand are pinned to theirs; stops of
        walks that are frozen are in it whether they are due or not.
    """
    walks = [walk for walk in body.walks if not walk.lost]
    number = {walk.key: at for at, walk in enumerate(walks)}
    pins = pins_of(walks, number)
    asked = {*pins, *wanted}
    visits = [
        visit
        for visit in ground.visits
        if takes(body, ground, visit)
        and (visit.facts.id in asked or not (visit.stands_by or visit.not_worth_its_cover))
    ]
    days = sorted({walk.day for walk in walks})
    unfit = {} if by_hand else {site: ground.unfit_days(site) for site in ground.sites}
    late = frozenset() if by_hand else days_after_reserve(walks)
    return Work(
        candidates=[
            candidate_of(
                visit,
                days=days,
                unfit=unfit.get(visit.facts.site_id, frozenset()),
                pin=pins.get(visit.facts.id),
                means=NO_MEANS if by_hand else means_of(visit, body, ground),
            )
            for visit in visits
        ],
        crew_days=[
            _crew_day(body, ground, walk, at=at, late=walk.key in late) for at, walk in enumerate(walks)
        ],
        gates=[*_gates(ground, days), *_bases(walks)],
    )


def work_by_hand(body: PlanBody, ground: Ground, *more: int) -> Work:
    """The same for a hand that moves what is on walks, and ``more``."""
    return work_of(body, ground, wanted={*body.on_walks, *more}, by_hand=True)


def takes(body: PlanBody, ground: Ground, visit: Visit) -> bool:
    """False for what the plan leaves alone: excluded by hand, or on another round to come."""
    return visit.facts.id not in body.excluded and visit.facts.id not in ground.taken


def pins_of(walks: Iterable[Walk], number: Mapping[str, int]) -> dict[int, Pin]:
    """What a hand or a frozen walk holds, by equipment."""
    return {
        stop.equipment_id: Pin(number[walk.key], stop.pinned_min)
        for walk in walks
        for stop in walk.stops
        if stop.held or walk.frozen
    }


def candidate_of(
    visit: Visit, *, days: Collection[date], unfit: frozenset[int], pin: Pin | None, means: Means
) -> Candidate:
    """One visit with its load hours on each day, and what would be a better time for it; a pin overrules that."""
    facts = visit.facts
    hours = understood_hours(facts.load_hours)
    windows_on = {} if hours is None else {day.toordinal(): _on(hours, day) for day in days}
    if pin is not None:
        means = NO_MEANS
    return Candidate(
        key=facts.id,
        place=Place(facts.site_id, facts.x_m, facts.y_m, facts.latitude, facts.longitude),
        minutes=facts.minutes,
        score=visit.score,
        windows_on={**windows_on, **means.hours_on},
        needs_qualified_person=needs_permit(facts.access) or means.needs_qualified_person,
        closed_days=means.closed_days,
        unfit_days=frozenset() if pin is not None else unfit,
        category=COLLECTING,
        outdoor=facts.outdoor,
        must=bool(visit.must),
        pin=pin,
    )


def _on(hours: LoadHours, day: date) -> Windows:
    return tuple((float(a), float(b)) for a, b in hours.on(day.weekday()))


def _crew_day(body: PlanBody, ground: Ground, walk: Walk, *, at: int, late: bool) -> CrewDay:
    """A walk as a crew day; ``late`` says that it comes after the reserve day of its person."""
    base = None if walk.latitude is None or walk.longitude is None else -1 - at
    reach = ground.reach.get(walk.person_id, frozenset())
    closed = {
        site.id
        for site in ground.sites.values()
        if site.id not in reach or why_shut(body, ground, site, walk=walk)
    }
    return CrewDay(
        key=at,
        day=walk.day.toordinal(),
        start_min=walk.start_min,
        end_min=walk.end_min,
        crew=walk.person_id,
        begins=base,
        ends=base,
        has_qualified_person=walk.qualified,
        category=walk.category,
        closed_sites=frozenset(closed),
        indoors_only=walk.indoors_only or late,
        frozen=walk.frozen or is_kept(walk),
    )


def why_shut(body: PlanBody, ground: Ground, site: PlanSite, *, walk: Walk) -> str:
    """Why nobody of this walk gets in at a site that day; empty when they do."""
    for shut in body.shut:
        if shut.covers(site.id, walk.day):
            return shut.reason
    for closure in ground.closures:
        if closure.site_id == site.id and closure.covers(walk.day):
            return closure.reason
    if site.two_people and walk.second_id is None:
        return "nobody works there alone"
    hours = understood_hours(site.opening_hours)
    if hours is not None and not hours.on(walk.day.weekday()):
        return f"not open on a {walk.day:%A}"
    return ""


def _gates(ground: Ground, days: Collection[date]) -> list[Gate]:
    """Each site's gate, with the opening hours of each day."""
    return [
        Gate(
            site=site.id,
            latitude=site.latitude,
            longitude=site.longitude,
            sign_in_min=site.setup_minutes,
            opens_on=_open_on(site, days),
        )
        for site in ground.sites.values()
    ]


def _open_on(site: PlanSite, days: Collection[date]) -> dict[int, Windows]:
    hours = understood_hours(site.opening_hours)
    return {} if hours is None else {day.toordinal(): _on(hours, day) for day in days}


def _bases(walks: list[Walk]) -> list[Gate]:
    """Where each walk begins and ends, where that is known."""
    return [
        Gate(site=-1 - at, latitude=walk.latitude, longitude=walk.longitude, sign_in_min=0.0)
        for at, walk in enumerate(walks)
        if walk.latitude is not None and walk.longitude is not None
    ]


def timed_by_hand(work: Work, crew_day: int, keys: Sequence[int]) -> PlannedDay | OrderCheck:
    """An order on the clock, or the first visit of it that breaks a rule."""
    check = check_order(work, crew_day=crew_day, keys=keys)
    if not check.fits:
        return check
    day = next(one for one in work.crew_days if one.key == crew_day)
    here = set(keys)
    ground = Timed(
        replace(work, candidates=[one for one in work.candidates if one.key in here], crew_days=[day])
    )
    order = [ground.at[key] for key in keys]
    clocked = clock_walk(ground, 0, order=order)
    assert clocked is not None, "the order was just found to fit"
    return planned_day(ground, 0, order=order, clocked=clocked)


# ---- the way back --------------------------------------------------------------------------


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
            why=_why(visits[one.key], walk.day, ground.sites[visits[one.key].facts.site_id]),
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


def _why(visit: Visit, day: date, site: PlanSite) -> str:
    told = visit.reason
    if visit.early:
        told = f"taken early, since somebody is there: {visit.reason}"
    elif visit.must:
        told = f"cannot wait, {visit.must}: {visit.reason}"
    if visit.turn:
        asked = working_days_before(day, PERMIT_LEAD_DAYS)
        told = f"{told}; {visit.turn}: ask the site by {asked.day} {asked:%b} to run it"
    if visit.carried is None:
        return told
    better = better_time(visit.carried, visit.facts, day=day, sun=sun_hours(site, day))
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
