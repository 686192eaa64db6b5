"""The search by tag over equipment, views and points: two queries, whatever is found."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Boolean, Integer, cast, func, literal, null, or_, select, union_all

from service.domain.register import Noun
from service.domain.register_tree import FoundTag, Mark
from service.storage.register import Sight
from service.storage.register_rows import TABLES, on_rounds_of
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit

MOST_HITS = 60


def find_tags(unit: Unit, text: str, sight: Sight) -> tuple[FoundTag, ...]:
    """Equipment, views and points whose tag or name holds the text; exact tags first."""
    wanted = text.casefold()
    queries = [_hits(noun, wanted, sight) for noun in (Noun.EQUIPMENT, Noun.VIEW, Noun.POINT)]
    hits = union_all(*queries).subquery()
    rank = func.coalesce(func.length(hits.c.tag), 0)
    query = (
        select(hits, SiteRow.name.label("site_name"), EquipmentRow.name.label("equipment_name"))
        .join(SiteRow, SiteRow.id == hits.c.site_id)
        .join(EquipmentRow, EquipmentRow.id == hits.c.equipment_id)
        .order_by(hits.c.by_tag.desc(), rank, hits.c.tag, hits.c.id)
        .limit(MOST_HITS)
    )
    rows = list(unit.session.execute(query).mappings())
    marks = _marks_of(unit, {row["equipment_id"] for row in rows})
    return tuple(_found(row, marks) for row in rows)


def _hits(noun: Noun, wanted: str, sight: Sight) -> Any:
    table = TABLES[noun]
    by_tag = func.lower(table.tag).contains(wanted, autoescape=True)
    by_name = func.lower(table.name).contains(wanted, autoescape=True)
    equipment: Any = EquipmentRow.id if noun is Noun.EQUIPMENT else ViewRow.equipment_id
    # typed, since PostgreSQL will not join a column of no type to one of numbers
    state: Any = PointStateRow.level if noun is Noun.POINT else cast(null(), Integer)
    sure: Any = PointStateRow.at_least if noun is Noun.POINT else cast(null(), Boolean)
    query = select(
        literal(noun.value).label("noun"),
        table.id.label("id"),
        table.tag.label("tag"),
        table.name.label("name"),
        table.site_id.label("site_id"),
        equipment.label("equipment_id"),
        table.retired_at.is_not(None).label("retired"),
        by_tag.label("by_tag"),
        state.label("level"),
        sure.label("at_least"),
    ).select_from(table)
    if noun is Noun.POINT:
        query = query.join(ViewRow, ViewRow.id == PointRow.view_id)
        query = query.outerjoin(PointStateRow, PointStateRow.point_id == PointRow.id)
    query = query.where(or_(by_tag, by_name))
    if sight.site_ids is not None:
        query = query.where(table.site_id.in_(sight.site_ids))
    if sight.person_id is not None:
        query = query.where(on_rounds_of(equipment, sight.person_id))
    return (
        query.order_by(by_tag.desc(), func.length(table.tag), table.id).limit(MOST_HITS).subquery().select()
    )


def _marks_of(unit: Unit, equipment_ids: Iterable[int]) -> dict[tuple[Noun, int], Mark]:
    """Marks of these equipment and of their views."""
    query = (
        select(PointStateRow.equipment_id, PointRow.view_id, PointStateRow.level, PointStateRow.at_least)
        .join(PointRow, PointRow.id == PointStateRow.point_id)
        .where(PointStateRow.equipment_id.in_(sorted(equipment_ids)), PointRow.retired_at.is_(None))
    )
    grouped: dict[tuple[Noun, int], list[Mark]] = defaultdict(list)
    for equipment_id, view_id, level, at_least in unit.session.execute(query):
        mark = Mark.of_points(level, bool(at_least))
        grouped[(Noun.EQUIPMENT, equipment_id)].append(mark)
        grouped[(Noun.VIEW, view_id)].append(mark)
    return {of: Mark.of(marks) for of, marks in grouped.items()}


def _found(row: Any, marks: dict[tuple[Noun, int], Mark]) -> FoundTag:
    noun = Noun(row["noun"])
    if noun is Noun.POINT:
        mark = Mark.of_points(row["level"], bool(row["at_least"]))
    else:
        mark = marks.get((noun, row["id"]), Mark())
    return FoundTag(
        noun=noun,
        id=row["id"],
        tag=row["tag"],
        name=row["name"],
        site_id=row["site_id"],
        site_name=row["site_name"],
        equipment_id=row["equipment_id"],
        equipment_name=row["equipment_name"],
        mark=mark,
        retired=bool(row["retired"]),
    )
