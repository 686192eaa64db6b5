"""Have a plan drawn up: asked for by a person, done by a job that says how far it is."""

import secrets
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from service.domain.jobs import JobKind
from service.domain.people import Actor
from service.domain.plans import MonthPlan, PlanBody, Working
from service.domain.reserve_days import Reserve, emptied, let_go, with_reserve_days
from service.errors import Conflict, Invalid
from service.planning.day_routes import STEPS, plan_days
from service.planning.what_ifs import what_if
from service.storage import jobs, plan_sites, plans
from service.storage.unit import Store, Unit
from service.usecases.plans.candidates import Ground, read_ground
from service.usecases.plans.issued import held_by_rounds, rounds_of_walks
from service.usecases.plans.planned import body_with, first_where_hurried, planned_days_of
from service.usecases.plans.reserve import walked_keys
from service.usecases.plans.sight import plan_to_change
from service.usecases.plans.what_if import Change, changed_by
from service.usecases.plans.work import work_of

#: progress is written at most so often: each is a transaction of its own
TELL_EVERY = 50
#: what a visit must win to leave the day it was planned on, once the plan has been seen (its own score)
STAY_PRICE = 25
#: said where every day is needed
NO_RESERVE = "no day could be kept in reserve for outdoor readings: what cannot wait needs every one"


class Stopped(Exception):
    """The engineer took the order back while it was worked on."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is asked of the planner.

    ``what`` is how the version will be called. ``steps`` 0 fills free time and moves nobody.
    ``afresh`` forgets the order of the plan as it stands; ``aside`` draws a version beside it
    with ``change`` applied, to see what would be.
    """

    what: str
    steps: int = STEPS
    seed: int = 0
    afresh: bool = False
    aside: bool = False
    change: dict[str, Any] | None = None


#: What an engineer may ask for, by a word of the forms.
WAYS = {
    "fill": Wish("free time filled", steps=0),
    "around": Wish("drawn up again around what is held"),
    "afresh": Wish("drawn up afresh", afresh=True),
}


def put_drawing(unit: Unit, plan: MonthPlan, wish: Wish, *, by: int | None, now: datetime) -> None:
    """Write the order as a job, in the transaction of its cause."""
    order = secrets.token_hex(8)
    working = Working(wish.what, plan.current, of=wish.steps, order=order)
    plans.set_working(unit, plan.id, working)
    payload = {"plan_id": plan.id, "base": plan.current, "order": order, "by": by, "wish": asdict(wish)}
    jobs.put(unit, JobKind.DRAW_UP_PLAN, payload, now=now)


def ask_for_drawing(
    store: Store, actor: Actor, plan_id: int, wish: Wish, *, version: int, now: datetime
) -> MonthPlan:
    """Have the plan drawn up again around everything held by hand.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Stale, Conflict
        Changed since ``version``; or an order is being worked on.
    """
    with store.begin() as unit:
        plan, _body = plan_to_change(unit, actor, plan_id, version=version)
        put_drawing(unit, plan, wish, by=actor.person_id, now=now)
        return plan


def ask_what_if(
    store: Store, actor: Actor, plan_id: int, change: dict[str, Any], *, version: int, now: datetime
) -> MonthPlan:
    """Have a version drawn up beside the plan, as if something were otherwise; the plan stays.

    Raises
    ------
    Invalid
        The change makes no sense for this plan.
    NotFound, Forbidden, Stale, Conflict
        As `ask_for_drawing`.
    """
    with store.begin() as unit:
        plan, body = plan_to_change(unit, actor, plan_id, version=version)
        supposed = Change(**change)
        problems = supposed.problems(body)
        if problems:
            raise Invalid(problems)
        names = {site.id: site.name for site in plan_sites.sites_to_plan(unit, body.site_ids).values()}
        wish = Wish(f"what if: {supposed.told(names)}", aside=True, change=asdict(supposed))
        put_drawing(unit, plan, wish, by=actor.person_id, now=now)
        return plan


def stop_drawing(store: Store, actor: Actor, plan_id: int, *, version: int) -> MonthPlan:
    """Take the order back; the plan stays as it was.

    Raises
    ------
    Conflict
        Nothing is under way.
    """
    with store.begin() as unit:
        plan, _body = plan_to_change(unit, actor, plan_id, version=version, while_working=True)
        if plan.working is None:
            raise Conflict("Nothing is being drawn up.", remedy="Read the plan again.")
        plans.set_working(unit, plan.id, None)
        return plan


def draw_up(
    store: Store, plan_id: int, *, base: int, order: str, by: int | None, wish: Wish, now: datetime
) -> None:
    """Do what an order asks; one that was taken back, or done before, changes nothing."""
    with store.look() as unit:
        plan = plans.plan_by_id(unit, plan_id)
        if plan is None or not _still(plan, order):
            return
        body = plans.body_of(unit, plan_id, base)
        assert body is not None
        if wish.change is not None:
            body = changed_by(unit, plan.client_id, body, Change(**wish.change))
        body = held_by_rounds(unit, plan_id, body)
        own = plans.rounds_of(unit, plan_id).values()
        ground = read_ground(unit, client_id=plan.client_id, body=body, own_rounds=own, today=now.date())
        walked = walked_keys(rounds_of_walks(unit, plan_id))
        body = let_go(body, ground.outdoor, walked, spoiled=ground.spoiled_walks(body))
    try:
        drawn = drawn_up(body, ground, wish, tell=_Teller(store, plan_id, order))
    except Stopped:
        return
    with store.begin() as unit:
        held = plans.lock_plan(unit, plan_id)
        if held is None or not _still(held, order):
            return
        plans.add_version(unit, held, drawn, parent=base, aside=wish.aside, what=wish.what, by=by, now=now)
        plans.set_working(unit, plan_id, None)


def drawn_up(body: PlanBody, ground: Ground, wish: Wish, *, tell: "_Teller | None" = None) -> PlanBody:
    """The planner's answer; the same body and ground give the same plan, wherever and whenever.

    A day that is kept in reserve and had stops has them planned again around it; where something
    that cannot wait would lose its place by that, no day is kept.
    """
    if wish.aside:
        return _supposed(body, ground, wish)
    if wish.afresh:
        body = _cleared(body)
    first = _searched(body, ground, wish, tell)
    kept = with_reserve_days(first, ground.outdoor)
    if not emptied(first, kept):
        return kept
    around = _searched(kept, ground, wish, tell)
    if _off_must(around) > _off_must(first):
        return replace(first, notes=(NO_RESERVE,))
    return around


def _searched(body: PlanBody, ground: Ground, wish: Wish, tell: "_Teller | None") -> PlanBody:
    work = work_of(body, ground)
    plan = plan_days(
        work,
        seed=wish.seed,
        steps=wish.steps,
        incumbent=planned_days_of(body),
        stay_price=STAY_PRICE if body.drawn and not wish.afresh else 0,
        progress=tell,
    )
    return replace(body_with(body, first_where_hurried(work, plan, ground), ground), notes=())


def _off_must(body: PlanBody) -> int:
    return sum(one.must for one in body.put_off)


def _cleared(body: PlanBody) -> PlanBody:
    """Nothing left on the walks that may be planned over, and no day kept but by hand."""
    return body.with_walks(
        replace(walk, stops=(), reserve="" if walk.reserve == Reserve.PLANNED else walk.reserve)
        for walk in body.walks
        if not walk.frozen
    )


def _supposed(body: PlanBody, ground: Ground, wish: Wish) -> PlanBody:
    """The best of some runs, each begun from the plan; their range says what is search and what is gain."""
    found = what_if(work_of(body, ground), planned_days_of(body), steps=wish.steps)
    best = max(found.plans, key=lambda plan: plan.value)
    share = 0.0 if not found.high else (found.high - found.low) / found.high
    note = (
        f"{len(found.plans)} runs differ by {share:.1%} in what their readings are worth; the best is shown"
    )
    return replace(body_with(body, best, ground), notes=(note,))


class _Teller:
    """Writes how far the search is; ends it when the order has been taken back."""

    def __init__(self, store: Store, plan_id: int, order: str) -> None:
        self._store, self._plan_id, self._order = store, plan_id, order

    def __call__(self, done: int, of: int, value: int) -> None:
        if done % TELL_EVERY and done != of:
            return
        with self._store.begin() as unit:
            plan = plans.lock_plan(unit, self._plan_id)
            if plan is None or plan.working is None or not _still(plan, self._order):
                raise Stopped
            plans.set_working(unit, self._plan_id, replace(plan.working, done=done, of=of, value=value))


def _still(plan: MonthPlan, order: str) -> bool:
    return plan.working is not None and plan.working.order == order
