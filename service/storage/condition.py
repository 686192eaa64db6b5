"""How many points stand at each level, site by site: read from point_state in a fixed number of queries."""

from datetime import datetime

from sqlalchemy import ColumnElement, func, select

from service.domain.overview import (
    SiteCount,
)
from service.errors import NotFound
from service.storage.desk import Sight
from service.storage.tables.readings import (
    PointStateRow,
    SiteStateRow,
)
from service.storage.tables.register import (
    PointRow,
    SiteRow,
)
from service.storage.unit import Unit


def in_sight(sight: Sight) -> ColumnElement[bool]:
    return sight.of(PointStateRow.site_id.expression, PointStateRow.point_id.expression)


def in_use() -> ColumnElement[bool]:
    """Leaves out the few that are retired, by their own index, instead of joining every point."""
    retired = select(PointRow.id).where(PointRow.retired_at.is_not(None))
    return PointStateRow.point_id.not_in(retired)


def site_counts(unit: Unit, sight: Sight) -> tuple[SiteCount, ...]:
    """Every site in sight by name, with its points per level; sites without points included."""
    state = PointStateRow
    query = (
        select(state.site_id, state.level, func.count(), func.max(state.last_read_at))
        .where(in_use(), in_sight(sight))
        .group_by(state.site_id, state.level)
    )
    levels: dict[int, list[int]] = {}
    latest: dict[int, datetime] = {}
    for site_id, level, count, last in unit.session.execute(query):
        # the sixth place holds No verdict
        levels.setdefault(site_id, [0] * 6)[5 if level is None else level] = count
        if last is not None:
            latest[site_id] = max(last, latest.get(site_id, last))
    sites = (
        select(SiteRow.id, SiteRow.name, SiteRow.time_zone, func.coalesce(SiteStateRow.data_version, 0))
        .outerjoin(SiteStateRow, SiteStateRow.site_id == SiteRow.id)
        .where(SiteRow.retired_at.is_(None), sight.of(SiteRow.id.expression))
        .order_by(SiteRow.name, SiteRow.id)
    )
    found = []
    for site_id, name, zone, version in unit.session.execute(sites):
        if sight.person_id is not None and site_id not in levels:
            continue
        n0, n1, n2, n3, n4, none = levels.get(site_id, [0] * 6)
        found.append(
            SiteCount(
                site_id, name, zone, version, (n0, n1, n2, n3, n4), none, last_read_at=latest.get(site_id)
            )
        )
    return tuple(found)


def read_since(unit: Unit, sight: Sight, first: datetime) -> dict[int, int]:
    """By site how many of its points were read at or after an instant."""
    state = PointStateRow
    query = (
        select(state.site_id, func.count())
        .where(in_use(), state.last_read_at >= first, in_sight(sight))
        .group_by(state.site_id)
    )
    return {int(site): int(count) for site, count in unit.session.execute(query)}


def site_count(unit: Unit, sight: Sight, site_id: int) -> SiteCount:
    """One site in sight.

    Raises
    ------
    NotFound
        No such site, or out of sight.
    """
    for site in site_counts(unit, sight):
        if site.site_id == site_id:
            return site
    raise NotFound()
