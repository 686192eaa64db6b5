"""What a pack holds of its points' past: earlier visits, trends with their fans, last neutral currents."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import aliased

from service.domain.packs import TrendSaid, VisitBefore
from service.domain.trending import FanStep
from service.domain.words import Level, Reason, ReferenceKind, Trend
from service.storage.bulk import is_one_of
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow
from service.storage.tables.register import InstrumentRow, PointRow
from service.storage.unit import Unit


def visits_before(
    unit: Unit, point_ids: Iterable[int], *, without_round: int
) -> dict[int, list[VisitBefore]]:
    """By point its visits as they stand, oldest first, those of one round left out."""
    later = aliased(ReadingRow)
    query = (
        select(
            ReadingRow.point_id,
            ReadingRow.taken_at,
            ReadingRow.temperature_c,
            ReadingRow.current_a,
            ReadingRow.not_assessable,
            AssessmentRow.level,
            AssessmentRow.at_least,
            AssessmentRow.value_k,
            AssessmentRow.common_k,
            AssessmentRow.reference,
            AssessmentRow.over_first_line,
            AssessmentRow.episode,
            AssessmentRow.counts_level,
        )
        .outerjoin(
            AssessmentRow,
            and_(AssessmentRow.reading_id == ReadingRow.id, AssessmentRow.current.is_(True)),
        )
        .where(
            is_one_of(unit, ReadingRow.point_id, point_ids),
            or_(ReadingRow.round_id.is_(None), ReadingRow.round_id != without_round),
            ~select(later.id).where(later.supersedes_id == ReadingRow.id).exists(),
        )
        .order_by(ReadingRow.point_id, ReadingRow.taken_at, ReadingRow.id)
    )
    found: dict[int, list[VisitBefore]] = {}
    for point_id, *visit in unit.session.execute(query):
        found.setdefault(point_id, []).append(_visit(visit))
    return found


def _visit(row: Sequence[Any]) -> VisitBefore:
    at, warm, amps, why, level, at_least, value_k, common_k, reference, over, episode, counts = row
    return VisitBefore(
        taken_at=at,
        temperature_c=warm,
        current_a=amps,
        reason=None if why is None else Reason(why),
        level=None if level is None else Level(level),
        at_least=bool(at_least),
        value_k=value_k,
        common_k=common_k,
        reference=None if reference is None else ReferenceKind(reference),
        over_first_line=bool(over),
        episode=episode or 0,
        counts_level=bool(counts),
    )


def trends_said(unit: Unit, point_ids: Iterable[int]) -> dict[int, TrendSaid]:
    """By point what its trend says, with where it may go; points without a state are left out."""
    state = PointStateRow
    query = select(state.point_id, state.trend, state.slope_k_month, state.trend_fan).where(
        is_one_of(unit, state.point_id, point_ids)
    )
    return {
        point_id: TrendSaid(
            Trend(word), slope, tuple(FanStep(date.fromisoformat(day), *levels) for day, *levels in fan or ())
        )
        for point_id, word, slope, fan in unit.session.execute(query)
    }


def last_neutrals(unit: Unit, view_ids: Iterable[int], *, without_round: int) -> dict[int, float]:
    """By view the neutral's current of its last visit that has one [A], that of one round left out."""
    of_view = (
        select(PointRow.view_id, ReadingRow.taken_at, ReadingRow.neutral_a)
        .join(PointRow, PointRow.id == ReadingRow.point_id)
        .where(
            is_one_of(unit, PointRow.view_id, view_ids),
            ReadingRow.neutral_a.is_not(None),
            or_(ReadingRow.round_id.is_(None), ReadingRow.round_id != without_round),
        )
        .subquery()
    )
    newest = select(of_view.c.view_id, func.max(of_view.c.taken_at).label("at")).group_by(of_view.c.view_id)
    last = newest.subquery()
    query = (
        select(of_view.c.view_id, func.max(of_view.c.neutral_a))
        .join(last, and_(last.c.view_id == of_view.c.view_id, last.c.at == of_view.c.taken_at))
        .group_by(of_view.c.view_id)
    )
    neutrals: dict[int, float] = dict(unit.session.execute(query).all())
    return neutrals


def kinds_of_instruments(unit: Unit, client_id: int) -> dict[int, str]:
    """By instrument of a client what it is: camera, thermometer, ammeter, other."""
    query = select(InstrumentRow.id, InstrumentRow.kind).where(InstrumentRow.client_id == client_id)
    kinds: dict[int, str] = dict(unit.session.execute(query).all())
    return kinds
