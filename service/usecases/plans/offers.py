"""Where one stop could go: the minutes it would cost on each walk, or the rule that keeps it off."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.plan_visits import Visit
from service.domain.plans import Walk
from service.errors import NotFound
from service.planning.crew_days import Work
from service.planning.order_checks import OrderCheck, try_on_day
from service.planning.ways import TENTHS
from service.storage import plans
from service.storage.unit import Store
from service.usecases.plans.candidates import read_ground
from service.usecases.plans.change import without
from service.usecases.plans.planned import planned_days_of
from service.usecases.plans.see import PlanPage, plan_page
from service.usecases.plans.sight import plan_to_see
from service.usecases.plans.work import timed_by_hand, work_by_hand


@dataclass(frozen=True, slots=True)
class WalkOffer:
    """What one walk would make of the stop: where it would go, or what it would break.

    ``start_min`` is when work would begin, None where it does not fit [min from local midnight].
    """

    walk: Walk
    check: OrderCheck
    here: bool
    position: int
    start_min: float | None


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
    work = work_by_hand(cleared, ground, equipment_id)
    plan_now = planned_days_of(cleared)
    walks = [walk for walk in cleared.walks if not walk.lost]
    found = []
    for at, walk in enumerate(walks):
        check = try_on_day(work, plan_now, key=equipment_id, crew_day=at)
        here = now_on is not None and walk.key == now_on.key
        found.append(_offer(work, walk, at, check=check, key=equipment_id, here=here))
    return Places(page, visit, tuple(sorted(found, key=_cheapest)))


def _offer(work: Work, walk: Walk, at: int, *, check: OrderCheck, key: int, here: bool) -> WalkOffer:
    position = check.keys.index(key) + 1
    day = timed_by_hand(work, at, check.keys) if check.fits else check
    start = None if isinstance(day, OrderCheck) else day.visits[position - 1].start_tenths / TENTHS
    return WalkOffer(walk, check, here, position, start)


def _cheapest(one: WalkOffer) -> tuple[bool, float, str]:
    return not one.check.fits, one.check.change_min, one.walk.key
