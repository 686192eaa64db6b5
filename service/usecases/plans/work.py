"""A plan in the planner's terms."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from service.domain.load_hours import LoadHours, understood_hours
from service.domain.plan_visits import PlanSite, Visit
from service.domain.plans import PlanBody, Walk
from service.domain.reserve_days import days_after_reserve, is_kept
from service.domain.rounds import needs_permit
from service.planning.crew_days import Candidate, CrewDay, Gate, Pin, Windows, Work
from service.planning.day_routes import PlannedDay, planned_day
from service.planning.ground import Ground as Timed
from service.planning.order_checks import OrderCheck, check_order
from service.planning.places import Place
from service.planning.walks import clock_walk
from service.usecases.plans.better_times import (
    NO_MEANS,
    Means,
    means_of,
)
from service.usecases.plans.candidates import Ground

#: why what waits for another of its group is put off
STANDS_BY = "runs in turn"
#: why what is behind a cover is put off where the cover weighs more than it tells
NOT_WORTH_ITS_COVER = "not worth its cover"
#: who reads holds at least the category that collects (ISO 18436-7)
COLLECTING = 1


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
