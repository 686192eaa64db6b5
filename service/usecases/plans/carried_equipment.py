"""One equipment that was carried over: causes, a better time, and where the plans to come have it."""

from dataclasses import dataclass
from datetime import date, datetime

from service.domain.carried_over import CarriedOver, better_time, carried_over
from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.plans import MonthPlan, Walk
from service.domain.register import Noun
from service.storage import carried_over as unread
from service.storage import plan_sites, plans, register, round_facts
from service.storage.plans import PlanAhead
from service.storage.unit import Store, Unit
from service.usecases.plans.better_times import sun_hours

#: plans to come that are looked through, the newest first
MOST_PLANS = 6


@dataclass(frozen=True, slots=True)
class CarriedHere:
    """What came back of an equipment, and the plan that has its site; ``walk`` is None where none takes it.

    ``often`` says that it was carried over as many times in a row as its client wants to hear of.
    """

    carried: CarriedOver
    better: str
    often: bool
    plan: MonthPlan | None
    walk: Walk | None


def see_carried(store: Store, actor: Actor, equipment_id: int, *, now: datetime) -> CarriedHere | None:
    """Whether the last visits of an equipment gave no reading; None where they did.

    Raises
    ------
    NotFound
        Absent, or out of sight.

    Notes
    -----
    Technicians see what came back, not the plan behind their rounds.
    """
    require(actor, Verb.SEE)
    with store.look() as unit:
        register.thing(unit, Noun.EQUIPMENT, equipment_id, sight=register.sight_of(actor))
        found = carried_over(unread.unread_of_equipment(unit, equipment_id)).get(equipment_id)
        if found is None:
            return None
        facts = round_facts.equipment_facts(unit, [equipment_id])[equipment_id]
        plan, walk = _planned(unit, actor, equipment_id, facts.site_id, today=now.date())
        day = None if walk is None else walk.day
        site = plan_sites.sites_to_plan(unit, [facts.site_id]).get(facts.site_id)
        sun = None if site is None else sun_hours(site, day or now.date())
        return CarriedHere(
            carried=found,
            better=better_time(found, facts, day=day, today=now.date(), sun=sun),
            often=found.times >= unread.most_carried_over(unit)[facts.site_id],
            plan=plan,
            walk=walk,
        )


def _planned(
    unit: Unit, actor: Actor, equipment_id: int, site_id: int, *, today: date
) -> tuple[MonthPlan | None, Walk | None]:
    """The plan to come that takes it, else the newest that has its site; both None where there is none."""
    if own_rounds_only(actor) or actor.only_round is not None:
        return None, None
    clients = None if actor.every_site else actor.clients
    ahead = [
        one
        for one in plans.plans_ahead(unit, clients, first=today, limit=MOST_PLANS)
        if site_id in one.body.site_ids and all(actor.sees_site(site) for site in one.body.site_ids)
    ]
    for one in ahead:
        walk = _walk(one, equipment_id, today)
        if walk is not None:
            return one.plan, walk
    return (ahead[0].plan, None) if ahead else (None, None)


def _walk(one: PlanAhead, equipment_id: int, today: date) -> Walk | None:
    walk = one.body.walk_of(equipment_id)
    return None if walk is None or walk.day < today else walk
