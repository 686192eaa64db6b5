"""Build a round for a day: from a route, from what is due at sites, or by picking equipment."""

from dataclasses import dataclass
from datetime import date, datetime

from service.domain.day_words import day_words
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.rounds import Round
from service.domain.stop_facts import EquipmentFacts
from service.domain.words import RoundState
from service.errors import Invalid, NotFound, Problem
from service.storage import audit, round_facts, rounds, routes, site_state
from service.storage.unit import Store, Unit
from service.usecases.rounds.typed_checks import (
    LONGEST_NAME,
    MOST_STOPS,
    day_problems,
    problem,
    text_problems,
)


@dataclass(frozen=True, slots=True)
class RoundWish:
    """What a new round is to be; stops come from the route, then from what is due, then as picked.

    ``start_min`` is the minute of the day, on the clock of the first site, at which the walk starts.
    """

    name: str
    planned_on: date
    start_min: int = 420
    route_id: int | None = None
    due_site_ids: tuple[int, ...] = ()
    equipment_ids: tuple[int, ...] = ()
    client_id: int | None = None

    def problems(self) -> list[Problem]:
        found = text_problems("name", self.name, longest=LONGEST_NAME, required="A round needs a name.")
        found += day_problems("planned_on", self.planned_on)
        if not 0 <= self.start_min <= 1439:
            found.append(problem("start", str(self.start_min), "Not a time of the day.", "Type 07:00."))
        return found


def plan_round(store: Store, actor: Actor, wish: RoundWish, *, now: datetime) -> Round:
    """Make a draft.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer with grants for every site of it.
    wish : RoundWish
        Name, day, start and where its stops come from.
    now : datetime
        The instant of the request.

    Returns
    -------
    Round
        The draft, with its stops in walking order behind it.

    Raises
    ------
    NotFound
        The route, a site or an equipment is absent or out of sight.
    Invalid
        Name, day or stops with problems; nothing was stored.
    """
    require(actor, Verb.KEEP_REGISTER)
    problems = wish.problems()
    with store.begin() as unit:
        stops = _stops(unit, actor, wish, problems)
        client_id = _client(actor, wish, stops, problems)
        if problems or client_id is None:
            raise Invalid(problems)
        round_ = rounds.add_round(
            unit,
            client_id=client_id,
            code=rounds.next_code(unit, client_id, wish.planned_on),
            fields={
                "name": wish.name.strip(),
                "planned_on": wish.planned_on,
                "start_min": wish.start_min,
                "route_id": wish.route_id,
            },
            now=now,
        )
        rounds.add_stops(unit, round_.id, [(facts.id, facts.site_id, facts.minutes) for facts in stops])
        note = f"{len(stops)} stops"
        by = actor.person_id
        rounds.add_move(
            unit, round_.id, from_state="", to_state=RoundState.DRAFT.value, by=by, now=now, note=note
        )
        site_state.bump(unit, {facts.site_id for facts in stops}, now=now)
        after = {"code": round_.code, "planned_on": round_.planned_on, "stops": [f.id for f in stops]}
        audit.note(unit, actor, verb="plan", noun="round", noun_id=round_.id, now=now, after=after)
        return round_


def _stops(unit: Unit, actor: Actor, wish: RoundWish, problems: list[Problem]) -> list[EquipmentFacts]:
    wanted: list[int] = []
    retired_is_wrong = set(wish.equipment_ids)
    if wish.route_id is not None:
        route = routes.route_by_id(unit, wish.route_id)
        if route is None or route.retired_at is not None or not actor.sees_client(route.client_id):
            raise NotFound()
        wanted += route.equipment_ids
    if wish.due_site_ids:
        wanted += _due(unit, actor, wish, problems)
    wanted += wish.equipment_ids
    ordered = list(dict.fromkeys(wanted))
    if len(ordered) > MOST_STOPS:
        message = f"A round takes at most {MOST_STOPS} stops."
        problems.append(problem("equipment", f"{len(ordered)} stops", message, "Split it over more days."))
        ordered = ordered[:MOST_STOPS]
    facts = equipment_in_sight(unit, actor, ordered)
    stops = []
    for one in facts:
        if one.retired_at is None:
            stops.append(one)
        elif one.id in retired_is_wrong:
            problems.append(problem("equipment", one.tag, f"{one.name} is retired.", "Leave it out."))
    return stops


def _due(unit: Unit, actor: Actor, wish: RoundWish, problems: list[Problem]) -> list[int]:
    for site_id in wish.due_site_ids:
        require(actor, Verb.KEEP_REGISTER, site_id=site_id)
    sites = list(wish.due_site_ids)
    due = round_facts.tallies(unit, today=wish.planned_on, site_ids=sites, due_only=True)
    if not due:
        message = f"Nothing is due there by {day_words(wish.planned_on)}."
        problems.append(problem("due_site_ids", "", message, "Choose a later day, a route, or pick stops."))
    return [
        facts.id for facts in round_facts.equipment_in_walking_order(unit, site_ids=sites) if facts.id in due
    ]


def equipment_in_sight(unit: Unit, actor: Actor, equipment_ids: list[int]) -> list[EquipmentFacts]:
    """Facts of each id in the order given.

    Raises
    ------
    NotFound
        One of them is absent or at a site out of sight.
    """
    facts = round_facts.equipment_facts(unit, equipment_ids)
    for equipment_id in equipment_ids:
        if equipment_id not in facts or not actor.sees_site(facts[equipment_id].site_id):
            raise NotFound("An equipment of this list is not there")
    return [facts[equipment_id] for equipment_id in equipment_ids]


def _client(
    actor: Actor, wish: RoundWish, stops: list[EquipmentFacts], problems: list[Problem]
) -> int | None:
    clients = {facts.client_id for facts in stops}
    if wish.client_id is not None:
        if not actor.sees_client(wish.client_id):
            raise NotFound()
        clients.add(wish.client_id)
    if len(clients) > 1:
        problems.append(
            problem(
                "equipment",
                f"{len(clients)} clients",
                "A round is for one client.",
                "Build one for each.",
            )
        )
    if not clients:
        problems.append(
            problem(
                "equipment", "", "Nothing to walk to.", "Choose a route, a site with points due, or pick."
            )
        )
    return min(clients, default=None)
