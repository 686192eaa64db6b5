"""Findings that were set aside: which points they keep off the lists, and till when."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, exists, select
from sqlalchemy.orm import aliased

from service.domain.findings import READING_CORRECTED, SetAside
from service.domain.words import FindingState, Level
from service.storage.bulk import is_one_of
from service.storage.tables.findings import FindingRow
from service.storage.unit import Unit


def covered(
    point: ColumnElement[Any], level: ColumnElement[Any], *, today: date | None = None
) -> ColumnElement[bool]:
    """The point was set aside at this level or a graver one; with ``today`` only until its review.

    Only the latest finding of a point decides: one that was repaired or opened since undoes what
    was set aside before. Asked point by point by the index of findings on their points: few of
    those that stand above Nothing found have ever had one.
    """
    row, later = aliased(FindingRow), aliased(FindingRow)
    since = exists().where(
        later.point_id == row.point_id, later.id > row.id, later.outcome != READING_CORRECTED
    )
    decided = [
        row.point_id == point,
        row.state == FindingState.SET_ASIDE.value,
        # what was closed because of a slip was no decision on what the part really shows
        row.outcome != READING_CORRECTED,
        row.level >= level,
        ~since,
    ]
    if today is not None:
        decided.append(row.review_on > today)
    return exists().where(*decided)


def set_asides(unit: Unit, point_ids: Iterable[int]) -> dict[int, SetAside]:
    """By point its latest finding, where that was set aside."""
    row = FindingRow
    query = (
        select(row.point_id, row.id, row.state, row.level, row.review_on)
        .where(is_one_of(unit, row.point_id, point_ids), row.outcome != READING_CORRECTED)
        .order_by(row.id)
    )
    latest = {record[0]: record[1:] for record in unit.session.execute(query) if record[0] is not None}
    return {
        point_id: SetAside(finding_id, None if level is None else Level(level), review_on)
        for point_id, (finding_id, state, level, review_on) in latest.items()
        if state == FindingState.SET_ASIDE.value
    }
