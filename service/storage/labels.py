"""Codes on the labels of equipment: who has which, and what stands where labels are asked for."""

from collections.abc import Collection, Iterable
from datetime import date

from sqlalchemy import Select, and_, case, or_, select, update

from service.domain.labels import Labelled
from service.domain.words import RoundState
from service.storage.bulk import is_one_of
from service.storage.register import Sight
from service.storage.register_rows import on_rounds_of
from service.storage.tables.register import AreaRow, EquipmentRow, SiteRow
from service.storage.tables.rounds import RoundRow, RouteStopRow, StopRow
from service.storage.unit import Unit


def labelled(
    unit: Unit,
    sight: Sight,
    *,
    site_id: int | None = None,
    area_id: int | None = None,
    route_id: int | None = None,
    equipment_ids: Collection[int] = (),
    limit: int,
) -> tuple[Labelled, ...]:
    """Equipment in use and in sight: of a site, an area, a route (in its order), or those named."""
    query = _query(sight).where(EquipmentRow.retired_at.is_(None)).limit(limit)
    order = (SiteRow.name, AreaRow.walking_order, AreaRow.id, EquipmentRow.walking_order, EquipmentRow.id)
    if route_id is not None:
        query = query.join(RouteStopRow, RouteStopRow.equipment_id == EquipmentRow.id)
        query = query.where(RouteStopRow.route_id == route_id).order_by(RouteStopRow.position)
    if area_id is not None:
        query = query.where(EquipmentRow.area_id == area_id)
    if site_id is not None:
        query = query.where(EquipmentRow.site_id == site_id)
    if equipment_ids:
        query = query.where(is_one_of(unit, EquipmentRow.id, equipment_ids))
    return tuple(_labelled(*row) for row in unit.session.execute(query.order_by(*order)))


def labelled_by_code(unit: Unit, code: str, sight: Sight) -> Labelled | None:
    row = unit.session.execute(_query(sight).where(EquipmentRow.label_code == code)).one_or_none()
    return None if row is None else _labelled(*row)


def _query(sight: Sight) -> Select[EquipmentRow, SiteRow, AreaRow]:
    query = (
        select(EquipmentRow, SiteRow, AreaRow)
        .join(SiteRow, SiteRow.id == EquipmentRow.site_id)
        .join(AreaRow, AreaRow.id == EquipmentRow.area_id)
    )
    if sight.site_ids is not None:
        query = query.where(EquipmentRow.site_id.in_(sight.site_ids))
    if sight.person_id is not None:
        query = query.where(on_rounds_of(EquipmentRow.id, sight.person_id))
    return query


def codes_taken(unit: Unit, codes: Iterable[str]) -> frozenset[str]:
    query = select(EquipmentRow.label_code).where(EquipmentRow.label_code.in_(list(codes)))
    return frozenset(code for code in unit.session.scalars(query) if code is not None)


def set_codes(unit: Unit, codes: dict[int, str]) -> None:
    """Give equipment its code, once: one that has another meanwhile keeps that."""
    for equipment_id, code in codes.items():
        change = update(EquipmentRow).where(
            EquipmentRow.id == equipment_id, EquipmentRow.label_code.is_(None)
        )
        unit.session.execute(change.values(label_code=code))


def stop_under_way(
    unit: Unit, equipment_id: int, person_id: int, *, first: date, last: date, today: date
) -> tuple[int, int] | None:
    """(round, stop) of this person's round under way with that equipment, the one nearest today."""
    query = (
        select(RoundRow.id, StopRow.id, RoundRow.planned_on)
        .join(StopRow, StopRow.round_id == RoundRow.id)
        .where(
            and_(
                StopRow.equipment_id == equipment_id,
                RoundRow.state.in_((RoundState.ISSUED.value, RoundState.RETURNED.value)),
                RoundRow.planned_on >= first,
                RoundRow.planned_on <= last,
                or_(RoundRow.person_id == person_id, RoundRow.second_person_id == person_id),
            )
        )
        .order_by(case((RoundRow.state == RoundState.ISSUED.value, 0), else_=1), RoundRow.id)
    )
    rows = unit.session.execute(query).all()
    nearest = min(rows, key=lambda row: abs((row[2] - today).days), default=None)
    return None if nearest is None else (nearest[0], nearest[1])


def _labelled(row: EquipmentRow, site: SiteRow, area: AreaRow) -> Labelled:
    return Labelled(
        equipment_id=row.id,
        site_id=site.id,
        site=site.name,
        area_id=area.id,
        area=area.name,
        tag=row.tag,
        name=row.name,
        code=row.label_code or "",
    )
