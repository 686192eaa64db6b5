"""Before the first round: criteria, people, client, register and routes, each through its use case."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from seed_data.people import ENGINEER, actors, first_engineer, grant_client, open_accounts
from seed_data.register_file import register_file
from seed_data.utility import CLIENT_CODE, CLIENT_NAME
from seed_data.walking import Ground
from seed_data.world import World
from service.domain.people import Actor
from service.domain.register import Noun
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.register.browse import list_things
from service.usecases.register.create import create_thing
from service.usecases.register.import_register import commit_import
from service.usecases.rounds.routes import create_route, edit_route, list_routes

#: the utility's; which site a letter is about, each letter says itself
LETTERHEAD = "Merrowdale Water (an invented utility)\nReliability"
#: small sites that are walked in one morning
HILL_RUN = ("GAN", "THO")
HILL_RUN_NAME = "Hill run: Gannick Hill and Thornquay"
PAGE = 500


def found_utility(store: Store, world: World, *, today: date, now: datetime) -> Ground:
    """Everything that is there before anybody walks."""
    ensure_presets(store, now=now)
    ids = open_accounts(store, today=today, now=now)
    maker = first_engineer(ids)
    fields = {"code": CLIENT_CODE, "name": CLIENT_NAME, "letterhead": LETTERHEAD}
    client = create_thing(store, maker, Noun.CLIENT, parent_id=None, fields=fields, now=now)
    grant_client(store, ids, client.id, now=now)
    engineer = actors(store, [ENGINEER], now=now)[ENGINEER]
    _import(store, engineer, world, today=today, month=world.first_month, now=now)
    everybody = actors(store, list(ids), now=now)
    ground = Ground(
        store=store,
        actors=everybody,
        engineer=everybody[ENGINEER],
        client_id=client.id,
        site_ids=ids_of(store, everybody[ENGINEER], Noun.SITE),
        instrument_ids=ids_of(store, everybody[ENGINEER], Noun.INSTRUMENT),
        sites={site.code: site for site in world.sites},
        routes={},
    )
    _make_routes(ground, world, now=now)
    return ground


def commission(ground: Ground, world: World, *, today: date, month: int, now: datetime) -> None:
    """New equipment: the whole register is sent again, and its site's route takes it in."""
    _import(ground.store, ground.engineer, world, today=today, month=month, now=now)
    equipment = ids_of(ground.store, ground.engineer, Noun.EQUIPMENT)
    for route in list_routes(ground.store, ground.engineer):
        code = next((code for code, route_id in ground.routes.items() if route_id == route.id), None)
        if code is None:
            continue
        there = [equipment[one.tag] for one in ground.sites[code].equipment if one.commissioned <= month]
        if there != list(route.equipment_ids):
            edit_route(
                ground.store,
                ground.engineer,
                route.id,
                name=route.name,
                equipment_ids=there,
                version=route.version,
                now=now,
            )


def ids_of(store: Store, actor: Actor, noun: Noun) -> dict[str, int]:
    """Ids by code, tag or serial of all that is registered."""
    found: dict[str, int] = {}
    after: int | None = 0
    while after is not None:
        page = list_things(store, actor, noun, after=after, limit=PAGE)
        for thing in page.items:
            key = "code" if noun is Noun.SITE else "serial" if noun is Noun.INSTRUMENT else "tag"
            found[getattr(thing, key)] = thing.id
        after = page.next_after
    return found


def _import(store: Store, engineer: Actor, world: World, *, today: date, month: int, now: datetime) -> None:
    commit_import(store, engineer, register_file(world.sites, today=today, month=month), now=now)


def _make_routes(ground: Ground, world: World, *, now: datetime) -> None:
    equipment = ids_of(ground.store, ground.engineer, Noun.EQUIPMENT)
    stops: Mapping[str, Sequence[int]] = {
        site.code: [equipment[one.tag] for one in site.equipment if one.commissioned <= world.first_month]
        for site in world.sites
    }
    for site in world.sites:
        ground.routes[site.code] = _route(ground, f"{site.name}, {site.often}", stops[site.code], now=now)
    if all(code in stops for code in HILL_RUN):
        chain = [stop for code in HILL_RUN for stop in stops[code]]
        ground.hill_run.append(_route(ground, HILL_RUN_NAME, chain, now=now))


def _route(ground: Ground, name: str, stops: Sequence[int], *, now: datetime) -> int:
    return create_route(
        ground.store,
        ground.engineer,
        client_id=ground.client_id,
        name=name,
        equipment_ids=stops,
        now=now,
    ).id
