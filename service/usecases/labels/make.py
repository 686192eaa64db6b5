"""Choose equipment for labels, and give a code to what has none."""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.domain.labels import Labelled
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.register import Noun
from service.domain.rounds import Route
from service.domain.sheet_codes import LABEL_BODY, make_code
from service.errors import Invalid
from service.storage import audit, labels, register
from service.storage.unit import Store, Unit
from service.usecases.register import browse
from service.usecases.rounds.routes import list_routes, read_route
from service.usecases.rounds.typed_checks import problem

#: labels made in one go
MOST = 600


@dataclass(frozen=True, slots=True)
class Wanted:
    """Whose labels are wanted: those named, else all of a route, an area or a site."""

    site_id: int | None = None
    area_id: int | None = None
    route_id: int | None = None
    equipment_ids: tuple[int, ...] = ()

    @property
    def nothing(self) -> bool:
        return not (self.site_id or self.area_id or self.route_id or self.equipment_ids)


@dataclass(frozen=True, slots=True)
class LabelChoice:
    """What can be chosen, and what is."""

    sites: tuple[tuple[int, str], ...]
    routes: tuple[Route, ...]
    equipment: tuple[Labelled, ...]


def read_choice(store: Store, actor: Actor, wanted: Wanted) -> LabelChoice:
    """Sites and routes to choose from, and the equipment of what is chosen.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not an engineer.
    """
    require(actor, Verb.KEEP_REGISTER)
    _check_route(store, actor, wanted)
    with store.look() as unit:
        equipment = () if wanted.nothing else _equipment(unit, actor, wanted)
    known = list_routes(store, actor)
    clients = browse.list_clients(store, actor)
    sites = tuple((line.id, line.name) for client in clients for line in client.sites)
    return LabelChoice(sites, known, equipment)


def make_labels(store: Store, actor: Actor, wanted: Wanted, *, now: datetime) -> tuple[Labelled, ...]:
    """Equipment with its code; what has none is given one, for ever.

    Parameters
    ----------
    store : Store
        Where the register is kept.
    actor : Actor
        An engineer.
    wanted : Wanted
        Whose labels.
    now : datetime
        The instant of the request.

    Raises
    ------
    Invalid
        Nothing is chosen, or too much.
    NotFound, Forbidden
        Out of sight, or not an engineer.
    """
    require(actor, Verb.KEEP_REGISTER)
    _check_route(store, actor, wanted)
    with store.begin() as unit:
        chosen = _equipment(unit, actor, wanted) if not wanted.nothing else ()
        _refuse(chosen)
        bare = [one.equipment_id for one in chosen if not one.code]
        if bare:
            labels.set_codes(unit, _new_codes(unit, bare))
            audit.note(
                unit, actor, verb="give label codes", noun="equipment", noun_id=None, now=now,
                after={"equipment": bare},
            )  # fmt: skip
            unit.session.expire_all()
        return _equipment(unit, actor, wanted)


def _check_route(store: Store, actor: Actor, wanted: Wanted) -> None:
    if wanted.route_id is not None:
        read_route(store, actor, wanted.route_id)


def _refuse(chosen: Sequence[Labelled]) -> None:
    if not chosen:
        message = "Nothing is chosen for a label."
        raise Invalid([problem("site", "", message, "Choose a site, a route or equipment.")])
    if len(chosen) > MOST:
        message = f"More than {MOST} labels at once."
        raise Invalid([problem("site", f"{MOST} and more", message, "Print area by area.")])


def _equipment(unit: Unit, actor: Actor, wanted: Wanted) -> tuple[Labelled, ...]:
    sight = register.sight_of(actor)
    if wanted.equipment_ids:
        return labels.labelled(unit, sight, equipment_ids=wanted.equipment_ids, limit=MOST + 1)
    if wanted.area_id is not None:
        register.thing(unit, Noun.AREA, wanted.area_id, sight=sight)
    if wanted.site_id is not None:
        register.thing(unit, Noun.SITE, wanted.site_id, sight=sight)
    return labels.labelled(
        unit,
        sight,
        site_id=wanted.site_id,
        area_id=wanted.area_id,
        route_id=wanted.route_id,
        limit=MOST + 1,
    )


def _new_codes(unit: Unit, equipment_ids: Sequence[int]) -> dict[int, str]:
    codes: list[str] = []
    while len(codes) < len(equipment_ids):
        count = len(equipment_ids) - len(codes)
        drawn = {make_code(secrets.randbelow, LABEL_BODY) for _ in range(count)} - set(codes)
        codes += sorted(drawn - labels.codes_taken(unit, drawn))
    return dict(zip(equipment_ids, codes, strict=True))
