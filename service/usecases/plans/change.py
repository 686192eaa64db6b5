"""Change a plan by hand: each change is a new version, and one that breaks a rule says which."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from service.domain.people import Actor
from service.domain.plans import LeftOut, MonthPlan, PlanBody, PlannedStop, Walk
from service.domain.reserve_days import is_kept
from service.domain.rounds import Round, moved
from service.errors import Conflict, Invalid, NotFound
from service.planning.order_checks import OrderCheck, try_on_day
from service.planning.reasons import Code
from service.storage import audit, plans
from service.storage.unit import Store
from service.usecases.plans.candidates import Ground, read_ground
from service.usecases.plans.hand_words import broken_problem
from service.usecases.plans.issued import OPEN, rounds_of_walks
from service.usecases.plans.planned import left_out, planned_days_of, walk_with
from service.usecases.plans.sight import plan_to_change
from service.usecases.plans.work import takes, timed_by_hand, work_by_hand
from service.usecases.rounds.typed_checks import problem, text_problems

LONGEST_REASON = 300
Edit = Callable[[PlanBody, Ground], tuple[PlanBody, str]]


@dataclass(frozen=True, slots=True)
class Placing:
    """Where a stop is to go: a walk, a place in it from 1, a start, and a reason to keep it anyway.

    ``place`` None is where the walk is home first. ``anyway`` keeps a stop against its load hours; nothing
    keeps one against the rules of who opens covers, of closed sites, or of the shift.
    """

    equipment_id: int
    walk: str
    place: int | None = None
    pinned_min: float | None = None
    anyway: str = ""


def change_plan(
    store: Store, actor: Actor, plan_id: int, edit: Edit, *, version: int, now: datetime
) -> MonthPlan:
    """Apply one change to what counts of a plan, and keep the outcome as a version.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer.
    plan_id : int
        The plan.
    edit : callable
        Gives the changed body and what was done in words; raises Invalid.
    version : int
        The version of the plan's record that the change was made on.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound, Forbidden, Stale, Conflict
        As `plan_to_change`.
    Invalid
        What the change breaks, with what would mend it; nothing was stored.
    """
    with store.begin() as unit:
        plan, body = plan_to_change(unit, actor, plan_id, version=version)
        made = rounds_of_walks(unit, plan.id)
        own = [round_.id for round_ in made.values()]
        ground = read_ground(unit, client_id=plan.client_id, body=body, own_rounds=own, today=now.date())
        changed, what = edit(body, ground)
        _refuse_issued(body, changed, made)
        kept = plans.add_version(
            unit, plan, changed, parent=plan.current, what=what, by=actor.person_id, now=now
        )
        audit.note(
            unit, actor, verb="change", noun="month plan", noun_id=plan.id, now=now, after={"what": what}
        )
        return kept


def _refuse_issued(before: PlanBody, after: PlanBody, made: Mapping[str, Round]) -> None:
    """A walk whose round has gone out is changed on the round, or lost; its stops stay as issued."""
    for walk in before.walks:
        round_ = made.get(walk.key)
        if round_ is None or round_.state in OPEN:
            continue
        now = after.walk(walk.key)
        if now is not None and not now.lost and now != walk:
            raise Conflict(
                f"Round {round_.code} of this walk is {round_.state.value}.",
                remedy="Change it on the round, withdraw the round, or say that the day is lost.",
            )


# ---- edits ---------------------------------------------------------------------------------


def placing(wish: Placing) -> Edit:
    """Put a stop on a walk, from another one or from what was put off."""

    def edit(body: PlanBody, ground: Ground) -> tuple[PlanBody, str]:
        target = walk_of_plan(body, wish.walk)
        visit = next((one for one in ground.visits if one.facts.id == wish.equipment_id), None)
        if visit is None:
            raise NotFound("This equipment is not due at the plan's sites")
        problems = text_problems("anyway", wish.anyway, longest=LONGEST_REASON)
        if not takes(replace(body, excluded={}), ground, visit):
            code = ground.taken[wish.equipment_id]
            problems.append(problem("equipment", code, f"It is on round {code}.", "Take it off there."))
        if problems:
            raise Invalid(problems)
        cleared = _with_stop(without(body, wish.equipment_id), wish, _held(body, wish), ground)
        touched = {wish.walk, *(walk.key for walk in body.walks if _on(walk, wish.equipment_id))}
        timed = retimed(cleared, ground, touched, anyway=wish)
        return timed, f"{visit.facts.tag} put on {target.named}"

    return edit


def _with_stop(body: PlanBody, wish: Placing, stop: PlannedStop, ground: Ground) -> PlanBody:
    """The stop at the place that was typed, or where the walk is home first."""
    target = walk_of_plan(body, wish.walk)
    if target.lost:
        message = f"Nobody walks on {target.named}: {target.lost}."
        raise Invalid([problem("walk", "", message, "Choose another day.")])
    if is_kept(target):  # a hand puts something on a day kept free: it is a walk like any other then
        target = replace(target, reserve="")
    at = len(target.stops) if wish.place is None else max(wish.place - 1, 0)
    stops = (*target.stops[:at], stop, *target.stops[at:])
    placed = body.with_walks([replace(target, stops=stops)])
    if wish.place is not None:
        return placed
    crew_day = next(n for n, walk in enumerate(w for w in body.walks if not w.lost) if walk.key == wish.walk)
    best = try_on_day(
        work_by_hand(placed, ground), planned_days_of(body), key=wish.equipment_id, crew_day=crew_day
    )
    here = {one.equipment_id: one for one in stops}
    return body.with_walks([replace(target, stops=tuple(here[key] for key in best.keys))])


def ordering(key: str, equipment_ids: Sequence[int]) -> Edit:
    """Walk the stops of a walk in this order; it is frozen so, since a hand has chosen it."""

    def edit(body: PlanBody, ground: Ground) -> tuple[PlanBody, str]:
        walk = walk_of_plan(body, key)
        here = {stop.equipment_id: stop for stop in walk.stops}
        if sorted(equipment_ids) != sorted(here):
            message = "The order must name every stop of the walk once."
            found = f"{len(equipment_ids)} of {len(here)}"
            raise Invalid([problem("stops", found, message, "Read the plan again.")])
        stops = tuple(here[one] for one in equipment_ids)
        timed = retimed(body.with_walks([replace(walk, stops=stops)]), ground, {key})
        held = replace(walk_of_plan(timed, key), frozen=True)
        return timed.with_walks([held]), f"order of {walk.named} set by hand"

    return edit


def stepping(key: str, equipment_id: int, *, by: int) -> Edit:
    """One stop up (−1) or down (+1), for those who have no script or no mouse."""

    def edit(body: PlanBody, ground: Ground) -> tuple[PlanBody, str]:
        order = [stop.equipment_id for stop in walk_of_plan(body, key).stops]
        if equipment_id not in order:
            raise NotFound("The stop is not on this walk")
        return ordering(key, moved(order, equipment_id, by=by))(body, ground)

    return edit


def excluding(equipment_id: int, reason: str) -> Edit:
    """Leave equipment out of the month, with the reason; an empty one lets it in again."""

    def edit(body: PlanBody, ground: Ground) -> tuple[PlanBody, str]:
        visit = next((one for one in ground.visits if one.facts.id == equipment_id), None)
        if visit is None:
            raise NotFound("This equipment is not due at the plan's sites")
        tag = visit.facts.tag
        left = tuple(one for one in body.left_out if one.equipment_id != equipment_id)
        if equipment_id in body.excluded:
            excluded = {key: said for key, said in body.excluded.items() if key != equipment_id}
            let_in = replace(body, excluded=excluded, left_out=(*left, left_out(visit, "let in again")))
            return let_in, f"{tag} let in again"
        problems = text_problems(
            "reason", reason, longest=LONGEST_REASON, required="Leaving something out needs a reason."
        )
        if problems:
            raise Invalid(problems)
        touched = {walk.key for walk in body.walks if _on(walk, equipment_id)}
        cleared = without(body, equipment_id)
        out = left_out(visit, "excluded", said=reason.strip())
        body_out = replace(
            cleared,
            excluded={**body.excluded, equipment_id: reason.strip()},
            left_out=(*cleared.left_out, out),
        )
        return retimed(body_out, ground, touched), f"{tag} left out: {reason.strip()}"

    return edit


def freezing(key: str, *, frozen: bool) -> Edit:
    """Hold a walk as it is, or let it be planned again."""

    def edit(body: PlanBody, _ground: Ground) -> tuple[PlanBody, str]:
        walk = walk_of_plan(body, key)
        word = "frozen" if frozen else "open again"
        changed = body.with_walks([replace(walk, frozen=frozen)])
        return changed, f"{walk.named} {word}"

    return edit


def losing(key: str, reason: str) -> Edit:
    """Nobody walks that day: what was on it is put off until it is drawn up again."""

    def edit(body: PlanBody, _ground: Ground) -> tuple[PlanBody, str]:
        walk = walk_of_plan(body, key)
        problems = text_problems(
            "reason", reason, longest=LONGEST_REASON, required="A lost day needs a reason."
        )
        if problems:
            raise Invalid(problems)
        off = tuple(
            LeftOut(
                stop.equipment_id,
                "walk lost",
                said=reason.strip(),
                worth=stop.worth,
                points=stop.points,
                due_on=stop.due_on,
                must=stop.must,
                carried=stop.carried,
            )
            for stop in walk.stops
            if not stop.early
        )
        lost = replace(walk, stops=(), lost=reason.strip(), frozen=False, leave_min=0.0, back_min=0.0)
        changed = replace(body.with_walks([lost]), left_out=(*body.left_out, *off))
        return changed, f"{walk.named} lost: {reason.strip()}"

    return edit


@dataclass(frozen=True, slots=True)
class WalkDetails:
    """Hours of a walk, who goes along, the weather expected."""

    start_min: int
    end_min: int
    second_id: int | None = None
    forecast: str = ""
    indoors_only: bool = False


def detailing(key: str, details: WalkDetails, *, second_qualified: bool, reader_qualified: bool) -> Edit:
    """Change hours, company or weather of a walk; its stops must still fit."""

    def edit(body: PlanBody, ground: Ground) -> tuple[PlanBody, str]:
        walk = walk_of_plan(body, key)
        problems = text_problems("forecast", details.forecast, longest=LONGEST_REASON)
        if details.start_min >= details.end_min:
            problems.append(problem("end", "", "The walk ends before it begins.", "Type a later end."))
        if details.second_id == walk.person_id:
            problems.append(problem("second_id", "", "That is the one who reads.", "Choose another."))
        if problems:
            raise Invalid(problems)
        changed = replace(
            walk,
            start_min=details.start_min,
            end_min=details.end_min,
            second_id=details.second_id,
            qualified=reader_qualified or second_qualified,
            forecast=details.forecast.strip(),
            indoors_only=details.indoors_only,
            lost="",
        )
        timed = retimed(body.with_walks([changed]), ground, {key})
        return timed, f"{walk.named}: hours, company or weather changed"

    return edit


# ---- the clock -----------------------------------------------------------------------------


def retimed(body: PlanBody, ground: Ground, keys: set[str], *, anyway: Placing | None = None) -> PlanBody:
    """The walks of these keys timed anew.

    Raises
    ------
    Invalid
        The first stop of one of them that breaks a rule, and what would mend it.
    """
    walks = [walk for walk in body.walks if not walk.lost]
    work = work_by_hand(body, ground)
    visits = ground.by_equipment
    changed = []
    for at, walk in enumerate(walks):
        if walk.key not in keys:
            continue
        found = timed_by_hand(work, at, [stop.equipment_id for stop in walk.stops])
        if isinstance(found, OrderCheck):
            pinned = _kept_anyway(body, found, anyway)
            if pinned is not None:
                return retimed(pinned, ground, keys)
            raise Invalid([broken_problem(found, walk, visits[found.broken or 0].facts)])
        changed.append(walk_with(walk, found, ground))
    placed = {stop.equipment_id for walk in changed for stop in walk.stops}
    left = tuple(one for one in body.left_out if one.equipment_id not in placed)
    now = replace(body.with_walks(changed), left_out=left)
    return replace(now, value=sum(day.value for day in planned_days_of(now).days), bound=None)


def _kept_anyway(body: PlanBody, found: OrderCheck, wish: Placing | None) -> PlanBody | None:
    """The body with the stop pinned to its arrival, where a reason was typed for that."""
    reached = found.arrive_min
    if wish is None or not wish.anyway.strip() or found.broken != wish.equipment_id or reached is None:
        return None
    if found.rule is not Code.LOAD_HOURS:
        return None
    walk = walk_of_plan(body, wish.walk)
    stops = tuple(
        replace(stop, pinned_min=reached, anyway=wish.anyway.strip())
        if stop.equipment_id == found.broken
        else stop
        for stop in walk.stops
    )
    return body.with_walks([replace(walk, stops=stops)])


def _held(body: PlanBody, wish: Placing) -> PlannedStop:
    """The stop as a hand places it."""
    walk = body.walk_of(wish.equipment_id)
    known = None if walk is None else next(s for s in walk.stops if s.equipment_id == wish.equipment_id)
    base = known or PlannedStop(wish.equipment_id, 0)
    return replace(base, held=True, pinned_min=wish.pinned_min, anyway=wish.anyway.strip())


def without(body: PlanBody, equipment_id: int) -> PlanBody:
    """The plan with this equipment on no walk, excluded by nobody and put off for nothing."""
    changed = [
        replace(walk, stops=tuple(stop for stop in walk.stops if stop.equipment_id != equipment_id))
        for walk in body.walks
        if _on(walk, equipment_id)
    ]
    return replace(
        body.with_walks(changed),
        left_out=tuple(one for one in body.left_out if one.equipment_id != equipment_id),
        excluded={key: said for key, said in body.excluded.items() if key != equipment_id},
    )


def _on(walk: Walk, equipment_id: int) -> bool:
    return any(stop.equipment_id == equipment_id for stop in walk.stops)


def walk_of_plan(body: PlanBody, key: str) -> Walk:
    """A walk by its key; NotFound where the plan has none of that name."""
    found = body.walk(key)
    if found is None:
        raise NotFound("The plan has no such walk")
    return found
