"""What a new round can be built from: routes, sites with points due, the equipment of one site."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.rounds import Route
from service.domain.stop_facts import EquipmentFacts, PointTally
from service.errors import Invalid, NotFound
from service.storage import round_facts, rounds
from service.storage.unit import Store, Unit
from service.usecases.rounds.due import count_due
from service.usecases.rounds.routes import list_routes
from service.usecases.rounds.typed_checks import problem, storable

#: how far ahead the form looks for what falls due
AHEAD_DAYS = 31


@dataclass(frozen=True, slots=True)
class SiteChoice:
    """A site in sight and how many of its points fall due soon."""

    id: int
    client_id: int
    name: str
    due: int


@dataclass(frozen=True, slots=True)
class EquipmentChoice:
    facts: EquipmentFacts
    tally: PointTally


@dataclass(frozen=True, slots=True)
class RoundChoices:
    """The form of a new round; ``equipment`` only of the site that was chosen."""

    routes: tuple[Route, ...]
    sites: tuple[SiteChoice, ...]
    site: SiteChoice | None
    equipment: tuple[EquipmentChoice, ...]


def read_choices(store: Store, actor: Actor, *, site_id: int | None = None, now: datetime) -> RoundChoices:
    """What the form of a new round (or route) offers.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer.
    site_id : int, optional
        The site whose equipment is listed for picking.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound, Forbidden
        The site is out of sight, or this is not the role's.
    """
    require(actor, Verb.KEEP_REGISTER, site_id=site_id)
    routes = list_routes(store, actor)
    until = now.date() + timedelta(days=AHEAD_DAYS)
    with store.look() as unit:
        due = {site.site_id: site.points for site in count_due(unit, actor, until=until, now=now)}
        sites = tuple(
            SiteChoice(one, client, name, due.get(one, 0))
            for one, client, name in round_facts.sites_in_sight(unit, actor.site_ids)
        )
        chosen = next((site for site in sites if site.id == site_id), None)
        if site_id is not None and chosen is None:
            raise NotFound()
        equipment = () if chosen is None else _equipment(unit, chosen, now=now)
    return RoundChoices(routes, sites, chosen, equipment)


def _equipment(unit: Unit, site: SiteChoice, *, now: datetime) -> tuple[EquipmentChoice, ...]:
    listed = round_facts.equipment_in_walking_order(unit, site_ids=[site.id])
    until = now.date() + timedelta(days=AHEAD_DAYS)
    tallies = round_facts.tallies(unit, today=until, site_ids=[site.id])
    return tuple(EquipmentChoice(one, tallies.get(one.id, PointTally(one.id))) for one in listed)


def equipment_of_tag(store: Store, actor: Actor, round_id: int, tag: str) -> int:
    """The equipment in use that a typed tag means, for adding it to a round.

    Raises
    ------
    Invalid
        No equipment in sight of this client has the tag, or more than one site has it.
    """
    require(actor, Verb.KEEP_REGISTER)
    with store.look() as unit:
        round_ = rounds.round_by_id(unit, round_id)
        if round_ is None or not actor.sees_client(round_.client_id):
            raise NotFound()
        named = round_facts.equipment_by_tag(unit, round_.client_id, tag.strip()) if storable(tag) else ()
        found = [one for one, site in named if actor.sees_site(site)]
    if len(found) == 1:
        return found[0]
    message = "More than one site has this tag." if found else "No equipment in use has this tag."
    raise Invalid([problem("tag", tag[:60], message, "Choose it from a site's list instead.")])
