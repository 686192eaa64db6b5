"""Rows of a round: what goes on its sheets, what came back, what each point said last."""

from collections.abc import Collection
from functools import cache
from typing import Any

from sqlalchemy import BigInteger, Select, and_, bindparam, case, exists, func, select
from sqlalchemy.orm import aliased

from service.domain.criteria import Criteria
from service.domain.presets import DEFAULT_CRITERIA
from service.domain.spots import Target
from service.domain.stop_facts import SheetPoint
from service.domain.words import FindingState, VisitKind
from service.storage.bulk import is_one_of
from service.storage.criteria import class_key, criteria_by_id, criteria_of_classes
from service.storage.tables.findings import FindingRow
from service.storage.tables.readings import PointStateRow, ReadingRow
from service.storage.tables.register import ClientRow, EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundPointRow, StopRow
from service.storage.unit import Unit

_REPAIRED = exists().where(
    FindingRow.point_id == PointRow.id, FindingRow.state == FindingState.REPAIRED.value
)
_IN_USE = and_(PointRow.retired_at.is_(None), ViewRow.retired_at.is_(None))


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


def targets_of(unit: Unit, equipment_ids: Collection[int]) -> tuple[Target, ...]:
    """Points in use with their smallest width to be seen and their own distance, in walking order."""
    query = (
        select(
            ViewRow.id,
            EquipmentRow.id,
            EquipmentRow.name,
            ViewRow.name,
            PointRow.target_mm,
            PointRow.distance_m,
        )
        .join(PointRow, PointRow.view_id == ViewRow.id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .where(_IN_USE, is_one_of(unit, ViewRow.equipment_id, equipment_ids))
        .order_by(EquipmentRow.walking_order, EquipmentRow.id, ViewRow.walking_order, ViewRow.id, PointRow.id)
    )
    return tuple(
        Target(view_id, f"{equipment}, {view}", width_mm or None, distance_m or None, equipment_id)
        for view_id, equipment_id, equipment, view, width_mm, distance_m in unit.session.execute(query)
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


#: Columns only, under their names on the sheet: whole rows of five tables cost three times as much.
_SHEET = (
    RoundPointRow.uid.label("row_uid"),
    StopRow.id.label("stop_id"),
    ViewRow.id.label("view_id"),
    ViewRow.tag.label("view_tag"),
    ViewRow.name.label("view_name"),
    ViewRow.walking_order.label("view_order"),
    ViewRow.phase_names,
    ViewRow.asks_amps,
    ViewRow.asks_neutral,
    PointRow.id.label("point_id"),
    PointRow.tag,
    PointRow.name,
    PointRow.phase,
    PointRow.kind,
    PointRow.component,
    PointRow.walking_order.label("order"),
    RoundPointRow.visit_kind,
    PointRow.reference_kind,
    PointRow.common_load_a,
    PointRow.rated_rise_k,
    PointStateRow.baseline_k,
    PointRow.emissivity,
    PointRow.reflected_habit,
    PointRow.distance_m,
    PointRow.target_mm,
    PointRow.window_transmission,
    PointStateRow.last_read_at,
    PointStateRow.last_temperature_c.label("last_c"),
    PointStateRow.last_current_a.label("last_a"),
    PointStateRow.level,
    PointStateRow.at_least,
    PointStateRow.value_k,
    RoundPointRow.not_read_reason,
)


def sheet_points(unit: Unit, round_id: int) -> tuple[SheetPoint, ...]:
    """Rows of the round in walking order with what each point said last; a draft shows its present points."""
    of_round = {"of_round": round_id}
    reasons: dict[int, str] = dict(unit.connection.execute(_last_reasons(), of_round).all())
    is_issued = bool(unit.connection.scalar(_IS_ISSUED, of_round))
    rows = unit.connection.execute(_rows_of_sheet(is_issued), of_round)
    return tuple(_sheet_point(row, reasons.get(row.point_id, "")) for row in rows)


#: Statements made once: asked for every sheet and file, they take longer to say than to answer.
_ROUND = bindparam("of_round", type_=BigInteger)
_IS_ISSUED = select(exists().where(RoundPointRow.round_id == _ROUND))


@cache
def _rows_of_sheet(is_issued: bool) -> Select[*tuple[Any, ...]]:
    kind = case((_REPAIRED, VisitKind.READ_AGAIN.value), else_=VisitKind.ROUTINE.value)
    query = (
        select(*_SHEET, kind.label("kind_now"))
        .select_from(StopRow)
        .join(ViewRow, ViewRow.equipment_id == StopRow.equipment_id)
        .join(PointRow, PointRow.view_id == ViewRow.id)
        .outerjoin(PointStateRow, PointStateRow.point_id == PointRow.id)
        .join(
            RoundPointRow,
            and_(RoundPointRow.point_id == PointRow.id, RoundPointRow.round_id == _ROUND),
            isouter=not is_issued,
        )
        .where(StopRow.round_id == _ROUND)
        .order_by(StopRow.position, ViewRow.walking_order, ViewRow.id, PointRow.walking_order, PointRow.id)
    )
    return query if is_issued else query.where(_IN_USE)


def criteria_of_equipment(unit: Unit, equipment_ids: Collection[int]) -> dict[int, Criteria]:
    """The criteria in force for each: of its class at the site, its site, its client, else the preset."""
    query = (
        select(
            EquipmentRow.id,
            EquipmentRow.site_id,
            EquipmentRow.equipment_class,
            func.coalesce(SiteRow.criteria_id, ClientRow.criteria_id).label("of_site"),
        )
        .join(SiteRow, SiteRow.id == EquipmentRow.site_id)
        .join(ClientRow, ClientRow.id == SiteRow.client_id)
        .where(EquipmentRow.id.in_(equipment_ids))
    )
    rows = unit.session.execute(query).all()
    by_class = criteria_of_classes(unit, {row.site_id for row in rows})
    chosen: dict[int, int | None] = {
        row.id: by_class.get((row.site_id, class_key(row.equipment_class)), row.of_site) for row in rows
    }
    sets = criteria_by_id(unit, {set_id for set_id in chosen.values() if set_id is not None})
    return {one: DEFAULT_CRITERIA if set_id is None else sets[set_id] for one, set_id in chosen.items()}


@cache
def _last_reasons() -> Select[*tuple[Any, ...]]:
    """By point: the reason of its last visit before this round, where that visit gave no reading."""
    latest = (
        select(ReadingRow.point_id, func.max(ReadingRow.taken_at).label("taken_at"))
        .join(PointRow, PointRow.id == ReadingRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(StopRow, and_(StopRow.equipment_id == ViewRow.equipment_id, StopRow.round_id == _ROUND))
        .where((ReadingRow.round_id != _ROUND) | ReadingRow.round_id.is_(None))
        .group_by(ReadingRow.point_id)
        .subquery()
    )
    return (
        select(ReadingRow.point_id, ReadingRow.not_assessable)
        .join(
            latest,
            and_(latest.c.point_id == ReadingRow.point_id, latest.c.taken_at == ReadingRow.taken_at),
        )
        .where(ReadingRow.not_assessable.is_not(None))
    )


def _sheet_point(row: Any, not_assessable: str) -> SheetPoint:
    told = row._asdict()
    now = told.pop("kind_now")
    told["row_uid"] = told["row_uid"] or ""
    told["visit_kind"] = told["visit_kind"] or now
    told["at_least"] = bool(told["at_least"])
    told["not_read_reason"] = told["not_read_reason"] or ""
    return SheetPoint(**told, not_assessable=not_assessable)


def progress_by_stop(unit: Unit, round_id: int) -> dict[int, tuple[int, int]]:
    """By stop: (rows made at issue, rows with a reading or a reason)."""
    has = exists().where(ReadingRow.row_id == RoundPointRow.id)
    answered = case((has, 1), (RoundPointRow.not_read_reason.is_not(None), 1), else_=0)
    query = (
        select(RoundPointRow.stop_id, func.count(), func.sum(answered))
        .where(RoundPointRow.round_id == round_id)
        .group_by(RoundPointRow.stop_id)
    )
    return {stop_id: (count, done or 0) for stop_id, count, done in unit.session.execute(query)}
