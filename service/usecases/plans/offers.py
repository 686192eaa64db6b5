"""Where one stop could go: the minutes it would cost on each walk, or the rule that keeps it off."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.plan_visits import Visit
from service.domain.plans import Walk
from service.errors import NotFound
from service.planning.ground import Ground as Timed
from service.planning.hand_orders import Offer, offers_for
from service.storage import plans
from service.storage.unit import Store
from service.usecases.plans.candidates import read_ground
from service.usecases.plans.change import without
from service.usecases.plans.see import PlanPage, plan_page
from service.usecases.plans.sight import plan_to_see
from service.usecases.plans.work import work_of


@dataclass(frozen=True, slots=True)
class WalkOffer:
    """What one walk would make of the stop."""

    walk: Walk
    offer: Offer
    here: bool


@dataclass(frozen=True, slots=True)
class Places:
    """One stop, where it is, and where it could go: the cheapest walk first, then those that refuse."""

    page: PlanPage
    visit: Visit
    offers: tuple[WalkOffer, ...]


def read_places(store: Store, actor: Actor, plan_id: int, equipment_id: int, *, now: datetime) -> Places:
    """Every walk with what it would cost to take this stop in.

    Raises
    ------
    NotFound, Forbidden
        The plan is out of sight; the equipment is neither due at its sites nor on a walk.
    """
    with store.look() as unit:
        plan = plan_to_see(unit, actor, plan_id)
        page = plan_page(unit, actor, plan)
        own = plans.rounds_of(unit, plan_id).values()
        ground = read_ground(unit, client_id=plan.client_id, body=page.body, own_rounds=own, today=now.date())
    visit = next((one for one in ground.visits if one.facts.id == equipment_id), None)
    if visit is None or equipment_id in ground.taken:
        raise NotFound("This equipment is not due at the plan's sites, or on another round")
    now_on = page.body.walk_of(equipment_id)
    cleared = without(page.body, equipment_id)
    walks = [walk for walk in cleared.walks if not walk.lost]
    timed = Timed(work_of(cleared, ground))
    number = {walk.key: at for at, walk in enumerate(walks)}
    orders = [
        [stop.equipment_id for stop in walks[day.key].stops if stop.equipment_id in timed.at]
        for day in timed.days
    ]
    offers = {offer.crew_day: offer for offer in offers_for(timed, equipment_id, orders)}
    found = [
        WalkOffer(walk, offers[number[walk.key]], now_on is not None and walk.key == now_on.key)
        for walk in walks
    ]
    return Places(page, visit, tuple(sorted(found, key=_cheapest)))


def _cheapest(one: WalkOffer) -> tuple[bool, float, str]:
    return one.offer.broken is not None, one.offer.added_min, one.walk.key
