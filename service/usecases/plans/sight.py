"""Which plans somebody may see and change, and the first steps of every use case on one."""

from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.plans import MonthPlan, PlanBody
from service.errors import Conflict, Forbidden, NotFound, Stale
from service.storage import plans
from service.storage.unit import Unit


def plan_to_see(unit: Unit, actor: Actor, plan_id: int) -> MonthPlan:
    """The plan, when every site of what counts of it is in sight.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    Forbidden
        Technicians see their rounds, not the plans these come from.
    """
    plan = plans.plan_by_id(unit, plan_id)
    if plan is None or not actor.sees_client(plan.client_id):
        raise NotFound()
    body_to_see(unit, actor, plan, plan.current)
    refuse_walkers(actor)
    return plan


def refuse_walkers(actor: Actor) -> None:
    """Raise Forbidden for those who see only what they walk themselves."""
    require(actor, Verb.SEE)
    if own_rounds_only(actor) or actor.only_round is not None:
        raise Forbidden("Technicians see the rounds given to them, not the plan.")


def body_to_see(unit: Unit, actor: Actor, plan: MonthPlan, number: int) -> PlanBody:
    """One of its versions, when every site of it is in sight.

    Raises
    ------
    NotFound
        No such version, or a site of it is out of sight.
    """
    body = plans.body_of(unit, plan.id, number)
    if body is None or not all(actor.sees_site(site) for site in body.site_ids):
        raise NotFound()
    return body


def plan_to_change(
    unit: Unit, actor: Actor, plan_id: int, *, version: int, while_working: bool = False
) -> tuple[MonthPlan, PlanBody]:
    """The plan and what counts of it, held until the end of the writing unit.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Stale
        Somebody changed it since ``version``.
    Conflict
        The service is drawing it up just now.
    """
    plan = plans.lock_plan(unit, plan_id)
    if plan is None or not actor.sees_client(plan.client_id):
        raise NotFound()
    body = body_to_see(unit, actor, plan, plan.current)
    require(actor, Verb.KEEP_REGISTER)
    if plan.version != version:
        raise Stale(plan.version)
    if plan.working is not None and not while_working:
        raise Conflict("The plan is being drawn up.", remedy="Wait until it is done, or stop it.")
    return plan, body
