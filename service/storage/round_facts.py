"""Queries that join a round with the register and with what its points stand at."""

from collections.abc import Collection, Iterable
from datetime import date
from typing import Any

from sqlalchemy import Select, and_, case, exists, func, select
from sqlalchemy.orm import aliased

from service.domain.stop_facts import EquipmentFacts, PointTally, SheetPoint
from service.domain.words import WORSENING, Access, FindingState, VisitKind
from service.storage.tables.findings import FindingRow
from service.storage.tables.readings import PointStateRow, ReadingRow
from service.storage.tables.register import AreaRow, EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit

_REPAIRED = exists().where(
    FindingRow.point_id == PointRow.id, FindingRow.state == FindingState.REPAIRED.value
)
_IN_USE = and_(PointRow.retired_at.is_(None), ViewRow.retired_at.is_(None))


def _facts_query() -> Select[EquipmentRow, SiteRow, AreaRow]:
    return (
        select(EquipmentRow, SiteRow, AreaRow)
        .join(SiteRow, SiteRow.id == EquipmentRow.site_id)
        .join(AreaRow, AreaRow.id == EquipmentRow.area_id)
    )


def equipment_facts(unit: Unit, equipment_ids: Collection[int]) -> dict[int, EquipmentFacts]:
    """Facts by equipment id, retired ones included; ids that are not there are left out."""
    query = _facts_query().where(EquipmentRow.id.in_(equipment_ids))
    return {row.id: _facts(row, site, area) for row, site, area in unit.session.execute(query)}


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
    return tuple(_facts(row, site, area) for row, site, area in unit.session.execute(query))


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


def tallies(
    unit: Unit,
    *,
    today: date,
    equipment_ids: Collection[int] | None = None,
    site_ids: Collection[int] | None = None,
    due_only: bool = False,
    limit: int = 2000,
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
        query = query.where(ViewRow.equipment_id.in_(equipment_ids))
    if site_ids is not None:
        query = query.where(PointRow.site_id.in_(site_ids))
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
            **worst.get(equipment, {}),
        )
        for equipment, points, due, due_on, rising, above, again in counted
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
        .where(_IN_USE, ViewRow.equipment_id.in_(equipment_ids))
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
        .where(_IN_USE, PointStateRow.due_on.is_not(None), ViewRow.equipment_id.in_(equipment_ids))
        .subquery()
    )
    rows = unit.session.execute(select(ranked.c.equipment_id, ranked.c.due_reason).where(ranked.c.place == 1))
    return dict(rows.all())


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


def draft_points(unit: Unit, equipment_ids: Collection[int]) -> tuple[tuple[int, int, int, str], ...]:
    """(equipment, view, point, visit kind) in walking order inside each equipment."""
    kind = case((_REPAIRED, VisitKind.READ_AGAIN.value), else_=VisitKind.ROUTINE.value)
    query = (
        select(ViewRow.equipment_id, ViewRow.id, PointRow.id, kind)
        .join(PointRow, PointRow.view_id == ViewRow.id)
        .where(_IN_USE, ViewRow.equipment_id.in_(equipment_ids))
        .order_by(
            ViewRow.equipment_id, ViewRow.walking_order, ViewRow.id, PointRow.walking_order, PointRow.id
        )
    )
    return tuple(
        (equipment, view, point, word) for equipment, view, point, word in unit.session.execute(query)
    )


def answers_by_row(unit: Unit, round_id: int) -> dict[int, dict[str, str]]:
    """By row id: whose readings it has as they stand after corrections, source → reason letter or ""."""
    later = aliased(ReadingRow)
    query = (
        select(ReadingRow.row_id, ReadingRow.source, ReadingRow.not_assessable)
        .join(RoundPointRow, RoundPointRow.id == ReadingRow.row_id)
        .outerjoin(later, later.supersedes_id == ReadingRow.id)
        .where(RoundPointRow.round_id == round_id, later.id.is_(None))
    )
    found: dict[int, dict[str, str]] = {}
    for row_id, source, reason in unit.session.execute(query):
        if row_id is not None:
            found.setdefault(row_id, {})[source] = reason or ""
    return found


def sheet_points(unit: Unit, round_id: int) -> tuple[SheetPoint, ...]:
    """Rows of the round in walking order with what each point said last; a draft shows its present points."""
    reading = _last_reason(unit, round_id)
    kind = case((_REPAIRED, VisitKind.READ_AGAIN.value), else_=VisitKind.ROUTINE.value)
    issued = exists().where(RoundPointRow.round_id == round_id)
    is_issued = unit.session.scalar(select(issued))
    query = (
        select(StopRow, ViewRow, PointRow, PointStateRow, RoundPointRow, SiteRow.criteria_id, kind)
        .join(ViewRow, ViewRow.equipment_id == StopRow.equipment_id)
        .join(PointRow, PointRow.view_id == ViewRow.id)
        .join(SiteRow, SiteRow.id == StopRow.site_id)
        .outerjoin(PointStateRow, PointStateRow.point_id == PointRow.id)
        .join(
            RoundPointRow,
            and_(RoundPointRow.point_id == PointRow.id, RoundPointRow.round_id == round_id),
            isouter=not is_issued,
        )
        .where(StopRow.round_id == round_id)
        .order_by(StopRow.position, ViewRow.walking_order, ViewRow.id, PointRow.walking_order, PointRow.id)
    )
    if not is_issued:
        query = query.where(_IN_USE)
    return tuple(
        _sheet_point(stop, view, point, state, row, criteria_id, word, reading.get(point.id, ""))
        for stop, view, point, state, row, criteria_id, word in unit.session.execute(query)
    )


def _last_reason(unit: Unit, round_id: int) -> dict[int, str]:
    """By point: the reason of its last visit before this round, where that visit gave no reading."""
    latest = (
        select(ReadingRow.point_id, func.max(ReadingRow.taken_at).label("taken_at"))
        .join(PointRow, PointRow.id == ReadingRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(StopRow, and_(StopRow.equipment_id == ViewRow.equipment_id, StopRow.round_id == round_id))
        .where((ReadingRow.round_id != round_id) | ReadingRow.round_id.is_(None))
        .group_by(ReadingRow.point_id)
        .subquery()
    )
    query = (
        select(ReadingRow.point_id, ReadingRow.not_assessable)
        .join(
            latest,
            and_(latest.c.point_id == ReadingRow.point_id, latest.c.taken_at == ReadingRow.taken_at),
        )
        .where(ReadingRow.not_assessable.is_not(None))
    )
    return {point_id: reason or "" for point_id, reason in unit.session.execute(query)}


def occupied(
    unit: Unit, equipment_ids: Collection[int], *, first: date, last: date, states: Iterable[str], but: int
) -> dict[int, date]:
    """By equipment: the day of another round in these states that takes it in."""
    query = (
        select(StopRow.equipment_id, func.min(RoundRow.planned_on))
        .join(RoundRow, RoundRow.id == StopRow.round_id)
        .where(
            StopRow.equipment_id.in_(equipment_ids),
            RoundRow.planned_on.between(first, last),
            RoundRow.state.in_(list(states)),
            RoundRow.id != but,
        )
        .group_by(StopRow.equipment_id)
    )
    return dict(unit.session.execute(query).all())


def _facts(row: EquipmentRow, site: SiteRow, area: AreaRow) -> EquipmentFacts:
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
        retired_at=row.retired_at,
    )


def _sheet_point(
    stop: StopRow,
    view: ViewRow,
    point: PointRow,
    state: PointStateRow | None,
    row: RoundPointRow | None,
    criteria_id: int | None,
    visit_kind: str,
    not_assessable: str,
) -> SheetPoint:
    return SheetPoint(
        row_uid=row.uid if row else "",
        stop_id=stop.id,
        view_id=view.id,
        view_tag=view.tag,
        view_name=view.name,
        view_order=view.walking_order,
        phase_names=view.phase_names,
        asks_amps=view.asks_amps,
        asks_neutral=view.asks_neutral,
        point_id=point.id,
        tag=point.tag,
        name=point.name,
        phase=point.phase,
        kind=point.kind,
        order=point.walking_order,
        visit_kind=row.visit_kind if row else visit_kind,
        reference_kind=point.reference_kind,
        common_load_a=point.common_load_a,
        rated_rise_k=point.rated_rise_k,
        emissivity=point.emissivity,
        reflected_habit=point.reflected_habit,
        distance_m=point.distance_m,
        last_read_at=state.last_read_at if state else None,
        last_c=state.last_temperature_c if state else None,
        last_a=state.last_current_a if state else None,
        level=state.level if state else None,
        at_least=bool(state and state.at_least),
        value_k=state.value_k if state else None,
        not_assessable=not_assessable,
        not_read_reason=(row.not_read_reason or "") if row else "",
        criteria_id=criteria_id,
    )
