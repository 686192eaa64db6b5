"""Add a client, site, area, equipment, view, point or instrument."""

from collections.abc import Mapping
from datetime import datetime

from service.domain.cells import Sign
from service.domain.fields import Value
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.register import KEY_FIELDS, PARENTS, Noun, Place, Registered
from service.domain.register_fields import read_fields
from service.errors import Conflict, Forbidden, Invalid, NotFound, Problem
from service.storage import audit, register, site_state
from service.storage.unit import Store, Unit
from service.usecases.register.due_later import refresh_due_later


def create_thing(
    store: Store,
    actor: Actor,
    noun: Noun,
    *,
    parent_id: int | None,
    fields: Mapping[str, object],
    now: datetime,
    decimal: Sign = ".",
    where: str = "form",
) -> Registered:
    """Add one thing to the register.

    A point begins with its state (No verdict, due now), the first version of its common load
    and, unless ``like_part`` is no, its place among the view's like parts.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer with grants for the site; for a site or an instrument, for the client.
    noun : Noun
        What is added.
    parent_id : int or None
        The thing it stands in (design: client › site › area › equipment › view › point); None
        for a client.
    fields : mapping of str to object
        By the names of the catalogue; texts are read as people type them.
    now : datetime
        The instant of the request.
    decimal, where
        Decimal sign of typed numbers, and the place named in problems.

    Returns
    -------
    Registered
        The new thing.

    Raises
    ------
    Invalid
        Fields with problems, a key that is taken: all at once, nothing stored.
    NotFound, Forbidden
        The parent is out of sight, or this is not the role's.
    Conflict
        The parent is retired.
    """
    with store.begin() as unit:
        place = _place(unit, actor, noun, parent_id)
        values, problems = read_fields(noun, fields, where, decimal=decimal)
        problems += key_problems(unit, noun, values, place=place, where=where)
        if problems:
            raise Invalid(problems)
        if place is not None and place.site_id is not None:
            site_state.bump(unit, [place.site_id], now=now)
            refresh_due_later(unit, [place.site_id], now=now)
        thing_id = register.add(
            unit,
            noun,
            values,
            parent_id=parent_id,
            place=place,
            now=now,
            by_person_id=actor.person_id,
        )
        site_id = _begin_sight(unit, actor, noun, thing_id, place=place, now=now)
        audit.note(
            unit,
            actor,
            verb="create",
            noun=noun.value,
            noun_id=thing_id,
            site_id=site_id,
            now=now,
            after=dict(values),
        )
        return register.thing(unit, noun, thing_id)


def _place(unit: Unit, actor: Actor, noun: Noun, parent_id: int | None) -> Place | None:
    """Where it will stand, when the actor may put something there."""
    if noun is Noun.CLIENT:
        require(actor, Verb.KEEP_REGISTER)
        return None
    parent_noun = PARENTS[noun]
    if parent_id is None:
        raise Invalid(
            [Problem("form", f"{parent_noun}_id", "", f"A {noun} stands in a {parent_noun}.", "Choose it.")]
        )
    try:
        parent = register.thing(unit, parent_noun, parent_id, sight=register.sight_of(actor))
    except NotFound:
        raise NotFound(f"There is no such {parent_noun}.") from None
    place = register.place_of(unit, parent_noun, parent_id)
    require(actor, Verb.KEEP_REGISTER, site_id=place.site_id)
    if noun is Noun.SITE and not actor.sees_whole_client(place.client_id):
        raise Forbidden("Your grants are for single sites of this client, not for adding one.")
    if parent.retired_at is not None:
        raise Conflict(f"This {parent_noun} is retired.", remedy="Take it back into use first.")
    return place


def _begin_sight(
    unit: Unit, actor: Actor, noun: Noun, thing_id: int, *, place: Place | None, now: datetime
) -> int | None:
    """What a new client or site needs so that it is seen; the site that the audit names."""
    if noun is Noun.CLIENT and actor.person_id is not None and not actor.every_site:
        register.grant_to_maker(unit, actor.person_id, thing_id)
    if noun is Noun.SITE:
        site_state.bump(unit, [thing_id], now=now)
        return thing_id
    return None if place is None else place.site_id


def key_problems(
    unit: Unit,
    noun: Noun,
    values: Mapping[str, Value],
    *,
    place: Place | None,
    where: str,
    own_id: int | None = None,
) -> list[Problem]:
    """The code, tag or serial is another's already; retired things keep theirs."""
    name = KEY_FIELDS[noun]
    key = values.get(name)
    if not isinstance(key, str):
        return []
    client_id, site_id = (None, None) if place is None else (place.client_id, place.site_id)
    holder = register.holder_of_key(unit, noun, key, client_id=client_id, site_id=site_id)
    if holder is None or holder.id == own_id:
        return []
    state = ", and it is retired" if holder.retired_at is not None else ""
    remedy = "Take that one back into use, or choose another." if state else "Choose another."
    return [Problem(where, name, key, f"There is a {noun} with this {name} already{state}.", remedy)]
