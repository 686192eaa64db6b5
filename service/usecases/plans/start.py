"""Begin a plan of a month: which sites, which days and people; the planner then draws it up."""

from dataclasses import dataclass
from datetime import date, datetime

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.plans import MonthPlan, PlanBody
from service.errors import Invalid, Problem
from service.storage import audit, plan_sites, plans
from service.storage.unit import Store, Unit
from service.usecases.plans.candidates import month_span, read_ground, walks_of
from service.usecases.plans.draw_up import Wish, put_drawing
from service.usecases.plans.working_days import working_days
from service.usecases.rounds.typed_checks import LONGEST_NAME, problem, text_problems

EARLIEST_YEAR, LATEST_YEAR = 2000, 2100


@dataclass(frozen=True, slots=True)
class PlanWish:
    """What a new plan is to be; ``month_on`` is any day of its month."""

    name: str
    month_on: date
    site_ids: tuple[int, ...]

    def problems(self) -> list[Problem]:
        found = text_problems("name", self.name, longest=LONGEST_NAME, required="A plan needs a name.")
        if not EARLIEST_YEAR <= self.month_on.year <= LATEST_YEAR:
            found.append(problem("month", self.month_on.isoformat(), "Out of range.", "Check the year."))
        if not self.site_ids:
            found.append(problem("sites", "", "A plan needs a site.", "Tick one at least."))
        return found


def start_plan(store: Store, actor: Actor, wish: PlanWish, *, now: datetime) -> MonthPlan:
    """Make a plan with a walk for each working day of everybody who reads, and have it drawn up.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer with grants for every site of it.
    wish : PlanWish
        Name, month and sites.
    now : datetime
        The instant of the request; days that are over get no walk.

    Returns
    -------
    MonthPlan
        Its first version has empty walks; a job fills them.

    Raises
    ------
    NotFound
        A site is absent or out of sight.
    Invalid
        Every problem of the wish; nothing was stored.
    """
    require(actor, Verb.KEEP_REGISTER)
    for site_id in wish.site_ids:
        require(actor, Verb.KEEP_REGISTER, site_id=site_id)
    problems = wish.problems()
    with store.begin() as unit:
        client_id = _client(unit, wish, problems)
        if problems or client_id is None:
            raise Invalid(problems)
        body = _first_body(unit, client_id, wish, today=now.date())
        plan = plans.add_plan(
            unit, client_id=client_id, month_on=body.month_on, name=wish.name.strip(), now=now
        )
        plan = plans.add_version(unit, plan, body, parent=0, what="begun", by=actor.person_id, now=now)
        after = {"name": plan.name, "month": body.month_on, "sites": list(body.site_ids)}
        audit.note(unit, actor, verb="plan", noun="month plan", noun_id=plan.id, now=now, after=after)
        put_drawing(unit, plan, Wish("drawn up"), by=actor.person_id, now=now)
        return plan


def _client(unit: Unit, wish: PlanWish, problems: list[Problem]) -> int | None:
    sites = plan_sites.sites_to_plan(unit, wish.site_ids)
    clients = {site.client_id for site in sites.values()}
    if len(sites) < len(set(wish.site_ids)):
        problems.append(problem("sites", "", "A site of the list is retired.", "Leave it out."))
    if len(clients) > 1:
        found = f"{len(clients)} clients"
        problems.append(problem("sites", found, "A plan is for one client.", "Make one for each."))
    return min(clients, default=None)


def _first_body(unit: Unit, client_id: int, wish: PlanWish, *, today: date) -> PlanBody:
    first, last = month_span(wish.month_on)
    body = PlanBody(month_on=first, site_ids=tuple(dict.fromkeys(wish.site_ids)))
    busy = read_ground(unit, client_id=client_id, body=body, own_rounds=(), today=today).busy
    days = working_days(unit, client_id=client_id, site_ids=body.site_ids, first=first, last=last)
    return PlanBody(
        month_on=first, site_ids=body.site_ids, walks=walks_of(days, busy=busy, from_on=max(first, today))
    )
