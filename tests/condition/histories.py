"""Histories of points as uploads would have left them: readings, assessments and state rows."""

import uuid
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import undefer

from service.domain.words import Level, ReferenceKind
from service.storage.criteria import add_missing_presets
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow
from service.storage.tables.register import CriteriaSetRow, EquipmentRow, PointRow, ViewRow
from service.storage.unit import Store, Unit

FIRST_VISIT = datetime(2025, 1, 15, 10, 0, tzinfo=UTC)
MONTH = timedelta(days=30)


def read_monthly(
    store: Store,
    point_id: int,
    rises_k: Sequence[float | None],
    *,
    first: datetime = FIRST_VISIT,
    level: Level | None = Level.NOTHING_FOUND,
    **change: Any,
) -> None:
    """One visit a month with these rises at common load; None is a visit that may not be trended."""
    with store.begin() as unit:
        criteria_id = _criteria(unit)
        for k, rise_k in enumerate(rises_k):
            _visit(unit, point_id, first + k * MONTH, rise_k, criteria_id=criteria_id, change=change)
        unit.session.flush()
        _state(unit, point_id, level=level, criteria_id=criteria_id)


def _criteria(unit: Unit) -> int:
    add_missing_presets(unit, now=FIRST_VISIT)
    unit.session.flush()
    return int(unit.session.scalar(select(func.min(CriteriaSetRow.id))) or 0)


def _visit(
    unit: Unit,
    point_id: int,
    at: datetime,
    rise_k: float | None,
    *,
    criteria_id: int,
    change: dict[str, Any],
) -> None:
    reading = ReadingRow(
        uid=str(uuid.uuid4()),
        point_id=point_id,
        source="person 1",
        content_hash="0",
        received_at=at,
        taken_at=at,
        temperature_c=40.0,
    )
    unit.session.add(reading)
    unit.session.flush()
    fields: dict[str, Any] = {
        "reading_id": reading.id,
        "point_id": point_id,
        "taken_at": at,
        "assessed_at": at,
        "criteria_id": criteria_id,
        "method_version": "test",
        "level": 0,
        "band": 0,
        "at_least": False,
        "near_line": False,
        "clears": True,
        "trended": rise_k is not None,
        "reference": ReferenceKind.LIKE_PARTS.value,
        "value_k": rise_k,
        "common_k": rise_k,
        "over_first_line": False,
        "rule": "test",
        "sentence": "",
    }
    unit.session.add(AssessmentRow(**(fields | change)))


def _state(unit: Unit, point_id: int, *, level: Level | None, criteria_id: int) -> None:
    if unit.session.get(PointStateRow, point_id) is not None:
        return
    point = unit.session.get_one(PointRow, point_id)
    view = unit.session.get_one(ViewRow, point.view_id)
    equipment = unit.session.get_one(EquipmentRow, view.equipment_id)
    unit.session.add(
        PointStateRow(
            point_id=point_id,
            site_id=point.site_id,
            equipment_id=equipment.id,
            level=level,
            reading_level=level,
            criteria_id=criteria_id,
            pending=True,
            data_version=1,
        )
    )


def state_of(store: Store, point_id: int) -> PointStateRow:
    with store.look() as unit:
        return unit.session.get_one(PointStateRow, point_id, options=[undefer(PointStateRow.trend_fan)])
