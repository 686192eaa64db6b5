"""Who may go along on the walks of a plan, and a walk with its hours and company changed."""

from datetime import datetime

from service.domain.people import Actor
from service.domain.plans import MonthPlan
from service.domain.walking_parties import Walker
from service.errors import Invalid
from service.storage import walking_parties
from service.storage.unit import Store
from service.usecases.plans.change import WalkDetails, change_plan, detailing
from service.usecases.plans.sight import body_to_see, plan_to_see
from service.usecases.rounds.typed_checks import problem


def company_for(store: Store, actor: Actor, plan_id: int) -> tuple[Walker, ...]:
    """Everybody whose grants reach every site of the plan, by name.

    Raises
    ------
    NotFound, Forbidden
        The plan is out of sight, or not this role's.
    """
    with store.look() as unit:
        plan = plan_to_see(unit, actor, plan_id)
        body = body_to_see(unit, actor, plan, plan.current)
        return walking_parties.walkers_for(unit, body.site_ids, client_id=plan.client_id)


def detail_walk(
    store: Store, actor: Actor, plan_id: int, key: str, details: WalkDetails, *, version: int, now: datetime
) -> MonthPlan:
    """Change hours, company and weather of a walk.

    Raises
    ------
    Invalid
        Somebody who may not walk there, or stops that would not fit any more.
    NotFound, Forbidden, Stale, Conflict
        As `change_plan`.
    """
    company = {walker.id: walker for walker in company_for(store, actor, plan_id)}
    if details.second_id is not None and details.second_id not in company:
        message = "Not somebody who may walk every site of this plan."
        raise Invalid([problem("second_id", str(details.second_id), message, "Choose from the list.")])
    reader = company.get(int(key.rpartition(".")[2]))
    second = company.get(details.second_id or 0)
    edit = detailing(
        key,
        details,
        reader_qualified=reader is not None and reader.qualified,
        second_qualified=second is not None and second.qualified,
    )
    return change_plan(store, actor, plan_id, edit, version=version, now=now)
