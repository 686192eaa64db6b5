"""How much is due at each site, counted by the database: one row a site, however large the fleet."""

from collections.abc import Collection
from datetime import date, timedelta
from typing import Any

from sqlalchemy import Select, case, func, select

from service.domain.stop_facts import DueTotal
from service.domain.words import RoundState
from service.storage.bulk import is_one_of
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundRow, StopRow
from service.storage.unit import Unit

#: states in which equipment counts as taken by a round to come
TAKEN = (RoundState.DRAFT, RoundState.ISSUED)
#: from how far back to how far ahead a round counts as one to come
BACK, AHEAD = timedelta(days=31), timedelta(days=366)


def due_totals(unit: Unit, site_ids: Collection[int], *, until: date, today: date) -> tuple[DueTotal, ...]:
    """What is due at these sites by a day, the site with most of it first; sites with nothing due left out.

    Parameters
    ----------
    until : date
        The last day that counts.
    today : date
        From here is told which rounds are still to come.
    """
    due = _by_equipment(until).subquery()
    points = func.sum(due.c.points)
    on_a_round = case((due.c.equipment_id.in_(_to_come(today)), due.c.points), else_=0)
    query = (
        select(
            SiteRow.id,
            SiteRow.client_id,
            SiteRow.name,
            points,
            func.sum(on_a_round),
            func.count(),
            func.sum(EquipmentRow.minutes),
        )
        .select_from(due)
        .join(EquipmentRow, EquipmentRow.id == due.c.equipment_id)
        .join(SiteRow, SiteRow.id == EquipmentRow.site_id)
        .where(EquipmentRow.retired_at.is_(None), is_one_of(unit, SiteRow.id, site_ids))
        .group_by(SiteRow.id, SiteRow.client_id, SiteRow.name)
        .order_by(points.desc(), SiteRow.name, SiteRow.id)
    )
    return tuple(DueTotal(*map(_plain, row)) for row in unit.session.execute(query))


def _by_equipment(until: date) -> Select[*tuple[Any, ...]]:
    """Points due of each equipment, without the few that are retired themselves or with their view.

    In the order of an index; those few are looked up once, from the views that are retired.
    """
    state = PointStateRow
    retired = select(PointRow.id).where(PointRow.retired_at.is_not(None))
    views = select(ViewRow.id).where(ViewRow.retired_at.is_not(None))
    with_view = select(PointRow.id).where(PointRow.view_id.in_(views))
    return (
        select(state.equipment_id, func.count().label("points"))
        .where(state.due_on <= until, state.point_id.not_in(retired), state.point_id.not_in(with_view))
        .group_by(state.equipment_id)
    )


def _to_come(today: date) -> Select[int]:
    return (
        select(StopRow.equipment_id)
        .join(RoundRow, RoundRow.id == StopRow.round_id)
        .where(
            RoundRow.planned_on.between(today - BACK, today + AHEAD),
            RoundRow.state.in_([state.value for state in TAKEN]),
        )
    )


def _plain(value: Any) -> Any:
    """PostgreSQL tells a sum of counts as a decimal."""
    return value if isinstance(value, str) else int(value)
