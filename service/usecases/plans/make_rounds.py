"""Turn the walks of a plan into drafts of rounds, and keep those drafts in line with it."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.plans import MonthPlan, PlanBody, Walk
from service.domain.rounds import Round
from service.domain.stop_facts import EquipmentFacts
from service.domain.words import RoundState
from service.storage import audit, plans, round_facts, rounds, site_state
from service.storage.unit import Store, Unit
from service.usecases.plans.issued import rounds_of_walks
from service.usecases.plans.sight import plan_to_change


@dataclass(frozen=True, slots=True)
class Made:
    """What became of the walks: new drafts, drafts brought in line, and rounds that are out already."""

    made: tuple[str, ...]
    changed: tuple[str, ...]
    left: tuple[str, ...]


def make_rounds(store: Store, actor: Actor, plan_id: int, *, version: int, now: datetime) -> Made:
    """Make a draft of each walk with stops; permits, instrument and issue follow on the round.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer with grants for every site of the plan.
    plan_id : int
        The plan.
    version : int
        Of the plan's record.
    now : datetime
        The instant of the request.

    Returns
    -------
    Made
        Codes of rounds. A draft of before follows its walk; one that is issued stays as it is, and
        a draft whose walk is lost or empty stays for the engineer to withdraw.

    Raises
    ------
    NotFound, Forbidden, Stale, Conflict
        As `plan_to_change`.
    """
    made, changed, left = [], [], []
    with store.begin() as unit:
        plan, body = plan_to_change(unit, actor, plan_id, version=version)
        known = rounds_of_walks(unit, plan.id)
        facts = round_facts.equipment_facts(unit, body.on_walks)
        for walk in body.walks:
            if not walk.stops:
                continue
            round_ = known.get(walk.key)
            if round_ is None or round_.state is RoundState.WITHDRAWN:
                made.append(_make(unit, actor, plan, body, walk, facts=facts, now=now).code)
            elif round_.state is RoundState.DRAFT:
                changed.append(_bring_in_line(unit, actor, round_, walk, facts=facts, now=now).code)
            else:
                left.append(round_.code)
    return Made(tuple(made), tuple(changed), tuple(left))


def _make(
    unit: Unit,
    actor: Actor,
    plan: MonthPlan,
    body: PlanBody,
    walk: Walk,
    *,
    facts: dict[int, EquipmentFacts],
    now: datetime,
) -> Round:
    sites = list(dict.fromkeys(facts[stop.equipment_id].site_name for stop in walk.stops))
    name = " and ".join(sites) if len(sites) < 3 else f"{sites[0]} and {len(sites) - 1} more sites"
    fields = {"name": name, "planned_on": walk.day, "start_min": walk.start_min, **_party(walk)}
    code = rounds.next_code(unit, plan.client_id, walk.day)
    round_ = rounds.add_round(unit, client_id=plan.client_id, code=code, fields=fields, now=now)
    rounds.add_move(
        unit,
        round_.id,
        from_state="",
        to_state=RoundState.DRAFT.value,
        by=actor.person_id,
        now=now,
        note=f"{len(walk.stops)} stops of the plan {plan.name}",
    )
    _fill(unit, round_.id, walk, facts=facts, now=now)
    plans.link_round(unit, plan.id, walk.key, round_.id)
    after = {"code": round_.code, "planned_on": round_.planned_on, "plan": plan.id}
    audit.note(unit, actor, verb="plan", noun="round", noun_id=round_.id, now=now, after=after)
    return round_


def _bring_in_line(
    unit: Unit, actor: Actor, round_: Round, walk: Walk, *, facts: dict[int, EquipmentFacts], now: datetime
) -> Round:
    """The draft with the stops, people and start of its walk; nothing is written where nothing differs."""
    here = [stop.equipment_id for stop in rounds.stops_of(unit, round_.id)]
    wanted = [stop.equipment_id for stop in walk.stops]
    party = _party(walk)
    now_is = (round_.start_min, round_.person_id, round_.second_person_id, round_.weather)
    if here == wanted and now_is == (walk.start_min, *party.values()):
        return round_
    if here != wanted:
        for stop in rounds.stops_of(unit, round_.id):
            rounds.remove_stop(unit, stop.id)
        _fill(unit, round_.id, walk, facts=facts, now=now)
    changed = rounds.touch_round(
        unit, round_.id, version=round_.version, now=now, start_min=walk.start_min, **party
    )
    was = ("start_min", *party)
    audit.note(
        unit,
        actor,
        verb="plan again",
        noun="round",
        noun_id=round_.id,
        now=now,
        before={"stops": here} | {name: getattr(round_, name) for name in was},
        after={"stops": wanted, "start_min": walk.start_min, **party},
    )
    return changed


def _party(walk: Walk) -> dict[str, int | str | None]:
    return {"person_id": walk.person_id, "second_person_id": walk.second_id, "weather": walk.forecast}


def _fill(unit: Unit, round_id: int, walk: Walk, *, facts: dict[int, EquipmentFacts], now: datetime) -> None:
    stops = [
        (stop.equipment_id, facts[stop.equipment_id].site_id, facts[stop.equipment_id].minutes)
        for stop in walk.stops
    ]
    rounds.add_stops(unit, round_id, stops)
    site_state.bump(unit, {site for _, site, _ in stops}, now=now)
