"""Steps back and forth among the versions of a plan; none is ever lost."""

from datetime import datetime

from service.domain.people import Actor
from service.domain.plans import MonthPlan
from service.errors import Conflict
from service.storage import audit, plans
from service.storage.unit import Store, Unit
from service.usecases.plans.sight import plan_to_change


def undo(store: Store, actor: Actor, plan_id: int, *, version: int, now: datetime) -> MonthPlan:
    """Let the version before count again.

    Raises
    ------
    Conflict
        There is none; or the plan is being drawn up.
    Stale, NotFound, Forbidden
        Changed since ``version``; out of sight; not this role's.
    """
    with store.begin() as unit:
        plan, _body = plan_to_change(unit, actor, plan_id, version=version)
        before = plans.parent_of(unit, plan.id, plan.current)
        if not before:
            raise Conflict("This is the first version.", remedy="There is nothing to take back.")
        return _step(unit, actor, plan, before, now=now)


def redo(store: Store, actor: Actor, plan_id: int, *, version: int, now: datetime) -> MonthPlan:
    """Let the latest version made from this one count again.

    Raises
    ------
    Conflict
        There is none; or the plan is being drawn up.
    Stale, NotFound, Forbidden
        Changed since ``version``; out of sight; not this role's.
    """
    with store.begin() as unit:
        plan, _body = plan_to_change(unit, actor, plan_id, version=version)
        after = plans.newest_child(unit, plan.id, plan.current)
        if after is None:
            raise Conflict("This is the last version.", remedy="There is nothing to do again.")
        return _step(unit, actor, plan, after, now=now)


def _step(unit: Unit, actor: Actor, plan: MonthPlan, to: int, *, now: datetime) -> MonthPlan:
    stepped = plans.set_current(unit, plan, to, now=now)
    audit.note(
        unit,
        actor,
        verb="step",
        noun="month plan",
        noun_id=plan.id,
        now=now,
        before={"current": plan.current},
        after={"current": to},
    )
    return stepped
