"""Look into the register: one thing, pages of them, the tree with its marks, the search by tag."""

from dataclasses import dataclass
from typing import cast

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.register import PARENTS, Area, CommonLoad, Noun, Place, Registered, Site
from service.domain.register_tree import ClientLine, EquipmentPage, FoundTag, Mark, Node
from service.errors import NotFound
from service.storage import register, register_points, register_search, register_tree
from service.storage.unit import Store

MOST_SEARCHED = 80
MOST_HITS = register_search.MOST_HITS


@dataclass(frozen=True, slots=True)
class SeenThing:
    thing: Registered
    place: Place


@dataclass(frozen=True, slots=True)
class ThingPage:
    """Things from a cursor on; ``next_after`` is None on the last page."""

    items: tuple[Registered, ...]
    next_after: int | None


@dataclass(frozen=True, slots=True)
class SiteTree:
    site: Site
    mark: Mark
    areas: tuple[Node, ...]


def see_thing(store: Store, actor: Actor, noun: Noun, thing_id: int) -> SeenThing:
    """One thing, retired or not, and where it stands.

    Raises
    ------
    NotFound
        Absent, or out of sight; a technician sees equipment, views and points of own rounds.
    """
    require(actor, Verb.SEE)
    with store.look() as unit:
        thing = register.thing(unit, noun, thing_id, sight=register.sight_of(actor))
        return SeenThing(thing, register.place_of(unit, noun, thing_id))


def list_things(
    store: Store,
    actor: Actor,
    noun: Noun,
    *,
    after: int = 0,
    limit: int = 100,
    within: tuple[Noun, int] | None = None,
    retired: bool | None = False,
    search: str = "",
) -> ThingPage:
    """Things in the order they were made.

    Parameters
    ----------
    store, actor, noun
        What is listed, and for whom.
    after, limit : int
        Cursor and size of the page.
    within : (Noun, int), optional
        Only what stands, at any depth, in this thing.
    retired : bool or None
        True lists what is retired, None both.
    search : str
        Part of the code, tag or serial.

    Raises
    ------
    NotFound
        ``within`` is out of sight.
    """
    require(actor, Verb.SEE)
    sight = register.sight_of(actor)
    with store.look() as unit:
        if within is not None:
            register.thing(unit, *within, sight=sight)
        found = register.page(
            unit,
            noun,
            sight=sight,
            after=after,
            limit=limit + 1,
            parent=within,
            retired=retired,
            search=search.strip()[:MOST_SEARCHED],
        )
    items = tuple(found[:limit])
    return ThingPage(items, items[-1].id if len(found) > limit else None)


def list_clients(store: Store, actor: Actor) -> tuple[ClientLine, ...]:
    """Clients with their sites, each with the mark of its points."""
    require(actor, Verb.SEE)
    with store.look() as unit:
        return register_tree.client_lines(unit, register.sight_of(actor))


def see_site_tree(store: Store, actor: Actor, site_id: int) -> SiteTree:
    """A site down to its points, every node with its mark.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    require(actor, Verb.SEE, site_id=site_id)
    sight = register.sight_of(actor)
    with store.look() as unit:
        site = cast(Site, register.thing(unit, Noun.SITE, site_id, sight=sight))
        areas = register_tree.site_nodes(unit, site_id, sight)
    return SiteTree(site, Mark.of(area.mark for area in areas), areas)


def see_equipment(store: Store, actor: Actor, equipment_id: int) -> EquipmentPage:
    """One equipment with its views, points, their standing and what is open on them.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    require(actor, Verb.SEE)
    with store.look() as unit:
        return register_tree.equipment_page(unit, equipment_id, register.sight_of(actor))


def find_tags(store: Store, actor: Actor, text: str) -> tuple[FoundTag, ...]:
    """Equipment, views and points whose tag or name holds the text; tags come before names."""
    require(actor, Verb.SEE)
    wanted = " ".join(text.split())[:MOST_SEARCHED]
    if not wanted:
        return ()
    with store.look() as unit:
        return register_search.find_tags(unit, wanted, register.sight_of(actor))


def see_common_loads(store: Store, actor: Actor, point_id: int) -> tuple[CommonLoad, ...]:
    """Versions of a point's common load, newest first.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    require(actor, Verb.SEE)
    with store.look() as unit:
        register.thing(unit, Noun.POINT, point_id, sight=register.sight_of(actor))
        return register_points.common_loads(unit, point_id)


def parent_to_fill(store: Store, actor: Actor, noun: Noun, parent_id: int) -> SeenThing:
    """The thing in which a new one is to stand, for its form.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    if noun not in PARENTS:
        raise NotFound()
    seen = see_thing(store, actor, PARENTS[noun], parent_id)
    require(actor, Verb.KEEP_REGISTER, site_id=seen.place.site_id)
    return seen


def areas_to_choose(store: Store, actor: Actor, seen: SeenThing) -> tuple[Area, ...]:
    """Areas of the same site to which equipment may move."""
    require(actor, Verb.SEE)
    if seen.place.site_id is None:
        return ()
    page = list_things(store, actor, Noun.AREA, limit=500, within=(Noun.SITE, seen.place.site_id))
    return tuple(area for area in page.items if isinstance(area, Area))


def list_retired(
    store: Store, actor: Actor, *, site_id: int | None
) -> tuple[tuple[Noun, tuple[Registered, ...]], ...]:
    """What is retired at a site, or above sites; the first 200 of each noun.

    Raises
    ------
    NotFound
        The site is out of sight.
    """
    at_site = (Noun.AREA, Noun.EQUIPMENT, Noun.VIEW, Noun.POINT)
    nouns = at_site if site_id is not None else (Noun.CLIENT, Noun.SITE, Noun.INSTRUMENT)
    within = (Noun.SITE, site_id) if site_id is not None else None
    found = [
        (noun, list_things(store, actor, noun, limit=200, within=within, retired=True).items)
        for noun in nouns
    ]
    return tuple((noun, items) for noun, items in found if items)
