"""Routes: lasting, ordered lists of stops from which rounds are built."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.rounds import Route
from service.domain.stop_facts import EquipmentFacts
from service.errors import Conflict, Forbidden, Invalid, NotFound, Problem, Stale
from service.storage import audit, round_facts, routes
from service.storage.unit import Store, Unit
from service.usecases.rounds.plan import equipment_in_sight
from service.usecases.rounds.typed_checks import LONGEST_NAME, MOST_STOPS, problem, text_problems


@dataclass(frozen=True, slots=True)
class RoutePage:
    """A route with the facts of its stops, in order."""

    route: Route
    stops: tuple[EquipmentFacts, ...]


def list_routes(store: Store, actor: Actor, *, after: int = 0, limit: int = 500) -> tuple[Route, ...]:
    """Routes in use of the clients in sight whose stops are all in sight.

    Raises
    ------
    Forbidden
        Technicians are given rounds, not routes.
    """
    _require_sight(actor)
    with store.look() as unit:
        kept = routes.routes_of(unit, None if actor.every_site else actor.clients, after=after, limit=limit)
        facts = round_facts.equipment_facts(unit, {one for route in kept for one in route.equipment_ids})
        return tuple(
            route for route in kept if all(actor.sees_site(facts[one].site_id) for one in route.equipment_ids)
        )


def read_route(store: Store, actor: Actor, route_id: int) -> RoutePage:
    """One route.

    Raises
    ------
    NotFound
        Absent, retired or out of sight.
    """
    _require_sight(actor)
    with store.look() as unit:
        return _page(unit, actor, route_id)


def _require_sight(actor: Actor) -> None:
    require(actor, Verb.SEE)
    if own_rounds_only(actor) or actor.only_round is not None:
        raise Forbidden("Technicians see their own rounds, not the routes.")


def _page(unit: Unit, actor: Actor, route_id: int) -> RoutePage:
    route = routes.route_by_id(unit, route_id)
    if route is None or route.retired_at is not None or not actor.sees_client(route.client_id):
        raise NotFound()
    return RoutePage(route, tuple(equipment_in_sight(unit, actor, list(route.equipment_ids))))


def create_route(
    store: Store,
    actor: Actor,
    *,
    client_id: int,
    name: str,
    equipment_ids: Sequence[int],
    now: datetime,
) -> Route:
    """Keep a new route.

    Raises
    ------
    NotFound
        The client or an equipment is out of sight.
    Invalid
        The name is missing or taken, or stops have problems.
    """
    require(actor, Verb.KEEP_REGISTER)
    if not actor.sees_client(client_id):
        raise NotFound()
    with store.begin() as unit:
        problems = _problems(unit, actor, client_id, name, equipment_ids)
        if problems:
            raise Invalid(problems)
        route = routes.add_route(
            unit, client_id=client_id, name=name.strip(), equipment_ids=equipment_ids, now=now
        )
        after = {"name": route.name, "stops": list(route.equipment_ids)}
        audit.note(unit, actor, verb="create", noun="route", noun_id=route.id, now=now, after=after)
        return route


def edit_route(
    store: Store,
    actor: Actor,
    route_id: int,
    *,
    name: str,
    equipment_ids: Sequence[int],
    version: int,
    now: datetime,
) -> Route:
    """Give a route another name or other stops; rounds built from it stay as they are.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Invalid
        The name is missing or taken, or stops have problems.
    Stale
        Somebody changed it since ``version``.
    """
    require(actor, Verb.KEEP_REGISTER)
    with store.begin() as unit:
        before = _page(unit, actor, route_id).route
        if before.version != version:
            raise Stale(before.version)
        problems = _problems(unit, actor, before.client_id, name, equipment_ids, but=route_id)
        if problems:
            raise Invalid(problems)
        after = routes.edit_route(
            unit, route_id, version=version, name=name.strip(), equipment_ids=equipment_ids, now=now
        )
        audit.note(
            unit,
            actor,
            verb="edit",
            noun="route",
            noun_id=route_id,
            now=now,
            before={"name": before.name, "stops": list(before.equipment_ids)},
            after={"name": after.name, "stops": list(after.equipment_ids)},
        )
        return after


def retire_route(store: Store, actor: Actor, route_id: int, *, version: int, now: datetime) -> Route:
    """Take a route out of use; nothing is deleted."""
    require(actor, Verb.KEEP_REGISTER)
    with store.begin() as unit:
        before = _page(unit, actor, route_id).route
        if before.version != version:
            raise Stale(before.version)
        if before.retired_at is not None:
            raise Conflict("This route is retired already")
        after = routes.retire_route(unit, route_id, version=version, now=now)
        audit.note(unit, actor, verb="retire", noun="route", noun_id=route_id, now=now)
        return after


def _problems(
    unit: Unit,
    actor: Actor,
    client_id: int,
    name: str,
    equipment_ids: Sequence[int],
    *,
    but: int | None = None,
) -> list[Problem]:
    found = text_problems("name", name, longest=LONGEST_NAME, required="A route needs a name.")
    if not found and routes.name_taken(unit, client_id, name.strip(), but=but):
        found.append(problem("name", name, "Another route has this name.", "Choose another name."))
    if not equipment_ids:
        found.append(problem("equipment", "", "A route has at least one stop.", "Choose its stops."))
    if len(equipment_ids) > MOST_STOPS:
        message = f"A route takes at most {MOST_STOPS} stops."
        found.append(problem("equipment", f"{len(equipment_ids)} stops", message, "Make two of it."))
    if len(set(equipment_ids)) < len(equipment_ids):
        found.append(problem("equipment", "", "A stop is named twice.", "Name each once."))
    for one in equipment_in_sight(unit, actor, list(dict.fromkeys(equipment_ids))):
        if one.client_id != client_id:
            found.append(problem("equipment", one.tag, f"{one.name} is another client's.", "Leave it out."))
        if one.retired_at is not None:
            found.append(problem("equipment", one.tag, f"{one.name} is retired.", "Leave it out."))
    return found
