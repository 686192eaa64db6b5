"""The register as a file that can be filled in and read back: empty, or as it stands."""

from collections import defaultdict
from typing import Any

from service.domain.fields import Value
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.register import KEY_FIELDS, PARENT_FIELDS, PARENTS, Noun, Registered
from service.domain.register_columns import FILED, SHEETS
from service.domain.register_fields import FIELDS
from service.reports.register_workbook import Filled, register_csv, register_workbook
from service.storage import register
from service.storage.unit import Store, Unit

_PAGE = 5_000


def empty_workbook(actor: Actor) -> bytes:
    """The template as XLSX.

    Raises
    ------
    Forbidden
        Not this role's.
    """
    require(actor, Verb.KEEP_REGISTER)
    return register_workbook()


def empty_csv(actor: Actor) -> bytes:
    """The flat template as CSV.

    Raises
    ------
    Forbidden
        Not this role's.
    """
    require(actor, Verb.KEEP_REGISTER)
    return register_csv()


def filled_workbook(store: Store, actor: Actor) -> bytes:
    """Everything in use in the actor's sight as XLSX; imported again it changes nothing.

    Raises
    ------
    Forbidden
        Not this role's.
    """
    require(actor, Verb.KEEP_REGISTER)
    sight = register.sight_of(actor)
    with store.look() as unit:
        things = {noun: _all(unit, noun, sight) for noun in FILED}
    by_id = {noun: {thing.id: thing for thing in of_noun} for noun, of_noun in things.items()}
    rows: dict[Noun, list[Filled]] = defaultdict(list)
    for sheet in SHEETS:
        for thing in things[sheet.noun]:
            rows[sheet.noun].append(_row(sheet.noun, thing, by_id))
    return register_workbook(rows)


def _all(unit: Unit, noun: Noun, sight: register.Sight) -> list[Registered]:
    found: list[Registered] = []
    while True:
        after = found[-1].id if found else 0
        page = register.page(unit, noun, sight=sight, after=after, limit=_PAGE)
        found += page
        if len(page) < _PAGE:
            return found


def _row(noun: Noun, thing: Registered, by_id: dict[Noun, dict[int, Registered]]) -> Filled:
    """A thing with its own fields and the keys of everything it stands in."""
    row: dict[tuple[Noun, str], Value] = {
        (noun, field.name): getattr(thing, field.name) for field in FIELDS[noun]
    }
    current: Any = thing
    while noun in PARENTS:
        above = PARENTS[noun]
        current = by_id[above].get(getattr(current, PARENT_FIELDS[noun]))
        if current is None:
            break
        row[(above, KEY_FIELDS[above])] = getattr(current, KEY_FIELDS[above])
        noun = above
    return row
