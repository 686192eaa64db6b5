"""Columns of the register's file: every field of the catalogue under a title of its own."""

import re
from dataclasses import dataclass
from difflib import get_close_matches

from service.domain.fields import Field
from service.domain.register import KEY_FIELDS, TREE, Noun
from service.domain.register_fields import FIELDS

#: nouns a file may hold, parents first
FILED = (*TREE, Noun.INSTRUMENT)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet of the template: the things it is for, and the key columns that say where they stand."""

    name: str
    noun: Noun
    stands_in: tuple[Noun, ...]


SHEETS = (
    Sheet("Sites", Noun.SITE, (Noun.CLIENT,)),
    Sheet("Areas", Noun.AREA, (Noun.CLIENT, Noun.SITE)),
    Sheet("Equipment", Noun.EQUIPMENT, (Noun.CLIENT, Noun.SITE, Noun.AREA)),
    Sheet("Views", Noun.VIEW, (Noun.CLIENT, Noun.SITE, Noun.EQUIPMENT)),
    Sheet("Points", Noun.POINT, (Noun.CLIENT, Noun.SITE, Noun.VIEW)),
    Sheet("Instruments", Noun.INSTRUMENT, (Noun.CLIENT,)),
)
#: the flat form: one row a point, with where it stands; the rest may be left to forms or more columns
FLAT_NAMES: dict[Noun, tuple[str, ...]] = {
    Noun.CLIENT: ("code",),
    Noun.SITE: ("code", "name", "time_zone"),
    Noun.AREA: ("code", "name"),
    Noun.EQUIPMENT: (
        "tag",
        "name",
        "equipment_class",
        "access",
        "minutes",
        "load_hours",
        "rated_current_a",
        "criticality",
        "stand_off",
        "ppe",
    ),
    Noun.VIEW: ("tag", "name"),
    Noun.POINT: tuple(field.name for field in FIELDS[Noun.POINT]),
}
#: a sheet whose name begins so is for people and is not read
NOTES = ("notes", "read me", "readme", "lists")


def plain(title: str) -> str:
    """A title without case, spaces and signs: what two titles are compared by."""
    return re.sub(r"[^a-z0-9%°µ]", "", title.casefold())


_BY_TITLE: dict[str, tuple[Noun, Field]] = {
    plain(field.column): (noun, field) for noun in FILED for field in FIELDS[noun]
}
_TITLES = {plain(field.column): field.column for noun in FILED for field in FIELDS[noun]}


def column_of(title: str) -> tuple[Noun, Field] | None:
    """The noun and field that a title means."""
    return _BY_TITLE.get(plain(title))


def nearest_title(title: str) -> str:
    """The title of the template that is most like a mistyped one; empty when none is near."""
    near = get_close_matches(plain(title), list(_TITLES), n=1, cutoff=0.75)
    return _TITLES[near[0]] if near else ""


def key_title(noun: Noun) -> str:
    return next(field.column for field in FIELDS[noun] if field.name == KEY_FIELDS[noun])


def sheet_fields(sheet: Sheet) -> tuple[tuple[Noun, Field], ...]:
    """Columns of one sheet of the template, in order."""
    keys = [(noun, f) for noun in sheet.stands_in for f in FIELDS[noun] if f.name == KEY_FIELDS[noun]]
    return (*keys, *((sheet.noun, field) for field in FIELDS[sheet.noun]))


def flat_fields() -> tuple[tuple[Noun, Field], ...]:
    """Columns of the flat form, in order."""
    return tuple(
        (noun, field) for noun, names in FLAT_NAMES.items() for field in FIELDS[noun] if field.name in names
    )
