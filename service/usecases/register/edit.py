"""Edit a thing of the register, on the version that was read."""

from collections.abc import Mapping
from datetime import datetime

from service.domain.cells import Sign
from service.domain.fields import Value
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.register import Area, Equipment, Noun, Registered
from service.domain.register_fields import FIELDS, read_fields
from service.errors import Conflict, Forbidden, Invalid, Problem, Stale
from service.storage import audit, register, site_state
from service.storage.unit import Store, Unit
from service.usecases.register.create import key_problems
from service.usecases.register.due_later import refresh_due_later

MOST_REASON = 500


def edit_thing(
    store: Store,
    actor: Actor,
    noun: Noun,
    thing_id: int,
    *,
    version: int,
    fields: Mapping[str, object],
    now: datetime,
    move_to: int | None = None,
    reason: str = "",
    decimal: Sign = ".",
    where: str = "form",
) -> Registered:
    """Set fields of one thing; those not sent are left alone.

    A changed common load gets a new version (with ``reason``), a changed membership among the
    like parts its own dates; what was before stays on record.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer with grants for the site or, above sites, for the whole client.
    noun, thing_id
        What is edited.
    version : int
        The version that was read.
    fields : mapping of str to object
        By the names of the catalogue.
    now : datetime
        The instant of the request.
    move_to : int, optional
        Of equipment: the area of the same site in which it stands now.
    reason : str
        Why the common load changes.
    decimal, where
        Decimal sign of typed numbers, and the place named in problems.

    Returns
    -------
    Registered
        The thing as it is now; unchanged, with the version it had, when nothing differs.

    Raises
    ------
    Invalid
        Fields with problems.
    NotFound, Forbidden
        Out of sight, or not this role's.
    Stale
        Changed meanwhile.
    Conflict
        Retired things are not edited.
    """
    with store.begin() as unit:
        before = thing_to_change(unit, actor, noun, thing_id)
        if before.version != version:
            raise Stale(before.version)
        if before.retired_at is not None:
            raise Conflict(f"This {noun} is retired.", remedy="Take it back into use first.")
        place = register.place_of(unit, noun, thing_id)
        values, problems = read_fields(noun, fields, where, decimal=decimal, kept=as_kept(before, noun))
        problems += key_problems(unit, noun, values, place=place, where=where, own_id=thing_id)
        if len(reason) > MOST_REASON:
            problems.append(
                Problem(where, "reason", reason, f"Longer than {MOST_REASON} characters.", "Shorten it.")
            )
        if problems:
            raise Invalid(problems)
        if move_to is not None:
            values["area_id"] = _area_to_move_to(unit, actor, before, move_to)
        changed = {name: value for name, value in values.items() if value != getattr(before, name)}
        if not changed:
            return before
        if place.site_id is not None:
            site_state.bump(unit, [place.site_id], now=now)
            refresh_due_later(unit, [place.site_id], now=now)
        register.edit(
            unit,
            noun,
            thing_id,
            changed,
            version=version,
            now=now,
            by_person_id=actor.person_id,
            reason=reason,
        )
        audit.note(
            unit,
            actor,
            verb="edit",
            noun=noun.value,
            noun_id=thing_id,
            site_id=place.site_id,
            now=now,
            before={name: getattr(before, name) for name in changed},
            after=changed | ({"reason": reason} if reason else {}),
        )
        return register.thing(unit, noun, thing_id)


def _area_to_move_to(unit: Unit, actor: Actor, before: Registered, area_id: int) -> int:
    if not isinstance(before, Equipment):
        raise Conflict("Only equipment moves to another area; a view or a point is retired and made anew.")
    area = register.thing(unit, Noun.AREA, area_id, sight=register.sight_of(actor))
    if not isinstance(area, Area) or area.site_id != before.site_id or area.retired_at is not None:
        raise Conflict("That area is retired, or at another site.", remedy="Choose an area of this site.")
    return area.id


def as_kept(thing: Registered, noun: Noun) -> dict[str, Value]:
    return {field.name: getattr(thing, field.name) for field in FIELDS[noun]}


def thing_to_change(unit: Unit, actor: Actor, noun: Noun, thing_id: int) -> Registered:
    """The thing, when the actor may change it.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's; clients and instruments take a grant for the client.
    """
    thing = register.thing(unit, noun, thing_id, sight=register.sight_of(actor))
    place = register.place_of(unit, noun, thing_id)
    require(actor, Verb.KEEP_REGISTER, site_id=place.site_id)
    if noun is Noun.CLIENT and not actor.sees_whole_client(place.client_id):
        raise Forbidden("Your grants are for single sites of this client.")
    return thing
