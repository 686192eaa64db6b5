"""Look at plans: the list, one plan at one of its versions, one walk of it, two versions side by side."""

from dataclasses import dataclass
from datetime import date, datetime

from service.domain.forecasts import Forecast
from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.plan_risks import risks_of
from service.domain.plan_visits import PlanSite
from service.domain.plans import MonthPlan, PlanBody, PlanVersion, Walk
from service.domain.reserve_days import ReserveDay
from service.domain.rounds import Round, needs_permit
from service.domain.stop_facts import EquipmentFacts
from service.errors import NotFound
from service.storage import forecasts, plan_risks, plan_sites, plans, round_facts, walking_parties
from service.storage.unit import Store, Unit
from service.usecases.plans.candidates import month_span
from service.usecases.plans.carried import CarriedRow, carried_rows
from service.usecases.plans.issued import rounds_of_walks
from service.usecases.plans.reserve import SpoiledWalk, reserves_of_plan, spoiled_walks
from service.usecases.plans.sight import body_to_see, plan_to_see, refuse_walkers


@dataclass(frozen=True, slots=True)
class PlanSums:
    """What a plan comes to. ``off`` is what is put off, ``off_must`` what of it could not wait."""

    walks: int
    stops: int
    points: int
    early: int
    minutes: float
    covers: int
    off: int
    off_points: int
    off_must: int
    late: int


@dataclass(frozen=True, slots=True)
class PlanPage:
    """A plan at one of its versions, with all that its pages name."""

    plan: MonthPlan
    number: int
    body: PlanBody
    sums: PlanSums
    facts: dict[int, EquipmentFacts]
    sites: dict[int, PlanSite]
    people: dict[int, str]
    rounds: dict[str, Round]
    versions: tuple[PlanVersion, ...]
    carried: tuple[CarriedRow, ...]
    reserves: tuple[ReserveDay, ...]
    forecasts: tuple[Forecast, ...]
    spoiled: tuple[SpoiledWalk, ...]
    may_plan: bool
    can_undo: bool
    can_redo: bool

    @property
    def is_current(self) -> bool:
        return self.number == self.plan.current

    @property
    def editable(self) -> bool:
        return self.may_plan and self.is_current and self.plan.working is None

    def walk(self, key: str) -> Walk:
        """One walk.

        Raises
        ------
        NotFound
            The plan has none of this key.
        """
        found = self.body.walk(key)
        if found is None:
            raise NotFound()
        return found


def list_plans(store: Store, actor: Actor, *, after: int = 0, limit: int = 200) -> tuple[MonthPlan, ...]:
    """Plans of which every site is in sight, by id: at most ``limit`` after the id ``after``.

    Raises
    ------
    Forbidden
        Technicians see their rounds, not the plans.
    """
    refuse_walkers(actor)
    clients = None if actor.every_site else actor.clients
    with store.look() as unit:
        found = plans.list_plans(unit, clients, after=after, limit=limit)
    return tuple(plan for plan, sites in found if all(actor.sees_site(site) for site in sites))


def read_plan(
    store: Store, actor: Actor, plan_id: int, *, number: int | None = None, today: date | None = None
) -> PlanPage:
    """A plan as it counts, or at another of its versions; ``today`` tells what should be asked at once.

    Raises
    ------
    NotFound, Forbidden
        Absent or out of sight; or not this role's.
    """
    with store.look() as unit:
        return plan_page(unit, actor, plan_to_see(unit, actor, plan_id), number=number, today=today)


def plan_page(
    unit: Unit, actor: Actor, plan: MonthPlan, *, number: int | None = None, today: date | None = None
) -> PlanPage:
    """The same inside a unit."""
    at = plan.current if number is None else number
    body = body_to_see(unit, actor, plan, at)
    facts = round_facts.equipment_facts(unit, body.equipment_ids)
    made = rounds_of_walks(unit, plan.id)
    sites = plan_sites.sites_to_plan(unit, body.site_ids)
    first, last = month_span(body.month_on)
    expected = forecasts.forecasts_between(unit, body.site_ids, first=first, last=last)
    return PlanPage(
        plan=plan,
        number=at,
        body=body,
        sums=sums_of(body, facts),
        facts=facts,
        sites=sites,
        people=_names(unit, body),
        rounds=made,
        versions=plans.versions_of(unit, plan.id),
        carried=carried_rows(unit, body, facts, sites, today=today),
        reserves=reserves_of_plan(body, facts, made),
        forecasts=expected,
        spoiled=spoiled_walks(body, facts, made, expected),
        may_plan=may(actor, Verb.KEEP_REGISTER),
        can_undo=plans.parent_of(unit, plan.id, plan.current) > 0,
        can_redo=plans.newest_child(unit, plan.id, plan.current) is not None,
    )


def _names(unit: Unit, body: PlanBody) -> dict[int, str]:
    wanted = {walk.person_id for walk in body.walks} | {walk.second_id for walk in body.walks}
    return {walker.id: walker.name for walker in walking_parties.walkers_by_id(unit, wanted).values()}


def sums_of(body: PlanBody, facts: dict[int, EquipmentFacts]) -> PlanSums:
    """The figures of a body."""
    stops = [stop for walk in body.walks for stop in walk.stops]
    late = sum(
        stop.due_on is not None and stop.due_on < walk.day for walk in body.walks for stop in walk.stops
    )
    return PlanSums(
        walks=sum(bool(walk.stops) for walk in body.walks),
        stops=len(stops),
        points=sum(stop.points for stop in stops),
        early=sum(stop.early for stop in stops),
        minutes=body.minutes,
        covers=sum(
            needs_permit(facts[stop.equipment_id].access) for stop in stops if stop.equipment_id in facts
        ),
        off=len(body.put_off),
        off_points=sum(one.points for one in body.put_off),
        off_must=sum(one.must for one in body.put_off),
        late=late,
    )


@dataclass(frozen=True, slots=True)
class Moved:
    """One equipment that two versions place differently; a key of no walk is empty."""

    equipment_id: int
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two versions of a plan side by side."""

    before: PlanPage
    after: PlanPage
    moved: tuple[Moved, ...]
    dropped: tuple[Moved, ...]
    added: tuple[Moved, ...]
    risk_before: float
    risk_after: float


def compare_versions(
    store: Store, actor: Actor, plan_id: int, before: int, after: int, *, now: datetime
) -> Comparison:
    """Hours, what is seen and what is put off at two versions, and who changes day.

    Raises
    ------
    NotFound, Forbidden
        The plan or a version is absent or out of sight; or not this role's.
    """
    with store.look() as unit:
        plan = plan_to_see(unit, actor, plan_id)
        one = plan_page(unit, actor, plan, number=before)
        other = plan_page(unit, actor, plan, number=after)
        risks = [_expected(unit, page.body, today=now.date()) for page in (one, other)]
    here, there = _places(one.body), _places(other.body)
    changes = [
        Moved(key, here.get(key, ""), there.get(key, ""))
        for key in sorted(here.keys() | there.keys())
        if here.get(key) != there.get(key)
    ]
    return Comparison(
        before=one,
        after=other,
        moved=tuple(change for change in changes if change.before and change.after),
        dropped=tuple(change for change in changes if not change.after),
        added=tuple(change for change in changes if not change.before),
        risk_before=risks[0],
        risk_after=risks[1],
    )


def _expected(unit: Unit, body: PlanBody, *, today: date) -> float:
    """Sum of the chances of what a plan does not see (`service.domain.plan_risks`)."""
    seen_on = {stop.equipment_id: walk.day for walk in body.walks for stop in walk.stops}
    equipment = plan_risks.equipment_at_risk(unit, body.site_ids)
    return risks_of(equipment, seen_on, last=month_span(body.month_on)[1], today=today).expected


def _places(body: PlanBody) -> dict[int, str]:
    return {stop.equipment_id: walk.key for walk in body.walks for stop in walk.stops}
