"""The state row of every point: what readings write into it, and what else decides on it."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import and_, func, select

from service.domain.words import FindingState, Trend
from service.storage.bulk import insert_rows, is_one_of, upsert_rows
from service.storage.tables.findings import FindingRow, RepairRow
from service.storage.tables.readings import PointStateRow, StandingChangeRow
from service.storage.tables.register import PointRow, SeriesCutRow
from service.storage.unit import Unit

#: Columns set by readings, in the order in which ``write_states`` takes them.
WRITTEN = (
    "point_id",
    "site_id",
    "equipment_id",
    "assessment_id",
    "level",
    "at_least",
    "since",
    "reading_level",
    "lower_run",
    "clear_run",
    "lower_peak",
    "previous_over_first_line",
    "last_read_at",
    "last_cleared_at",
    "last_temperature_c",
    "last_current_a",
    "last_rule",
    "last_sentence",
    "reference",
    "value_k",
    "common_k",
    "load_ratio",
    "u_k",
    "u_common_k",
    "smallest_fault_k",
    "height_now",
    "height_year_ago",
    "year_ago_k",
    "year_ago_on",
    "act_line_k",
    "pending",
    "baseline_k",
    "baseline_visits",
    "episode",
    "criteria_id",
    "data_version",
    "due_on",
    "due_reason",
)
#: What a point that was never read has besides: set once, changed by others.
_FIRST = {"trend": Trend.TOO_FEW_VISITS.value, "trend_visits": 0, "trend_method": ""}


def write_states(unit: Unit, rows: Sequence[Sequence[Any]]) -> None:
    """Set what readings decide, each row with its values in the order of ``WRITTEN``."""
    names = (*WRITTEN, *_FIRST)
    first = tuple(_FIRST.values())
    upsert_rows(
        unit,
        PointStateRow,
        names,
        rows=[(*row, *first) for row in rows],
        key=("point_id",),
        change=WRITTEN[3:],
    )


def add_changes(unit: Unit, rows: Sequence[Sequence[Any]]) -> None:
    """Append changes of standing: (point, site, on, level, was, at least, trend, common, height, cause)."""
    names = (
        "point_id",
        "site_id",
        "on",
        "level",
        "was",
        "at_least",
        "trend",
        "common_k",
        "height",
        "cause",
    )
    insert_rows(unit, StandingChangeRow, names, rows=rows)


def cuts_of(unit: Unit, point_ids: Iterable[int]) -> dict[int, list[datetime]]:
    """By point the instants at which its series is cut, earliest first."""
    query = (
        select(SeriesCutRow.point_id, SeriesCutRow.at)
        .where(is_one_of(unit, SeriesCutRow.point_id, point_ids))
        .order_by(SeriesCutRow.at)
    )
    found: dict[int, list[datetime]] = {}
    for point_id, at in unit.session.execute(query):
        found.setdefault(point_id, []).append(at)
    return found


def proving_readings(unit: Unit, point_ids: Iterable[int]) -> frozenset[int]:
    """Readings by which a repair of these points was proven: they reset the standing."""
    query = (
        select(RepairRow.outcome_reading_id)
        .join(FindingRow, FindingRow.id == RepairRow.finding_id)
        .where(
            and_(
                is_one_of(unit, FindingRow.point_id, point_ids),
                RepairRow.outcome == "proven",
                RepairRow.outcome_reading_id.is_not(None),
            )
        )
    )
    return frozenset(reading for reading in unit.session.scalars(query) if reading is not None)


def under_repair(unit: Unit, point_ids: Iterable[int]) -> frozenset[int]:
    """Points whose repair waits for its proof: they are due since the repair, whatever was read."""
    query = select(FindingRow.point_id).where(
        is_one_of(unit, FindingRow.point_id, point_ids), FindingRow.state == FindingState.REPAIRED.value
    )
    return frozenset(point_id for point_id in unit.session.scalars(query) if point_id is not None)


def count_points(unit: Unit, site_ids: Iterable[int]) -> dict[int, int]:
    """Points in use by site."""
    query = (
        select(PointRow.site_id, func.count())
        .where(is_one_of(unit, PointRow.site_id, site_ids), PointRow.retired_at.is_(None))
        .group_by(PointRow.site_id)
    )
    return dict(unit.session.execute(query).all())
