"""How many points of a site stood at each level at a month's end, rolled up."""

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import and_, case, func, select

from service.storage.bulk import is_one_of, upsert_rows
from service.storage.point_state import count_points
from service.storage.tables.readings import AssessmentRow, PointStateRow, SiteMonthRow, StandingChangeRow
from service.storage.tables.register import PointRow
from service.storage.unit import Unit

#: How far back a late upload still mends the months before.
MOST_MONTHS = 24
_NAMES = (
    "site_id",
    "month",
    "level_0",
    "level_1",
    "level_2",
    "level_3",
    "level_4",
    "no_verdict",
    "points_read",
)


def roll_up(unit: Unit, site_ids: Iterable[int], *, since: date, now: datetime) -> None:
    """Write the standings of this month and of every month since a day.

    The running month is counted from the states; the months before from the changes of
    standing, as they were at their end.
    """
    sites = sorted(set(site_ids))
    this_month = now.astimezone(UTC).date().replace(day=1)
    totals = count_points(unit, sites)
    rows = _running_month(unit, sites, this_month, totals=totals)
    for first in _months(since, this_month):
        rows += _past_month(unit, sites, first, totals=totals)
    upsert_rows(unit, SiteMonthRow, _NAMES, rows=rows, key=_NAMES[:2], change=_NAMES[2:])


def _months(since: date, before: date) -> list[date]:
    months = []
    month = since.replace(day=1)
    while month < before:
        months.append(month)
        month = _next(month)
    return months[-MOST_MONTHS:]


def _next(month: date) -> date:
    return date(month.year + month.month // 12, month.month % 12 + 1, 1)


def _running_month(
    unit: Unit, sites: Sequence[int], first: date, *, totals: dict[int, int]
) -> list[Sequence[Any]]:
    begin = datetime(first.year, first.month, 1, tzinfo=UTC)
    read = func.sum(case((PointStateRow.last_read_at >= begin, 1), else_=0))
    query = (
        select(PointStateRow.site_id, PointStateRow.level, func.count(), read)
        .join(PointRow, PointRow.id == PointStateRow.point_id)
        .where(is_one_of(unit, PointStateRow.site_id, sites), PointRow.retired_at.is_(None))
        .group_by(PointStateRow.site_id, PointStateRow.level)
    )
    counts: dict[int, dict[int | None, int]] = {site: {} for site in sites}
    points_read = dict.fromkeys(sites, 0)
    for site, level, count, seen in unit.session.execute(query):
        counts[site][level] = count
        points_read[site] += seen
    return [
        _row(site, first, counts[site], total=totals.get(site, 0), read=points_read[site]) for site in sites
    ]


def _past_month(
    unit: Unit, sites: Sequence[int], first: date, *, totals: dict[int, int]
) -> list[Sequence[Any]]:
    end = _next(first)
    place = (
        func.row_number()
        .over(
            partition_by=StandingChangeRow.point_id,
            order_by=(StandingChangeRow.on.desc(), StandingChangeRow.id.desc()),
        )
        .label("place")
    )
    last = (
        select(StandingChangeRow.site_id, StandingChangeRow.level, place)
        .where(is_one_of(unit, StandingChangeRow.site_id, sites), StandingChangeRow.on < end)
        .subquery()
    )
    standing = (
        select(last.c.site_id, last.c.level, func.count())
        .where(last.c.place == 1)
        .group_by(last.c.site_id, last.c.level)
    )
    counts: dict[int, dict[int | None, int]] = {site: {} for site in sites}
    for site, level, count in unit.session.execute(standing):
        counts[site][level] = count
    span = (
        datetime(first.year, first.month, 1, tzinfo=UTC),
        datetime(end.year, end.month, 1, tzinfo=UTC),
    )
    seen = (
        select(PointStateRow.site_id, func.count(AssessmentRow.point_id.distinct()))
        .join(AssessmentRow, AssessmentRow.point_id == PointStateRow.point_id)
        .where(
            and_(
                is_one_of(unit, PointStateRow.site_id, sites),
                AssessmentRow.current,
                AssessmentRow.rule != "not assessable",
                AssessmentRow.taken_at >= span[0],
                AssessmentRow.taken_at < span[1],
            )
        )
        .group_by(PointStateRow.site_id)
    )
    read = dict(unit.session.execute(seen).all())
    return [
        _row(site, first, counts[site], total=totals.get(site, 0), read=read.get(site, 0)) for site in sites
    ]


def _row(site: int, first: date, counts: dict[int | None, int], *, total: int, read: int) -> Sequence[Any]:
    levels = [counts.get(level, 0) for level in range(5)]
    return (site, f"{first:%Y-%m}", *levels, max(0, total - sum(levels)), read)
