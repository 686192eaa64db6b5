"""Findings that were set aside: which points they keep off the lists, and till when."""

from collections.abc import Iterable
from datetime import date

from sqlalchemy import ColumnElement, exists, select
from sqlalchemy.orm import aliased

from service.domain.findings import READING_CORRECTED, SetAside
from service.domain.words import FindingState, Level
from service.storage.bulk import is_one_of
from service.storage.tables.findings import FindingRow
from service.storage.tables.readings import PointStateRow
from service.storage.unit import Unit


def covered(point: ColumnElement[int], *, today: date | None = None) -> ColumnElement[bool]:
    """The point was set aside at its level or a graver one; with ``today`` only until its review.

    Only the latest finding of a point decides: one that was opened or repaired since undoes what
    was set aside before. As a list, made once from the few that are set aside: asked point by
    point it would be sought for every one that stands above Nothing found.
    """
    row, state, later = aliased(FindingRow), aliased(PointStateRow), aliased(FindingRow)
    since = exists().where(
        later.point_id == row.point_id, later.id > row.id, later.outcome != READING_CORRECTED
    )
    decided = (
        select(row.point_id)
        .join(state, state.point_id == row.point_id)
        .where(
            row.state == FindingState.SET_ASIDE.value,
            # what was closed because of a slip was no decision on what the part really shows
            row.outcome != READING_CORRECTED,
            row.level >= state.level,
            ~since,
        )
    )
    return point.in_(decided if today is None else decided.where(row.review_on > today))


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
