"""What the interval rule needs of every equipment, by groups of alike points: today, or at an instant gone by."""

from collections.abc import Collection, Iterator, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import CTE, Select, Subquery, and_, case, func, literal, null, or_, select
from sqlalchemy import Date as DateType
from sqlalchemy import cast as as_type
from sqlalchemy.orm import aliased

from service.domain.coverage import PointGroup, RegisteredEquipment
from service.domain.words import CURRENT_KINDS, WORSENING, Access, FindingState, PointKind, Trend
from service.storage.bulk import is_one_of
from service.storage.tables.findings import FindingRow, RepairRow
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow, StandingChangeRow
from service.storage.tables.register import AreaRow, EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit
from service.storage.year_counts import in_use

#: one kind for all under a ceiling: those that carry current, and the others
_CEILING = case(
    (PointRow.kind.in_([kind.value for kind in CURRENT_KINDS]), PointKind.JOINT.value),
    else_=PointKind.OTHER.value,
)
_WORSENING = [trend.value for trend in WORSENING]


def equipment_of_year(
    unit: Unit, site_ids: Collection[int], *, at: datetime | None
) -> tuple[RegisteredEquipment, ...]:
    """Equipment in use at these sites, by site and walking order.

    Parameters
    ----------
    at : datetime, optional
        An instant gone by; then what was in use at it, with the facts of today.
    """
    row = EquipmentRow
    query = (
        select(
            row.id, SiteRow.id, SiteRow.name, SiteRow.time_zone, AreaRow.name, row.tag, row.name,
            row.equipment_class, row.criticality, row.condition, row.access, row.interval_months,
            row.pf_interval_months, row.repair_lead_days, AreaRow.walking_order, AreaRow.id, row.walking_order,
        )
        .join(SiteRow, SiteRow.id == row.site_id)
        .join(AreaRow, AreaRow.id == row.area_id)
        .where(in_use(row, at), is_one_of(unit, row.site_id, site_ids))
    )  # fmt: skip
    # on the connection: the session's way of making rows costs half as much again
    found = [_equipment(record) for record in unit.connection.execute(query)]
    return tuple(sorted(found, key=lambda one: one.walk))


def _equipment(record: Sequence[Any]) -> RegisteredEquipment:
    of_id, site_id, site, zone, area, tag, name, of_class, criticality, condition, access, *rest = record
    interval, pf_interval, lead_days, area_order, area_id, order = rest
    return RegisteredEquipment(
        id=of_id,
        site_id=site_id,
        site=site,
        time_zone=zone,
        area=area,
        tag=tag,
        name=name,
        equipment_class=of_class,
        criticality=criticality,
        condition=condition,
        behind_cover=Access(access).behind_cover,
        interval_months=interval,
        pf_interval_months=pf_interval,
        repair_lead_days=lead_days,
        walk=(site.casefold(), site_id, area_order, area_id, order, of_id),
    )


def walk_of(unit: Unit, equipment_id: int) -> tuple[str, int, int, int, int, int] | None:
    """Where an equipment stands in the order of the list, also when it is retired; None when there is none."""
    query = (
        select(
            SiteRow.name, SiteRow.id, AreaRow.walking_order, AreaRow.id, EquipmentRow.walking_order, EquipmentRow.id
        )
        .join(SiteRow, SiteRow.id == EquipmentRow.site_id)
        .join(AreaRow, AreaRow.id == EquipmentRow.area_id)
        .where(EquipmentRow.id == equipment_id)
    )  # fmt: skip
    found = unit.session.execute(query).one_or_none()
    return None if found is None else (found[0].casefold(), found[1], found[2], found[3], found[4], found[5])


def sites_by_id(unit: Unit, client_id: int) -> tuple[int, ...]:
    """Sites in use of a client: the order in which first visits are spread."""
    query = select(SiteRow.id).where(SiteRow.client_id == client_id, SiteRow.retired_at.is_(None))
    return tuple(unit.session.scalars(query.order_by(SiteRow.id)))


def point_groups(
    unit: Unit, site_ids: Collection[int], *, at: datetime | None
) -> dict[int, tuple[PointGroup, ...]]:
    """By equipment its points in use, grouped by what the interval rule tells apart.

    Parameters
    ----------
    at : datetime, optional
        An instant gone by: visits, standings and repairs are those until then. Without it they
        are those of the state rows, with the days stored there.
    """
    facts = _facts(unit, site_ids, at)
    alike = (facts.c.equipment_id, facts.c.kind, facts.c.level, facts.c.trend)
    known = (facts.c.cleared_at, facts.c.seen_at, facts.c.repaired_at, facts.c.due_on)
    query = select(
        *alike,
        func.count().label("points"),
        func.min(facts.c.made_at).label("made_at"),
        func.min(facts.c.cleared_at).label("cleared_at"),
        func.max(facts.c.seen_at).label("seen_at"),
        func.min(facts.c.repaired_at).label("repaired_at"),
        func.min(facts.c.due_on).label("due_on"),
    ).group_by(*alike, *(case((column.is_(None), 0), else_=1) for column in known))
    found: dict[int, list[PointGroup]] = {}
    for row in unit.connection.execute(query):
        found.setdefault(row[0], []).append(_group(row))
    return {equipment: tuple(groups) for equipment, groups in found.items()}


def single_points(
    unit: Unit, site_ids: Collection[int], equipment_ids: Collection[int], *, at: datetime | None
) -> Iterator[PointGroup]:
    """Every point in use of these equipment by itself."""
    facts = _facts(unit, site_ids, at, equipment_ids)
    one = facts.c
    query = select(
        one.equipment_id, one.kind, one.level, one.trend, literal(1), one.made_at, one.cleared_at, one.seen_at,
        one.repaired_at, one.due_on, one.point_id,
    )  # fmt: skip
    yield from map(_group, unit.session.execute(query))


def _group(row: Sequence[Any]) -> PointGroup:
    equipment_id, kind, level, trend, points, made_at, cleared_at, seen_at, repaired_at, due_on, *point = row
    return PointGroup(
        equipment_id=equipment_id, kind=kind, level=level or None, trend=trend or Trend.TOO_FEW_VISITS.value,
        points=points, made_at=made_at, cleared_at=cleared_at, seen_at=seen_at, repaired_at=repaired_at,
        due_on=due_on, point_id=point[0] if point else None,
    )  # fmt: skip


def _facts(
    unit: Unit, site_ids: Collection[int], at: datetime | None, equipment_ids: Collection[int] | None = None
) -> Subquery:
    """One row a point in use, the same columns today and at an instant gone by."""
    query = _facts_now() if at is None else _facts_at(unit, site_ids, at, equipment_ids)
    query = query.where(
        in_use(PointRow, at), in_use(ViewRow, at), in_use(EquipmentRow, at),
        is_one_of(unit, PointRow.site_id, site_ids),
    )  # fmt: skip
    if equipment_ids is not None:
        query = query.where(is_one_of(unit, EquipmentRow.id, equipment_ids))
    return query.subquery()


def _columns(**more: Any) -> list[Any]:
    """What both ways ask; a level of 0 and a trend that does not worsen change no interval."""
    level, trend = more.pop("level"), more.pop("trend")
    return [
        PointRow.id.label("point_id"),
        EquipmentRow.id.label("equipment_id"),
        _CEILING.label("kind"),
        PointRow.created_at.label("made_at"),
        func.coalesce(level, 0).label("level"),
        case((trend.in_(_WORSENING), trend), else_="").label("trend"),
        *(column.label(name) for name, column in more.items()),
    ]


def _registered(query: Select[*tuple[Any, ...]]) -> Select[*tuple[Any, ...]]:
    return (
        query.select_from(PointRow)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
    )


def _facts_now() -> Select[*tuple[Any, ...]]:
    last, state = aliased(AssessmentRow), PointStateRow
    could_clear = and_(last.level.is_not(None), ~last.at_least, ~last.cold)
    later = or_(state.last_cleared_at.is_(None), last.taken_at > state.last_cleared_at)
    repaired = (
        select(FindingRow.point_id, func.max(RepairRow.repaired_at).label("at"))
        .join(RepairRow, RepairRow.finding_id == FindingRow.id)
        .where(FindingRow.state == FindingState.REPAIRED.value)
        .group_by(FindingRow.point_id)
        .subquery()
    )
    columns = _columns(
        level=state.level,
        trend=state.trend,
        cleared_at=case((and_(could_clear, later), last.taken_at), else_=state.last_cleared_at),
        seen_at=state.last_read_at,
        repaired_at=repaired.c.at,
        due_on=state.due_on,
    )
    return (
        _registered(select(*columns))
        .outerjoin(state, state.point_id == PointRow.id)
        .outerjoin(last, last.id == state.assessment_id)
        .outerjoin(repaired, repaired.c.point_id == PointRow.id)
    )


def _facts_at(
    unit: Unit, site_ids: Collection[int], at: datetime, equipment_ids: Collection[int] | None
) -> Select[*tuple[Any, ...]]:
    visits = _visits(unit, site_ids, at, equipment_ids)
    standing, repaired = _standing(unit, site_ids, at), _repaired(at)
    columns = _columns(
        level=standing.c.level,
        trend=standing.c.trend,
        cleared_at=visits.c.cleared_at,
        seen_at=visits.c.seen_at,
        repaired_at=repaired.c.at,
        due_on=as_type(null(), DateType),
    )
    return (
        _registered(select(*columns))
        .outerjoin(visits, visits.c.point_id == PointRow.id)
        .outerjoin(standing, standing.c.point_id == PointRow.id)
        .outerjoin(repaired, repaired.c.point_id == PointRow.id)
    )


def _visits(
    unit: Unit, site_ids: Collection[int], at: datetime, equipment_ids: Collection[int] | None
) -> CTE:
    """By point its last visit until an instant that read it, and the last that could have cleared it.

    From each point backwards along the index of its visits: few steps lead to the one that counts,
    where a fleet has a million of them.
    """
    row = AssessmentRow
    counts = (row.point_id == PointRow.id, row.current, row.counts_level, row.taken_at <= at)
    newest = select(row.taken_at).where(*counts).order_by(row.taken_at.desc()).limit(1)
    could_clear = newest.where(row.level.is_not(None), ~row.at_least, ~row.cold)
    read = newest.join(ReadingRow, ReadingRow.id == row.reading_id).where(
        ReadingRow.not_assessable.is_(None), ReadingRow.temperature_c.is_not(None)
    )
    query = select(
        PointRow.id.label("point_id"),
        could_clear.correlate(PointRow).scalar_subquery().label("cleared_at"),
        read.correlate(PointRow).scalar_subquery().label("seen_at"),
    ).where(is_one_of(unit, PointRow.site_id, site_ids))
    if equipment_ids is not None:
        query = query.join(ViewRow, ViewRow.id == PointRow.view_id)
        query = query.where(is_one_of(unit, ViewRow.equipment_id, equipment_ids))
    # worked out once: merged into the query around it, both would be looked up for every mention
    return query.cte("visits").prefix_with("MATERIALIZED")


def _standing(unit: Unit, site_ids: Collection[int], at: datetime) -> Subquery:
    """By point its level and trend at its last change of standing until a day."""
    row = StandingChangeRow
    days = (
        select(row.point_id, func.max(row.on).label("day"))
        .where(row.on <= at.date(), is_one_of(unit, row.site_id, site_ids))
        .group_by(row.point_id)
        .subquery()
    )
    last = (
        select(func.max(row.id))
        .join(days, and_(days.c.point_id == row.point_id, days.c.day == row.on))
        .group_by(row.point_id)
    )
    return select(row.point_id, row.level, row.trend).where(row.id.in_(last)).subquery()


def _repaired(at: datetime) -> Subquery:
    """By point the last repair until an instant that then waited for its proof."""
    waits = or_(
        RepairRow.outcome_at > at,
        and_(RepairRow.outcome.is_(None), FindingRow.state == FindingState.REPAIRED.value),
    )
    return (
        select(FindingRow.point_id, func.max(RepairRow.repaired_at).label("at"))
        .join(RepairRow, RepairRow.finding_id == FindingRow.id)
        .where(RepairRow.repaired_at <= at, waits)
        .group_by(FindingRow.point_id)
        .subquery()
    )
