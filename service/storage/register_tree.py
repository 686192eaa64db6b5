"""The tree of the register with its marks: a handful of queries, however many things there are."""

from collections import defaultdict
from typing import Any, cast

from sqlalchemy import func, literal, select

from service.domain.register import Equipment, Noun, Point, Site, View
from service.domain.register_tree import (
    ClientLine,
    EquipmentPage,
    FindingLine,
    Mark,
    Node,
    PointStanding,
    SiteLine,
    ViewStanding,
)
from service.domain.words import FindingState
from service.storage.register import Sight, place_of, thing
from service.storage.register_rows import TABLES, on_rounds_of, record, selected
from service.storage.tables.findings import FindingRow
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import AreaRow, ClientRow, EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit

_IN_USE = PointRow.retired_at.is_(None)
_OPEN = (
    FindingState.OPEN.value,
    FindingState.PLANNED.value,
    FindingState.REPAIRED.value,
    FindingState.NOT_PROVEN.value,
)


def client_lines(unit: Unit, sight: Sight) -> tuple[ClientLine, ...]:
    """Clients in use with their sites and the mark of each, by name."""
    clients = select(ClientRow.id, ClientRow.code, ClientRow.name).where(ClientRow.retired_at.is_(None))
    sites = select(SiteRow.id, SiteRow.client_id, SiteRow.code, SiteRow.name).where(
        SiteRow.retired_at.is_(None)
    )
    if sight.client_ids is not None:
        clients = clients.where(ClientRow.id.in_(sight.client_ids))
    if sight.site_ids is not None:
        sites = sites.where(SiteRow.id.in_(sight.site_ids))
    marks = _site_marks(unit, sight)
    lines: dict[int, list[SiteLine]] = defaultdict(list)
    for site_id, client_id, code, name in unit.session.execute(sites.order_by(SiteRow.name, SiteRow.id)):
        lines[client_id].append(SiteLine(site_id, client_id, code, name, marks.get(site_id, Mark())))
    rows = unit.session.execute(clients.order_by(ClientRow.name, ClientRow.id))
    return tuple(ClientLine(i, code, name, tuple(lines[i])) for i, code, name in rows)


def _site_marks(unit: Unit, sight: Sight) -> dict[int, Mark]:
    query = (
        select(PointRow.site_id, PointStateRow.level, PointStateRow.at_least, func.count())
        .outerjoin(PointStateRow, PointStateRow.point_id == PointRow.id)
        .where(_IN_USE)
        .group_by(PointRow.site_id, PointStateRow.level, PointStateRow.at_least)
    )
    if sight.site_ids is not None:
        query = query.where(PointRow.site_id.in_(sight.site_ids))
    if sight.person_id is not None:
        query = query.where(on_rounds_of(PointStateRow.equipment_id, sight.person_id))
    grouped: dict[int, list[Mark]] = defaultdict(list)
    for site_id, level, at_least, count in unit.session.execute(query):
        grouped[site_id].append(Mark.of_points(level, bool(at_least), count))
    return {site_id: Mark.of(marks) for site_id, marks in grouped.items()}


def site_nodes(unit: Unit, site_id: int, sight: Sight) -> tuple[Node, ...]:
    """Areas of a site in walking order, down to the points, each node with its mark."""
    points = _children(unit, _point_rows(site_id, sight), Noun.POINT, {})
    views = _children(unit, _rows(Noun.VIEW, ViewRow.equipment_id, site_id, sight), Noun.VIEW, points)
    equipment = _children(
        unit, _rows(Noun.EQUIPMENT, EquipmentRow.area_id, site_id, sight), Noun.EQUIPMENT, views
    )
    areas = _children(unit, _rows(Noun.AREA, AreaRow.site_id, site_id, sight), Noun.AREA, equipment)
    found = areas.get(site_id, ())
    return found if sight.person_id is None else tuple(area for area in found if area.children)


def _point_rows(site_id: int, sight: Sight) -> Any:
    query = (
        select(
            PointRow.view_id,
            PointRow.id,
            PointRow.tag,
            PointRow.name,
            PointStateRow.level,
            PointStateRow.at_least,
        )
        .outerjoin(PointStateRow, PointStateRow.point_id == PointRow.id)
        .where(PointRow.site_id == site_id, _IN_USE)
        .order_by(PointRow.walking_order, PointRow.tag)
    )
    if sight.person_id is not None:
        query = query.where(on_rounds_of(PointStateRow.equipment_id, sight.person_id))
    return query


def _rows(noun: Noun, parent: Any, site_id: int, sight: Sight) -> Any:
    table = TABLES[noun]
    key = table.code if noun is Noun.AREA else table.tag
    nothing = literal(None)
    query = (
        select(parent, table.id, key, table.name, nothing, nothing)
        .where(table.site_id == site_id, table.retired_at.is_(None))
        .order_by(table.walking_order, key)
    )
    if sight.person_id is not None and noun is not Noun.AREA:
        own = EquipmentRow.id if noun is Noun.EQUIPMENT else ViewRow.equipment_id
        query = query.where(on_rounds_of(own, sight.person_id))
    return query


def _children(
    unit: Unit, query: Any, noun: Noun, below: dict[int, tuple[Node, ...]]
) -> dict[int, tuple[Node, ...]]:
    """Nodes of one noun by the id of what they stand in."""
    grouped: dict[int, list[Node]] = defaultdict(list)
    for parent_id, node_id, key, name, level, at_least in unit.session.execute(query):
        if noun is Noun.POINT:
            mark = Mark.of_points(level, bool(at_least))
        else:
            mark = Mark.of(child.mark for child in below.get(node_id, ()))
        grouped[parent_id].append(Node(noun, node_id, key, name, mark, below.get(node_id, ())))
    return {parent_id: tuple(nodes) for parent_id, nodes in grouped.items()}


def equipment_page(unit: Unit, equipment_id: int, sight: Sight) -> EquipmentPage:
    """One equipment with its views, points and what is open on it.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    equipment = cast(Equipment, thing(unit, Noun.EQUIPMENT, equipment_id, sight=sight))
    points = _point_standings(unit, equipment_id)
    query = selected(Noun.VIEW).where(ViewRow.equipment_id == equipment_id, ViewRow.retired_at.is_(None))
    rows = unit.session.execute(query.order_by(ViewRow.walking_order, ViewRow.tag))
    views = tuple(
        ViewStanding(cast(View, record(Noun.VIEW, row, False)), tuple(points.get(row.id, ())))
        for row, _ in rows
    )
    return EquipmentPage(
        equipment=equipment,
        site=cast(Site, thing(unit, Noun.SITE, equipment.site_id)),
        place=place_of(unit, Noun.EQUIPMENT, equipment_id),
        views=views,
        findings=_open_findings(unit, equipment_id),
        retired_within=_retired_within(unit, equipment_id),
        mark=Mark.of(p.mark for of_view in points.values() for p in of_view),
    )


def _point_standings(unit: Unit, equipment_id: int) -> dict[int, list[PointStanding]]:
    query = (
        selected(Noun.POINT)
        .add_columns(PointStateRow)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .outerjoin(PointStateRow, PointStateRow.point_id == PointRow.id)
        .where(ViewRow.equipment_id == equipment_id, _IN_USE)
        .order_by(PointRow.walking_order, PointRow.tag)
    )
    grouped: dict[int, list[PointStanding]] = defaultdict(list)
    for row, member, state in unit.session.execute(query):
        point = cast(Point, record(Noun.POINT, row, member))
        grouped[row.view_id].append(
            PointStanding(
                point=point,
                level=None if state is None else state.level,
                at_least=state is not None and state.at_least,
                since=None if state is None else state.since,
                trend="" if state is None else state.trend,
                value_k=None if state is None else state.value_k,
                common_k=None if state is None else state.common_k,
                reference=(None if state is None else state.reference) or point.reference_kind,
                load_ratio=None if state is None else state.load_ratio,
                last_read_at=None if state is None else state.last_read_at,
                due_on=None if state is None else state.due_on,
                due_reason="" if state is None else state.due_reason,
                last_sentence="" if state is None else state.last_sentence,
            )
        )
    return grouped


def _open_findings(unit: Unit, equipment_id: int) -> tuple[FindingLine, ...]:
    query = (
        select(FindingRow)
        .join(PointRow, PointRow.id == FindingRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .where(ViewRow.equipment_id == equipment_id, FindingRow.state.in_(_OPEN))
        .order_by(FindingRow.level.desc(), FindingRow.id)
        .limit(100)
    )
    return tuple(
        FindingLine(row.id, row.title, row.state, row.level, row.due_on, row.point_id)
        for row in unit.session.scalars(query)
    )


def _retired_within(unit: Unit, equipment_id: int) -> int:
    views = select(func.count()).where(ViewRow.equipment_id == equipment_id, ViewRow.retired_at.is_not(None))
    points = (
        select(func.count())
        .select_from(PointRow)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .where(ViewRow.equipment_id == equipment_id, PointRow.retired_at.is_not(None))
    )
    return int(unit.session.scalar(views) or 0) + int(unit.session.scalar(points) or 0)
