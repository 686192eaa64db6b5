"""Where points stand: read from point_state in a fixed number of queries, whatever the size of the fleet."""

from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
from sqlalchemy import ColumnElement, Select, and_, case, func, or_, select

from service.domain.findings import LIVE, READ_AGAIN_DAYS
from service.domain.overview import (
    MonthEnd,
    Overdue,
    SiteCount,
    SitePoint,
    SparkVisit,
    Strokes,
    WorstPoint,
)
from service.domain.words import FindingState, Level, PointKind, ReferenceKind, Trend
from service.errors import NotFound
from service.storage.bulk import is_one_of
from service.storage.desk import Sight
from service.storage.set_aside import covered
from service.storage.tables.findings import FindingRow, RepairRow, TellingRow
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import (
    AssessmentRow,
    PointStateRow,
    SiteMonthRow,
    SiteStateRow,
    StandingChangeRow,
)
from service.storage.tables.register import (
    AreaRow,
    EquipmentRow,
    PointRow,
    SeriesCutRow,
    SiteRow,
    ViewRow,
)
from service.storage.unit import Unit

#: A finding in one of these waits for nobody's decision now.
DECIDED = (FindingState.REPAIRED.value, FindingState.SET_ASIDE.value, FindingState.PROVEN.value)
WALK = (
    AreaRow.walking_order,
    AreaRow.id,
    EquipmentRow.walking_order,
    EquipmentRow.id,
    ViewRow.walking_order,
    ViewRow.id,
    PointRow.walking_order,
    PointRow.id,
)


def _in_sight(sight: Sight) -> ColumnElement[bool]:
    return sight.of(PointStateRow.site_id.expression, PointStateRow.point_id.expression)


def _in_use() -> ColumnElement[bool]:
    """Leaves out the few that are retired, by their own index, instead of joining every point."""
    retired = select(PointRow.id).where(PointRow.retired_at.is_not(None))
    return PointStateRow.point_id.not_in(retired)


def site_counts(unit: Unit, sight: Sight) -> tuple[SiteCount, ...]:
    """Every site in sight by name, with its points per level; sites without points included."""
    state = PointStateRow
    query = (
        select(state.site_id, state.level, func.count(), func.max(state.last_read_at))
        .where(_in_use(), _in_sight(sight))
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
        .where(_in_use(), state.last_read_at >= first, _in_sight(sight))
        .group_by(state.site_id)
    )
    return {int(site): int(count) for site, count in unit.session.execute(query)}


def _walked(
    columns: Sequence[Any], site_ids: Collection[int], sight: Sight, unit: Unit
) -> Select[*tuple[Any, ...]]:
    return (
        select(*columns)
        .join(PointRow, PointRow.id == PointStateRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == PointStateRow.equipment_id)
        .join(AreaRow, AreaRow.id == EquipmentRow.area_id)
        .where(
            is_one_of(unit, PointStateRow.site_id, site_ids), PointRow.retired_at.is_(None), _in_sight(sight)
        )
        .order_by(PointStateRow.site_id, *WALK)
    )


def strokes(
    unit: Unit, sight: Sight, *, site_ids: Collection[int], repaired_since: datetime
) -> dict[int, Strokes]:
    """Every point of these sites as a stroke, in walking order."""
    if not site_ids:
        return {}
    state = PointStateRow
    columns = (
        state.site_id,
        state.point_id,
        func.coalesce(state.level, -1),
        state.height_now,
        state.height_year_ago,
        state.trend,
        state.pending,
        EquipmentRow.name,
        PointRow.name,
        AreaRow.name,
    )
    rows = unit.session.execute(_walked(columns, site_ids, sight, unit)).all()
    mended = _cut_points(unit, site_ids, repaired_since)
    by_site: dict[int, list[Sequence[Any]]] = {}
    for row in rows:
        by_site.setdefault(row[0], []).append(row)
    return {site_id: _columns(list(zip(*found, strict=True)), mended) for site_id, found in by_site.items()}


def _columns(columns: Sequence[Sequence[Any]], mended: frozenset[int]) -> Strokes:
    _, point_ids, levels, now, then, trends, pending, equipment, points, areas = columns
    steady = Trend.STEADY.value
    return Strokes(
        point_ids=np.array(point_ids, dtype=np.int64),
        levels=np.array(levels, dtype=np.int64),
        now=np.array(now, dtype=np.float64),
        then=np.array(then, dtype=np.float64),
        steady=np.array([trend == steady for trend in trends], dtype=np.bool_),
        repaired=np.array([point in mended for point in point_ids], dtype=np.bool_),
        pending=np.array(pending, dtype=np.bool_),
        names=tuple(f"{kit}, {point}" for kit, point in zip(equipment, points, strict=True)),
        areas=tuple(areas),
    )


def _cut_points(unit: Unit, site_ids: Collection[int], since: datetime) -> frozenset[int]:
    query = (
        select(SeriesCutRow.point_id)
        .join(PointRow, PointRow.id == SeriesCutRow.point_id)
        .where(SeriesCutRow.at >= since, SeriesCutRow.reason.in_(("repaired", "replaced")))
        .where(is_one_of(unit, PointRow.site_id, site_ids))
    )
    return frozenset(unit.session.scalars(query))


def worst_points(unit: Unit, sight: Sight, *, limit: int, today: date) -> tuple[WorstPoint, ...]:
    """Points that wait for a decision: gravest first, then nearest to their Act-now line.

    One that was set aside waits for none until its review, unless it has become graver since.
    """
    state = PointStateRow
    rise = func.coalesce(state.common_k, state.value_k)
    nearness = case((state.act_line_k > 0, func.coalesce(rise, 0) / state.act_line_k), else_=0)
    undecided = or_(FindingRow.id.is_(None), FindingRow.state.not_in(DECIDED))
    order = (state.level.desc(), nearness.desc(), state.since, state.point_id)
    # which ones first, then all that is told of them: hundreds of whole rows need not be sorted
    first = (
        select(state.point_id)
        .outerjoin(FindingRow, FindingRow.id == state.finding_id)
        .where(
            state.level >= 1,
            _in_use(),
            undecided,
            or_(
                FindingRow.id.is_not(None),
                ~covered(state.point_id.expression, today=today),
            ),
            _in_sight(sight),
        )
        .order_by(*order)
        .limit(limit)
        .subquery()
    )
    query = (
        select(state, SiteRow.name, EquipmentRow, ViewRow.name, PointRow.name, FindingRow, PersonRow.name)
        .join(PointRow, PointRow.id == state.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == state.equipment_id)
        .join(SiteRow, SiteRow.id == state.site_id)
        .outerjoin(FindingRow, FindingRow.id == state.finding_id)
        .outerjoin(PersonRow, PersonRow.id == FindingRow.owner_id)
        .where(state.point_id.in_(select(first.c.point_id)))
        .order_by(*order)
    )
    return tuple(_worst(record) for record in unit.session.execute(query))


def _worst(record: Sequence[Any]) -> WorstPoint:
    state, site, equipment, view, point, finding, owner = record
    return WorstPoint(
        point_id=state.point_id,
        site=site,
        equipment=equipment.name,
        view=view,
        point=point,
        level=Level(state.level),
        at_least=state.at_least,
        value_k=state.value_k if state.common_k is None else state.common_k,
        line_k=state.act_line_k,
        reference=None if state.reference is None else ReferenceKind(state.reference),
        sentence=state.last_sentence,
        consequence=(finding.consequence if finding else "") or equipment.consequence,
        finding_id=None if finding is None else finding.id,
        finding_state=None if finding is None else FindingState(finding.state),
        owner=owner or "",
        due_on=None if finding is None else finding.due_on,
        planned_for=None if finding is None else finding.planned_for,
        work_order="" if finding is None else finding.work_order,
    )


def last_tellings(unit: Unit, finding_ids: Collection[int]) -> dict[int, tuple[str, datetime]]:
    """By finding who was told last, and when."""
    query = (
        select(TellingRow.finding_id, TellingRow.told_whom, TellingRow.told_at)
        .where(is_one_of(unit, TellingRow.finding_id, finding_ids))
        .order_by(TellingRow.told_at, TellingRow.id)
    )
    return {finding: (whom, at) for finding, whom, at in unit.session.execute(query)}


def spark_visits(
    unit: Unit, point_ids: Collection[int], *, since: datetime
) -> dict[int, tuple[SparkVisit, ...]]:
    """The last visits of a few points over their present reference, at common load where there is such a value."""
    row = AssessmentRow
    rise = func.coalesce(row.common_k, row.value_k)
    query = (
        select(row.point_id, row.taken_at, rise, row.episode)
        .join(PointStateRow, PointStateRow.point_id == row.point_id)
        .where(
            is_one_of(unit, row.point_id, point_ids),
            row.reference == PointStateRow.reference,
            row.taken_at >= since,
            row.current,
            row.counts_level,
            rise.is_not(None),
        )
        .order_by(row.point_id, row.taken_at)
    )
    found: dict[int, list[SparkVisit]] = {}
    for point_id, taken_at, value, episode in unit.session.execute(query):
        found.setdefault(point_id, []).append(SparkVisit(taken_at, value, episode))
    return {point_id: tuple(visits) for point_id, visits in found.items()}


def overdue_findings(unit: Unit, sight: Sight, *, now: datetime, limit: int) -> tuple[Overdue, ...]:
    """Findings past their day, and repairs not read again within their days; longest waiting first."""
    mended = (
        select(func.max(RepairRow.repaired_at))
        .where(RepairRow.finding_id == FindingRow.id, RepairRow.attempt == FindingRow.attempt)
        .correlate(FindingRow)
        .scalar_subquery()
    )
    late = and_(FindingRow.state != FindingState.REPAIRED.value, FindingRow.due_on < now.date())
    unproven = and_(
        FindingRow.state == FindingState.REPAIRED.value, mended < now - timedelta(days=READ_AGAIN_DAYS)
    )
    query = (
        select(FindingRow, SiteRow.name, PersonRow.name, mended)
        .join(SiteRow, SiteRow.id == FindingRow.site_id)
        .outerjoin(PersonRow, PersonRow.id == FindingRow.owner_id)
        .where(
            FindingRow.state.in_([state.value for state in LIVE]),
            or_(late, unproven),
            sight.of(FindingRow.site_id.expression, FindingRow.point_id.expression),
        )
        .order_by(func.coalesce(FindingRow.due_on, FindingRow.planned_for), FindingRow.id)
        .limit(limit)
    )
    return tuple(
        Overdue(
            finding_id=row.id,
            title=row.title,
            site=site,
            state=FindingState(row.state),
            owner=owner or "",
            due_on=row.due_on,
            repaired_at=mended_at if row.state == FindingState.REPAIRED.value else None,
        )
        for row, site, owner, mended_at in unit.session.execute(query)
    )


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


def site_points(unit: Unit, sight: Sight, site_id: int) -> Iterable[SitePoint]:
    """Every point of a site in walking order, as a row."""
    state = PointStateRow
    columns = (
        state.point_id,
        PointRow.tag,
        EquipmentRow.name,
        PointRow.name,
        AreaRow.name,
        state.level,
        state.at_least,
        func.coalesce(state.common_k, state.value_k),
        state.trend,
        state.pending,
        state.last_read_at,
    )
    for row in unit.session.execute(_walked(columns, [site_id], sight, unit)):
        point_id, tag, equipment, point, area, level, at_least, value, trend, pending, last = row
        yield SitePoint(
            point_id=point_id,
            tag=tag,
            name=f"{equipment}, {point}",
            area=area,
            level=None if level is None else Level(level),
            at_least=at_least,
            value_k=value,
            trend=trend,
            pending=pending,
            last_read_at=last,
        )
