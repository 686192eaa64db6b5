"""Rows of the register as records: which table a noun is kept in, and what stands above it."""

from dataclasses import fields
from typing import Any

from sqlalchemy import ColumnElement, Select, exists, literal, or_, select

from service.domain.register import (
    KEY_FIELDS,
    PARENT_FIELDS,
    PARENTS,
    RECORDS,
    Noun,
    Point,
    Registered,
)
from service.domain.words import Access, PointKind, ReferenceKind, SettingSource
from service.storage.tables.base import Retirable
from service.storage.tables.register import (
    AreaRow,
    ClientRow,
    EquipmentRow,
    InstrumentRow,
    PointRow,
    SiteRow,
    ViewMemberRow,
    ViewRow,
)
from service.storage.tables.rounds import RoundRow, StopRow

#: rows are reached by the names of the catalogue, which tests hold equal to the columns
TABLES: dict[Noun, Any] = {
    Noun.CLIENT: ClientRow,
    Noun.SITE: SiteRow,
    Noun.AREA: AreaRow,
    Noun.EQUIPMENT: EquipmentRow,
    Noun.VIEW: ViewRow,
    Noun.POINT: PointRow,
    Noun.INSTRUMENT: InstrumentRow,
}
_ENUMS: dict[str, Any] = {
    "access": Access,
    "reference_kind": ReferenceKind,
    "emissivity_standing": SettingSource,
}
_MEMBER_NOW = exists().where(ViewMemberRow.point_id == PointRow.id, ViewMemberRow.to_at.is_(None))


def parent_column(noun: Noun) -> Any:
    """The column that names what a thing stands in."""
    return getattr(TABLES[noun], PARENT_FIELDS[noun])


def key_column(noun: Noun) -> Any:
    return getattr(TABLES[noun], KEY_FIELDS[noun])


def chain_above(noun: Noun) -> tuple[Noun, ...]:
    """What a thing stands in, nearest first: a point's view, equipment, area, site, client."""
    chain = []
    while noun in PARENTS:
        noun = PARENTS[noun]
        chain.append(noun)
    return tuple(chain)


def selected(noun: Noun) -> Select[Any]:
    """Rows of a noun, each with whether it is one of its view's like parts now."""
    member = _MEMBER_NOW if noun is Noun.POINT else literal(False)
    return select(TABLES[noun], member.label("member"))


def record(noun: Noun, row: Retirable, member: bool) -> Registered:
    """A row as the frozen record of its noun."""
    kind: Any = RECORDS[noun]
    values: dict[str, Any] = {}
    for field in fields(kind):
        if field.name == "like_part":
            values["like_part"] = bool(member)
            continue
        value = getattr(row, field.name)
        way = PointKind if kind is Point and field.name == "kind" else _ENUMS.get(field.name)
        values[field.name] = value if way is None or value is None else way(value)
    made: Registered = kind(**values)
    return made


def of_site(noun: Noun) -> Any:
    """The column that holds a row's site; a site's own key; None above the sites."""
    if noun is Noun.SITE:
        return SiteRow.id
    return None if noun in (Noun.CLIENT, Noun.INSTRUMENT) else TABLES[noun].site_id


def equipment_of(noun: Noun) -> Any:
    """The equipment a row belongs to, as an expression; None above equipment."""
    if noun is Noun.EQUIPMENT:
        return EquipmentRow.id
    if noun is Noun.VIEW:
        return ViewRow.equipment_id
    if noun is Noun.POINT:
        return (
            select(ViewRow.equipment_id)
            .where(ViewRow.id == PointRow.view_id)
            .correlate(PointRow)
            .scalar_subquery()
        )
    return None


def on_rounds_of(equipment_id: Any, person_id: int | None) -> ColumnElement[bool]:
    """The equipment stands on a round that is this person's."""
    mine = or_(RoundRow.person_id == person_id, RoundRow.second_person_id == person_id)
    return exists().where(StopRow.equipment_id == equipment_id, RoundRow.id == StopRow.round_id, mine)
