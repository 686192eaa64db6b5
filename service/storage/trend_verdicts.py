"""What was said of trends, one row a change: appended by the trend's job, read on a point's page."""

from collections.abc import Iterable, Sequence
from dataclasses import fields
from datetime import datetime

from sqlalchemy import func, insert, select

from service.domain.trend_verdicts import KeptVerdict, worth_keeping
from service.domain.trending import TrendTold
from service.domain.words import Trend
from service.storage.bulk import is_one_of, table_of
from service.storage.tables.readings import TrendVerdictRow
from service.storage.tables.register import CriteriaSetRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Unit

_READ = ("round_code", "criteria")
_KEPT = tuple(field.name for field in fields(KeptVerdict) if field.name not in _READ)


def keep_verdicts(unit: Unit, told: Sequence[TrendTold], *, now: datetime) -> int:
    """Append what differs from what was said last; how many those were."""
    before = _latest(unit, [one.point.point_id for one in told])
    rows = []
    for one in told:
        verdict = _verdict(one, now)
        if worth_keeping(before.get(one.point.point_id), verdict):
            rows.append({"point_id": one.point.point_id} | {name: getattr(verdict, name) for name in _KEPT})
    if rows:
        unit.connection.execute(insert(table_of(TrendVerdictRow)), rows)
    return len(rows)


def _verdict(told: TrendTold, now: datetime) -> KeptVerdict:
    return KeptVerdict(
        told_at=now,
        trend=told.trend,
        slope_k_month=told.slope_k_month,
        slope_low=told.slope_low,
        slope_high=told.slope_high,
        visits=told.visits,
        fitted=told.fitted,
        risen_k=told.risen_k,
        onset_on=told.onset_on,
        chance_6=told.chance_6,
        chance_12=told.chance_12,
        crossing_from=told.crossing_from,
        crossing_to=told.crossing_to,
        method=told.method,
        criteria_id=told.point.criteria_id,
        episode=told.point.episode,
        newest_on=told.newest_on,
        round_id=told.round_id,
    )


def _latest(unit: Unit, point_ids: Iterable[int]) -> dict[int, KeptVerdict]:
    """What was said last of each point."""
    row = TrendVerdictRow
    newest = select(func.max(row.id)).where(is_one_of(unit, row.point_id, point_ids)).group_by(row.point_id)
    query = select(row).where(row.id.in_(newest))
    return {found.point_id: _kept(found) for found in unit.session.scalars(query)}


def verdicts_of(unit: Unit, point_id: int, *, most: int) -> tuple[KeptVerdict, ...]:
    """What was said of one point, latest first, with codes of rounds and names of criteria."""
    row = TrendVerdictRow
    query = (
        select(row, RoundRow.code, CriteriaSetRow.title, CriteriaSetRow.version)
        .outerjoin(RoundRow, RoundRow.id == row.round_id)
        .outerjoin(CriteriaSetRow, CriteriaSetRow.id == row.criteria_id)
        .where(row.point_id == point_id)
        .order_by(row.id.desc())
        .limit(most)
    )
    return tuple(
        _kept(found, code or "", "" if title is None else f"{title}, version {version}")
        for found, code, title, version in unit.session.execute(query)
    )


def _kept(row: TrendVerdictRow, round_code: str = "", criteria: str = "") -> KeptVerdict:
    held = {name: getattr(row, name) for name in _KEPT} | {"trend": Trend(row.trend)}
    return KeptVerdict(**held, round_code=round_code, criteria=criteria)
