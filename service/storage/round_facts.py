"""Queries that join a round with the register and with what its points stand at."""

from collections.abc import Collection, Iterable
from datetime import date
from functools import cache
from typing import Any

from sqlalchemy import Select, and_, case, exists, func, select

from service.domain.cautions import FREE_KINDS
from service.domain.stop_facts import EquipmentFacts, PointTally
from service.domain.words import WORSENING, Access, FindingState
from service.storage.bulk import is_one_of
from service.storage.tables.findings import FindingRow
from service.storage.tables.readings import PointStateRow, ReadingRow
from service.storage.tables.register import (
    AreaRow,
    ClientRow,
    EquipmentRow,
    PointRow,
    SiteRow,
    ViewRow,
)
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit

#: as a list, looked up once: asked point by point it would be sought 20,000 times
_REPAIRED = PointRow.id.in_(
    select(FindingRow.point_id).where(
        FindingRow.state == FindingState.REPAIRED.value, FindingRow.point_id.is_not(None)
    )
)
_IN_USE = and_(PointRow.retired_at.is_(None), ViewRow.retired_at.is_(None))


@cache
def _facts_query() -> Select[EquipmentRow, SiteRow, AreaRow, ClientRow]:
    return (
        select(EquipmentRow, SiteRow, AreaRow, ClientRow)
        .join(SiteRow, SiteRow.id == EquipmentRow.site_id)
        .join(ClientRow, ClientRow.id == SiteRow.client_id)
        .join(AreaRow, AreaRow.id == EquipmentRow.area_id)
    )


def equipment_facts(unit: Unit, equipment_ids: Collection[int]) -> dict[int, EquipmentFacts]:
    """Facts by equipment id, retired ones included; ids that are not there are left out."""
    query = _facts_query().where(is_one_of(unit, EquipmentRow.id, equipment_ids))
    return {
        row.id: _facts(row, site, area, client) for row, site, area, client in unit.session.execute(query)
    }


def equipment_in_walking_order(
    unit: Unit, *, site_ids: Collection[int], limit: int = 2000
) -> tuple[EquipmentFacts, ...]:
    """Equipment in use at these sites: by site, then area, then its own order."""
    query = (
        _facts_query()
        .where(EquipmentRow.site_id.in_(site_ids), EquipmentRow.retired_at.is_(None))
        .order_by(
            SiteRow.name,
            SiteRow.id,
            AreaRow.walking_order,
            AreaRow.id,
            EquipmentRow.walking_order,
            EquipmentRow.id,
        )
        .limit(limit)
    )
    return tuple(_facts(row, site, area, client) for row, site, area, client in unit.session.execute(query))


def equipment_by_tag(unit: Unit, client_id: int, tag: str) -> tuple[tuple[int, int], ...]:
    """(equipment, site) in use of a client that have this tag, whatever its case."""
    query = (
        select(EquipmentRow.id, EquipmentRow.site_id)
        .join(SiteRow, SiteRow.id == EquipmentRow.site_id)
        .where(
            SiteRow.client_id == client_id,
            func.lower(EquipmentRow.tag) == tag.lower(),
            EquipmentRow.retired_at.is_(None),
        )
        .order_by(EquipmentRow.id)
        .limit(20)
    )
    return tuple((equipment, site) for equipment, site in unit.session.execute(query))


def sites_in_sight(
    unit: Unit, site_ids: frozenset[int] | None, *, client_id: int | None = None
) -> tuple[tuple[int, int, str], ...]:
    """(id, client id, name) of the sites in use, by name."""
    query = select(SiteRow.id, SiteRow.client_id, SiteRow.name).where(SiteRow.retired_at.is_(None))
    if site_ids is not None:
        query = query.where(SiteRow.id.in_(site_ids))
    if client_id is not None:
        query = query.where(SiteRow.client_id == client_id)
    rows = unit.session.execute(query.order_by(SiteRow.name, SiteRow.id))
    return tuple((site_id, of_client, name) for site_id, of_client, name in rows)


def site_names(unit: Unit, round_ids: Iterable[int]) -> dict[int, tuple[str, ...]]:
    """By round: names of its sites in the order they are walked."""
    query = (
        select(StopRow.round_id, SiteRow.name)
        .join(SiteRow, SiteRow.id == StopRow.site_id)
        .where(StopRow.round_id.in_(list(round_ids)))
        .group_by(StopRow.round_id, SiteRow.id, SiteRow.name)
        .order_by(StopRow.round_id, func.min(StopRow.position))
    )
    names: dict[int, list[str]] = {}
    for round_id, name in unit.session.execute(query):
        names.setdefault(round_id, []).append(name)
    return {round_id: tuple(found) for round_id, found in names.items()}


def tallies(
    unit: Unit,
    *,
    today: date,
    equipment_ids: Collection[int] | None = None,
    site_ids: Collection[int] | None = None,
    due_only: bool = False,
    limit: int | None = 2000,
) -> dict[int, PointTally]:
    """What the points of each equipment stand at; with ``due_only`` only where something is due by ``today``."""
    due = and_(PointStateRow.due_on.is_not(None), PointStateRow.due_on <= today)
    due_count = func.sum(case((due, 1), else_=0))
    worsening = PointStateRow.trend.in_([word.value for word in WORSENING])
    query = (
        select(
            ViewRow.equipment_id,
            func.count(PointRow.id),
            due_count,
            func.min(PointStateRow.due_on),
            func.sum(case((worsening, 1), else_=0)),
            func.sum(case((PointStateRow.level >= 1, 1), else_=0)),
            func.sum(case((_REPAIRED, 1), else_=0)),
            func.sum(case((PointRow.kind.in_([kind.value for kind in FREE_KINDS]), 1), else_=0)),
        )
        .select_from(PointRow)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .outerjoin(PointStateRow, PointStateRow.point_id == PointRow.id)
        .where(_IN_USE, EquipmentRow.retired_at.is_(None))
        .group_by(ViewRow.equipment_id)
        .order_by(func.min(PointStateRow.due_on), ViewRow.equipment_id)
        .limit(limit)
    )
    if equipment_ids is not None:
        query = query.where(is_one_of(unit, ViewRow.equipment_id, equipment_ids))
    if site_ids is not None:
        query = query.where(is_one_of(unit, PointRow.site_id, site_ids))
    if due_only:
        query = query.having(due_count > 0)
    counted = unit.session.execute(query).all()
    worst = _worst(unit, [row[0] for row in counted])
    first = _first_reasons(unit, [row[0] for row in counted])
    return {
        equipment: PointTally(
            equipment_id=equipment,
            points=points,
            due=due or 0,
            due_on=due_on,
            reason=first.get(equipment, ""),
            worsening=rising or 0,
            above_nothing=above or 0,
            read_again=again or 0,
            free=free or 0,
            **worst.get(equipment, {}),
        )
        for equipment, points, due, due_on, rising, above, again, free in counted
    }


def _worst(unit: Unit, equipment_ids: list[int]) -> dict[int, dict[str, Any]]:
    """Of each equipment the point with the highest level, then with the greatest height."""
    order = (
        func.coalesce(PointStateRow.level, -1).desc(),
        func.coalesce(PointStateRow.height_now, -1).desc(),
        PointRow.id,
    )
    place = func.row_number().over(partition_by=ViewRow.equipment_id, order_by=order).label("place")
    ranked = (
        select(
            ViewRow.equipment_id,
            PointRow.id,
            PointRow.name,
            PointStateRow.level,
            PointStateRow.at_least,
            PointStateRow.trend,
            PointStateRow.height_now,
            PointStateRow.height_year_ago,
            place,
        )
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(PointStateRow, PointStateRow.point_id == PointRow.id)
        .where(_IN_USE, is_one_of(unit, ViewRow.equipment_id, equipment_ids))
        .subquery()
    )
    rows = unit.session.execute(select(ranked).where(ranked.c.place == 1))
    return {
        row[0]: {
            "worst_id": row[1],
            "worst_name": row[2],
            "level": row[3],
            "at_least": row[4],
            "worst_trend": row[5],
            "height_now": row[6],
            "height_year_ago": row[7],
        }
        for row in rows
    }


def _first_reasons(unit: Unit, equipment_ids: list[int]) -> dict[int, str]:
    """Of each equipment the reason of the point that is due first."""
    place = (
        func.row_number()
        .over(partition_by=ViewRow.equipment_id, order_by=(PointStateRow.due_on, PointRow.id))
        .label("place")
    )
    ranked = (
        select(ViewRow.equipment_id, PointStateRow.due_reason, place)
        .join(PointRow, PointRow.view_id == ViewRow.id)
        .join(PointStateRow, PointStateRow.point_id == PointRow.id)
        .where(
            _IN_USE,
            PointStateRow.due_on.is_not(None),
            is_one_of(unit, ViewRow.equipment_id, equipment_ids),
        )
        .subquery()
    )
    rows = unit.session.execute(select(ranked.c.equipment_id, ranked.c.due_reason).where(ranked.c.place == 1))
    return dict(rows.all())


def kinds_of_equipment(unit: Unit, equipment_ids: Collection[int]) -> dict[int, frozenset[str]]:
    """By equipment: kinds of its points in use."""
    query = (
        select(ViewRow.equipment_id, PointRow.kind)
        .join(PointRow, PointRow.view_id == ViewRow.id)
        .where(_IN_USE, is_one_of(unit, ViewRow.equipment_id, equipment_ids))
        .distinct()
    )
    found: dict[int, set[str]] = {}
    for equipment_id, kind in unit.session.execute(query):
        found.setdefault(equipment_id, set()).add(kind)
    return {equipment_id: frozenset(kinds) for equipment_id, kinds in found.items()}


def count_points(unit: Unit, round_ids: Iterable[int]) -> dict[int, int]:
    """Points in use of the stops of each round: what a draft would bring."""
    query = (
        select(StopRow.round_id, func.count(PointRow.id))
        .join(ViewRow, ViewRow.equipment_id == StopRow.equipment_id)
        .join(PointRow, PointRow.view_id == ViewRow.id)
        .where(_IN_USE, StopRow.round_id.in_(list(round_ids)))
        .group_by(StopRow.round_id)
    )
    return dict(unit.session.execute(query).all())


def count_rows(unit: Unit, round_ids: Iterable[int]) -> dict[int, tuple[int, int]]:
    """(rows made at issue, rows with a reading or a reason) of each round."""
    has = exists().where(ReadingRow.row_id == RoundPointRow.id)
    answered = case((has, 1), (RoundPointRow.not_read_reason.is_not(None), 1), else_=0)
    query = (
        select(RoundPointRow.round_id, func.count(), func.sum(answered))
        .where(RoundPointRow.round_id.in_(list(round_ids)))
        .group_by(RoundPointRow.round_id)
    )
    return {round_id: (rows, read or 0) for round_id, rows, read in unit.session.execute(query)}


def occupied(
    unit: Unit, equipment_ids: Collection[int], *, first: date, last: date, states: Iterable[str], but: int
) -> dict[int, date]:
    """By equipment: the day of another round in these states that takes it in."""
    query = (
        select(StopRow.equipment_id, func.min(RoundRow.planned_on))
        .join(RoundRow, RoundRow.id == StopRow.round_id)
        .where(
            is_one_of(unit, StopRow.equipment_id, equipment_ids),
            RoundRow.planned_on.between(first, last),
            RoundRow.state.in_(list(states)),
            RoundRow.id != but,
        )
        .group_by(StopRow.equipment_id)
    )
    return dict(unit.session.execute(query).all())


def _facts(row: EquipmentRow, site: SiteRow, area: AreaRow, client: ClientRow) -> EquipmentFacts:
    return EquipmentFacts(
        id=row.id,
        client_id=site.client_id,
        site_id=site.id,
        site_name=site.name,
        time_zone=site.time_zone,
        latitude=site.latitude,
        longitude=site.longitude,
        setup_minutes=site.setup_minutes,
        area_id=area.id,
        area_name=area.name,
        area_order=area.walking_order,
        x_m=area.x_m,
        y_m=area.y_m,
        tag=row.tag,
        name=row.name,
        walking_order=row.walking_order,
        access=Access(row.access),
        minutes=row.minutes,
        load_hours=row.load_hours,
        usual_load_share=row.usual_load_share,
        stand_off=row.stand_off,
        ppe=row.ppe,
        outdoor=row.outdoor,
        criticality=row.criticality,
        rated_current_a=row.rated_current_a,
        settle_minutes=row.settle_minutes,
        contact_name=site.contact_name,
        contact_phone=site.contact_phone,
        safety_text=site.safety_text,
        voltage_class=row.voltage_class,
        phase_names=site.phase_names or client.phase_names,
        retired_at=row.retired_at,
        duty_group=row.duty_group,
        run_on_request=row.run_on_request,
    )
