"""Standings through time: what moved, what repairs came to, month-ends, an earlier day."""

from datetime import date, datetime

from sqlalchemy import and_, func, or_, select

from service.domain.overview import (
    MonthEnd,
)
from service.domain.words import FindingState, PointKind
from service.storage.desk import Sight
from service.storage.tables.findings import FindingRow, RepairRow
from service.storage.tables.readings import (
    SiteMonthRow,
    StandingChangeRow,
)
from service.storage.tables.register import (
    PointRow,
    SiteRow,
)
from service.storage.unit import Unit


def standing_moves(
    unit: Unit, sight: Sight, *, after: date, until: date
) -> list[tuple[int, PointKind, int | None, int | None]]:
    """Points whose standing changed in a span of days: id, kind, level before and level after."""
    row = StandingChangeRow
    query = (
        select(row.point_id, PointRow.kind, row.was, row.level)
        .join(PointRow, PointRow.id == row.point_id)
        .where(row.on > after, row.on <= until, PointRow.retired_at.is_(None))
        .where(sight.of(row.site_id.expression, row.point_id.expression))
        .order_by(row.point_id, row.on, row.id)
    )
    first: dict[int, int | None] = {}
    last: dict[int, tuple[str, int | None]] = {}
    for point_id, kind, was, level in unit.session.execute(query):
        first.setdefault(point_id, was)
        last[point_id] = (kind, level)
    return [(point, PointKind(kind), first[point], level) for point, (kind, level) in last.items()]


def repair_outcomes(
    unit: Unit, sight: Sight, *, since: datetime
) -> list[tuple[int | None, str, str | None, datetime | None]]:
    """Repairs since an instant and those still waiting: point, site, outcome, when it was read again."""
    query = (
        select(FindingRow.point_id, SiteRow.name, RepairRow.outcome, RepairRow.outcome_at)
        .join(FindingRow, FindingRow.id == RepairRow.finding_id)
        .join(SiteRow, SiteRow.id == FindingRow.site_id)
        .where(
            or_(
                RepairRow.outcome_at >= since,
                and_(RepairRow.outcome.is_(None), FindingRow.state == FindingState.REPAIRED.value),
            ),
            sight.of(FindingRow.site_id.expression, FindingRow.point_id.expression),
        )
        .order_by(RepairRow.id)
    )
    return [(point, site, outcome, at) for point, site, outcome, at in unit.session.execute(query)]


def month_ends(unit: Unit, sight: Sight, *, first: str, last: str) -> tuple[MonthEnd, ...]:
    """Standings of all sites in sight at each month's end, oldest first."""
    row = SiteMonthRow
    sums = [func.sum(getattr(row, f"level_{level}")) for level in range(5)]
    query = (
        select(row.month, *sums, func.sum(row.no_verdict))
        .where(row.month >= first, row.month <= last, sight.of(row.site_id.expression))
        .group_by(row.month)
        .order_by(row.month)
    )
    return tuple(
        MonthEnd(month, (int(n0), int(n1), int(n2), int(n3), int(n4)), int(none))
        for month, n0, n1, n2, n3, n4, none in unit.session.execute(query)
    )


def standings_at(unit: Unit, sight: Sight, on: date) -> dict[int, tuple[int | None, float | None]]:
    """By point its level and its height at the end of a day; points never read before are absent."""
    row = StandingChangeRow
    latest = (
        select(row.point_id, func.max(row.on).label("day"))
        .where(row.on <= on, sight.of(row.site_id.expression, row.point_id.expression))
        .group_by(row.point_id)
        .subquery()
    )
    query = (
        select(row.point_id, row.level, row.height)
        .join(latest, and_(latest.c.point_id == row.point_id, latest.c.day == row.on))
        .order_by(row.point_id, row.id)
    )
    return {point_id: (level, height) for point_id, level, height in unit.session.execute(query)}
