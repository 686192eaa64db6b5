"""Routes and their stops."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from sqlalchemy import delete, select

from service.domain.rounds import Route
from service.storage.tables.rounds import RouteRow, RouteStopRow
from service.storage.unit import Unit
from service.storage.versions import row_to_edit


def route_by_id(unit: Unit, route_id: int) -> Route | None:
    row = unit.session.get(RouteRow, route_id)
    return None if row is None else _routes(unit, [row])[0]


def routes_of(
    unit: Unit, client_ids: frozenset[int] | None, *, after: int = 0, limit: int = 500
) -> tuple[Route, ...]:
    """Routes still in use, in the order of their ids; None means of every client."""
    query = select(RouteRow).where(RouteRow.id > after, RouteRow.retired_at.is_(None))
    if client_ids is not None:
        query = query.where(RouteRow.client_id.in_(client_ids))
    return _routes(unit, unit.session.scalars(query.order_by(RouteRow.id).limit(limit)).all())


def name_taken(unit: Unit, client_id: int, name: str, *, but: int | None = None) -> bool:
    query = select(RouteRow.id).where(RouteRow.client_id == client_id, RouteRow.name == name)
    if but is not None:
        query = query.where(RouteRow.id != but)
    return unit.session.scalar(query) is not None


def add_route(unit: Unit, *, client_id: int, name: str, equipment_ids: Sequence[int], now: datetime) -> Route:
    row = RouteRow(client_id=client_id, name=name, created_at=now, changed_at=now)
    unit.session.add(row)
    unit.session.flush()
    _write_stops(unit, row.id, equipment_ids)
    return _routes(unit, [row])[0]


def edit_route(
    unit: Unit, route_id: int, *, version: int, name: str, equipment_ids: Sequence[int], now: datetime
) -> Route:
    row = row_to_edit(unit, RouteRow, route_id, version=version, now=now)
    row.name = name
    unit.session.flush()
    _write_stops(unit, route_id, equipment_ids)
    return _routes(unit, [row])[0]


def retire_route(unit: Unit, route_id: int, *, version: int, now: datetime) -> Route:
    row = row_to_edit(unit, RouteRow, route_id, version=version, now=now)
    row.retired_at = now
    unit.session.flush()
    return _routes(unit, [row])[0]


def _write_stops(unit: Unit, route_id: int, equipment_ids: Sequence[int]) -> None:
    unit.session.execute(delete(RouteStopRow).where(RouteStopRow.route_id == route_id))
    unit.session.add_all(
        RouteStopRow(route_id=route_id, equipment_id=equipment_id, position=place)
        for place, equipment_id in enumerate(equipment_ids, start=1)
    )
    unit.session.flush()


def _routes(unit: Unit, rows: Iterable[RouteRow]) -> tuple[Route, ...]:
    kept = list(rows)
    query = (
        select(RouteStopRow.route_id, RouteStopRow.equipment_id)
        .where(RouteStopRow.route_id.in_([row.id for row in kept]))
        .order_by(RouteStopRow.route_id, RouteStopRow.position)
    )
    stops: dict[int, list[int]] = {row.id: [] for row in kept}
    for route_id, equipment_id in unit.session.execute(query):
        stops[route_id].append(equipment_id)
    return tuple(
        Route(
            id=row.id,
            client_id=row.client_id,
            name=row.name,
            equipment_ids=tuple(stops[row.id]),
            version=row.version,
            retired_at=row.retired_at,
        )
        for row in kept
    )
