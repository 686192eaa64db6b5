"""Things of the register: one, a page of them, where one stands; written and edited singly."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, func, select

from service.domain.fields import Value
from service.domain.people import Actor
from service.domain.permissions import own_rounds_only
from service.domain.register import KEY_FIELDS, PARENT_FIELDS, PARENTS, Noun, Place, Registered
from service.errors import NotFound
from service.storage import register_points
from service.storage.register_rows import (
    TABLES,
    chain_above,
    equipment_of,
    key_column,
    of_site,
    on_rounds_of,
    parent_column,
    record,
    selected,
)
from service.storage.tables.people import GrantRow
from service.storage.unit import Unit
from service.storage.versions import row_to_edit


@dataclass(frozen=True, slots=True)
class Sight:
    """What somebody's grants open; None is everything. ``person_id`` narrows to own rounds."""

    site_ids: frozenset[int] | None = None
    client_ids: frozenset[int] | None = None
    person_id: int | None = None


def sight_of(actor: Actor) -> Sight:
    return Sight(
        site_ids=actor.site_ids,
        client_ids=None if actor.every_site else actor.clients,
        person_id=actor.person_id if own_rounds_only(actor) else None,
    )


def narrowed(query: Select[Any], noun: Noun, sight: Sight) -> Select[Any]:
    """The query without rows that are out of sight."""
    site, equipment = of_site(noun), equipment_of(noun)
    if site is not None and sight.site_ids is not None:
        query = query.where(site.in_(sight.site_ids))
    if site is None and sight.client_ids is not None:
        client = TABLES[noun].id if noun is Noun.CLIENT else TABLES[noun].client_id
        query = query.where(client.in_(sight.client_ids))
    if equipment is not None and sight.person_id is not None:
        query = query.where(on_rounds_of(equipment, sight.person_id))
    return query


def thing(unit: Unit, noun: Noun, thing_id: int, *, sight: Sight | None = None) -> Registered:
    """One thing, retired or not.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    query = narrowed(selected(noun), noun, sight or Sight()).where(TABLES[noun].id == thing_id)
    found = unit.session.execute(query).one_or_none()
    if found is None:
        raise NotFound(f"There is no such {noun}.")
    return record(noun, found[0], found[1])


def page(
    unit: Unit,
    noun: Noun,
    *,
    sight: Sight,
    after: int = 0,
    limit: int = 100,
    parent: tuple[Noun, int] | None = None,
    retired: bool | None = False,
    search: str = "",
) -> list[Registered]:
    """Things in the order they were made, from a cursor on.

    ``parent`` may be any noun above; ``retired`` None lists both; ``search`` is part of the key.
    """
    table = TABLES[noun]
    query = narrowed(selected(noun), noun, sight).where(table.id > after)
    if parent is not None:
        query = below(query, noun, parent)
    if retired is not None:
        query = query.where(table.retired_at.is_not(None) if retired else table.retired_at.is_(None))
    if search:
        query = query.where(func.lower(key_column(noun)).contains(search.lower(), autoescape=True))
    rows = unit.session.execute(query.order_by(table.id).limit(limit))
    return [record(noun, row, member) for row, member in rows]


def below(query: Select[Any], noun: Noun, parent: tuple[Noun, int]) -> Select[Any]:
    """The query narrowed to what stands, at any depth, in one thing."""
    above, above_id = parent
    if above is Noun.SITE and noun is not Noun.SITE:
        return query.where(of_site(noun) == above_id)
    current = noun
    for step in chain_above(noun):
        if step is above:
            return query.where(parent_column(current) == above_id)
        query = query.join(TABLES[step], TABLES[step].id == parent_column(current))
        current = step
    raise ValueError(f"a {noun} stands in no {above}")


def place_of(unit: Unit, noun: Noun, thing_id: int) -> Place:
    """Client, site and everything above a thing, itself included last.

    Raises
    ------
    NotFound
        No such thing.
    """
    table = TABLES[noun]
    columns: list[Any] = [table.id, table.name]
    chain = chain_above(noun)
    for step in chain:
        columns += [TABLES[step].id, TABLES[step].name]
    query = select(*columns).select_from(table).where(table.id == thing_id)
    current = noun
    for step in chain:
        query = query.join(TABLES[step], TABLES[step].id == parent_column(current))
        current = step
    found = unit.session.execute(query).one_or_none()
    if found is None:
        raise NotFound(f"There is no such {noun}.")
    nouns = (noun, *chain)
    ancestors = tuple((n, int(found[2 * i]), str(found[2 * i + 1])) for i, n in enumerate(nouns))
    by_noun = {n: i for n, i, _ in ancestors}
    return Place(by_noun[Noun.CLIENT], by_noun.get(Noun.SITE), tuple(reversed(ancestors)))


def holder_of_key(
    unit: Unit, noun: Noun, key: str, *, client_id: int | None, site_id: int | None
) -> Registered | None:
    """Who has a code, tag or serial already, retired things included."""
    query = selected(noun).where(key_column(noun) == key)
    if noun in (Noun.SITE, Noun.INSTRUMENT):
        query = query.where(TABLES[noun].client_id == client_id)
    elif noun is not Noun.CLIENT:
        query = query.where(TABLES[noun].site_id == site_id)
    found = unit.session.execute(query).one_or_none()
    return None if found is None else record(noun, found[0], found[1])


def add(
    unit: Unit,
    noun: Noun,
    values: Mapping[str, Value],
    *,
    parent_id: int | None,
    place: Place | None,
    now: datetime,
    by_person_id: int | None,
) -> int:
    """Write one new thing with what goes with it; its id."""
    fields: dict[str, Any] = {**values, "created_at": now, "changed_at": now}
    like_part = bool(fields.pop("like_part", False))
    if noun in PARENTS:
        fields[PARENT_FIELDS[noun]] = parent_id
    if place is not None and place.site_id is not None:
        fields["site_id"] = place.site_id
    row = TABLES[noun](**fields)
    unit.session.add(row)
    unit.session.flush()
    if noun is Noun.POINT:
        register_points.begin_point(unit, row, like_part=like_part, now=now, by_person_id=by_person_id)
    return int(row.id)


def edit(
    unit: Unit,
    noun: Noun,
    thing_id: int,
    values: Mapping[str, Value],
    *,
    version: int,
    now: datetime,
    by_person_id: int | None,
    reason: str = "",
) -> None:
    """Set fields of one thing, made on ``version``.

    Raises
    ------
    NotFound, Stale
        Absent, or changed meanwhile.
    """
    row = row_to_edit(unit, TABLES[noun], thing_id, version=version, now=now)
    fields = dict(values)
    if noun is Noun.POINT:
        like_part = fields.pop("like_part", None)
        if like_part is not None:
            register_points.set_member(unit, row.view_id, row.id, member=bool(like_part), now=now)
        register_points.keep_common_load(unit, row, fields, now=now, by_person_id=by_person_id, reason=reason)
    for name, value in fields.items():
        setattr(row, name, value)
    unit.session.flush()


def grant_to_maker(unit: Unit, person_id: int, client_id: int) -> None:
    """Who adds a client sees it whole: otherwise it would be out of its maker's sight at once."""
    unit.session.add(GrantRow(person_id=person_id, client_id=client_id))
    unit.session.flush()


def keys_of(unit: Unit, noun: Noun, ids: Sequence[int]) -> dict[int, str]:
    """Code, tag or serial by id."""
    query = select(TABLES[noun].id, getattr(TABLES[noun], KEY_FIELDS[noun])).where(TABLES[noun].id.in_(ids))
    return {int(i): str(key) for i, key in unit.session.execute(query)}
