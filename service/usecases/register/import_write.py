"""Write a planned import: parents before children, ids reserved ahead, one transaction."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from service.domain.people import Actor
from service.domain.register import PARENTS, Noun
from service.domain.register_columns import FILED
from service.domain.register_file import Key
from service.storage import audit, register, register_bulk, site_state
from service.storage.register_bulk import NewThing
from service.storage.unit import Unit
from service.usecases.register.due_later import refresh_due_later
from service.usecases.register.import_plan import Plan, Planned

REASON = "imported from a file"
_BY_SITE = frozenset({Noun.AREA, Noun.EQUIPMENT, Noun.VIEW, Noun.POINT})


def write_import(unit: Unit, actor: Actor, plan: Plan, *, file_hash: str, now: datetime) -> None:
    """Write what is new and what changes, and note both in the audit trail.

    Every change has a line of its own; what is new is told by one line per site with counts and
    the hash of the file.

    Parameters
    ----------
    unit : Unit
        The writing unit in which the plan was made.
    actor : Actor
        Who imports.
    plan : Plan
        Without problems.
    file_hash : str
        SHA-256 of the file.
    now : datetime
        The instant of the request.
    """
    site_state.bump(unit, plan.site_ids(), now=now)
    ids = {noun: {key: thing.id for key, thing in plan.standing[noun].items()} for noun in FILED}
    for noun in FILED:
        _add(unit, actor, plan, noun, ids, now=now)
        _change(unit, actor, plan.planned[noun], noun, ids, now=now)
    new_sites = [ids[Noun.SITE][thing.key] for thing in plan.planned[Noun.SITE].new]
    site_state.bump(unit, new_sites, now=now)
    refresh_due_later(unit, sorted({*plan.site_ids(), *new_sites}), now=now)
    _note(unit, actor, plan, ids, file_hash=file_hash, now=now)


def _add(
    unit: Unit, actor: Actor, plan: Plan, noun: Noun, ids: dict[Noun, dict[Key, int]], *, now: datetime
) -> None:
    planned = plan.planned[noun]
    reserved = register_bulk.reserve_ids(unit, noun, len(planned.new))
    things = []
    for thing, thing_id in zip(planned.new, reserved, strict=True):
        ids[noun][thing.key] = thing_id
        parent_id = ids[PARENTS[noun]][thing.parent] if thing.parent is not None else None
        site_id = ids[Noun.SITE].get(thing.key[:2]) if noun in _BY_SITE else None
        things.append(NewThing(thing_id, parent_id, site_id, planned.values[thing.key]))
    equipment_of_view = _equipment_of_view(plan, ids) if noun is Noun.POINT else {}
    register_bulk.add_things(
        unit,
        noun,
        things,
        now=now,
        by_person_id=actor.person_id,
        equipment_of_view=equipment_of_view,
    )
    if noun is Noun.CLIENT and actor.person_id is not None and not actor.every_site:
        for made in things:
            register.grant_to_maker(unit, actor.person_id, made.id)


def _equipment_of_view(plan: Plan, ids: Mapping[Noun, Mapping[Key, int]]) -> dict[int, int]:
    found = {thing.id: thing.parent_id or 0 for thing in plan.standing[Noun.VIEW].values()}
    for thing in plan.planned[Noun.VIEW].new:
        if thing.parent is not None:
            found[ids[Noun.VIEW][thing.key]] = ids[Noun.EQUIPMENT][thing.parent]
    return found


def _change(
    unit: Unit,
    actor: Actor,
    planned: Planned,
    noun: Noun,
    ids: Mapping[Noun, Mapping[Key, int]],
    *,
    now: datetime,
) -> None:
    changes = [
        change if moved_to is None else replace(change, parent_id=ids[PARENTS[noun]][moved_to])
        for _, change, moved_to in planned.changed
    ]
    register_bulk.change_things(unit, noun, changes, now=now, by_person_id=actor.person_id, reason=REASON)
    register_bulk.note_changes(unit, actor, noun, changes, now=now)


def _note(
    unit: Unit,
    actor: Actor,
    plan: Plan,
    ids: Mapping[Noun, Mapping[Key, int]],
    *,
    file_hash: str,
    now: datetime,
) -> None:
    counts: dict[int | None, dict[str, int]] = {}
    for noun, planned in plan.planned.items():
        for thing in planned.new:
            is_of_site = noun in _BY_SITE or noun is Noun.SITE
            site_id = ids[Noun.SITE].get(thing.key[:2]) if is_of_site else None
            of_site = counts.setdefault(site_id, {})
            of_site[noun.plural] = of_site.get(noun.plural, 0) + 1
    for site_id, made in counts.items():
        audit.note(
            unit,
            actor,
            verb="import",
            noun="register",
            noun_id=None,
            site_id=site_id,
            now=now,
            after={**made, "file_sha256": file_hash},
        )
