"""Act-now findings whose reading was corrected or judged anew, so that nothing says Act now any more."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, or_, select

from service.domain.findings import OPEN_STILL, TakenBack
from service.domain.words import Level
from service.storage.bulk import is_one_of
from service.storage.tables.findings import FindingRow
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow
from service.storage.unit import Unit

Sheet = tuple[int | None, str]


@dataclass(frozen=True, slots=True)
class _Suspect:
    """An Act now at a point that does not stand there any more."""

    finding_id: int
    point_id: int
    standing: Level | None
    stands_since: date | None
    opened_by: Sheet
    since: datetime | None


@dataclass(frozen=True, slots=True)
class _Grave:
    """A reading that said Act now once; ``holds`` while it still does, and counts."""

    reading_id: int
    sheet: Sheet
    taken_at: datetime
    temperature_c: float | None
    holds: bool


def taken_back(unit: Unit, *those: ColumnElement[bool]) -> dict[int, TakenBack]:
    """By finding why its Act now is no longer said by any reading, in three queries.

    Parameters
    ----------
    unit : Unit
        Where it is read.
    *those : conditions on findings
        Which findings are asked about.

    Returns
    -------
    dict of int to TakenBack
        Only findings that wait for somebody, of a part that does not stand at Act now, of which
        no valid reading since the one that opened them says Act now, and at least one did.
        Judging anew takes nothing back where it leads to No verdict: what cannot clear must not;
        a correction does, since then the number itself was wrong.
    """
    suspects = _suspects(unit, those)
    if not suspects:
        return {}
    grave = _grave_readings(unit, {one.point_id for one in suspects})
    gone: dict[int, _Grave] = {}
    for suspect in suspects:
        of_it = [one for one in grave.get(suspect.point_id, ()) if _concerns(suspect, one)]
        if of_it and not any(one.holds for one in of_it):
            gone[suspect.finding_id] = max(of_it, key=lambda one: (one.taken_at, one.reading_id))
    if not gone:
        return {}
    latest = _latest_revisions(unit, [one.sheet for one in gone.values()])
    told = ((one, gone[one.finding_id]) for one in suspects if one.finding_id in gone)
    found = {one.finding_id: _told(one, was, latest.get(was.sheet)) for one, was in told}
    return {finding_id: back for finding_id, back in found.items() if back is not None}


def _told(suspect: _Suspect, was: _Grave, now: ReadingRow | None) -> TakenBack | None:
    """What became of the reading; None where it only lost its verdict."""
    if now is not None and now.id != was.reading_id:
        on = suspect.stands_since or now.received_at.date()
        reason, degrees = now.correction_reason, now.temperature_c
        return TakenBack(True, reason, was.temperature_c, degrees, on, suspect.standing)
    if suspect.standing is None:
        return None
    on = suspect.stands_since or was.taken_at.date()
    return TakenBack(False, "", was.temperature_c, was.temperature_c, on, suspect.standing)


def _suspects(unit: Unit, those: Sequence[ColumnElement[bool]]) -> list[_Suspect]:
    query = (
        select(
            FindingRow.id,
            FindingRow.point_id,
            PointStateRow.level,
            PointStateRow.since,
            ReadingRow.row_id,
            ReadingRow.source,
            ReadingRow.taken_at,
        )
        .join(PointStateRow, PointStateRow.point_id == FindingRow.point_id)
        .outerjoin(ReadingRow, ReadingRow.id == FindingRow.reading_id)
        .where(
            FindingRow.level == int(Level.ACT_NOW),
            FindingRow.state.in_([state.value for state in OPEN_STILL]),
            or_(PointStateRow.level.is_(None), PointStateRow.level < int(Level.ACT_NOW)),
            *those,
        )
    )
    return [
        _Suspect(
            finding_id,
            point_id or 0,
            None if level is None else Level(level),
            stands,
            (row_id, source or ""),
            taken_at,
        )
        for finding_id, point_id, level, stands, row_id, source, taken_at in unit.session.execute(query)
    ]


def _grave_readings(unit: Unit, point_ids: Iterable[int]) -> dict[int, list[_Grave]]:
    """By point every reading that said Act now under any judgement; the latest judgement of each."""
    row = AssessmentRow
    query = (
        select(
            row.point_id,
            ReadingRow.id,
            ReadingRow.row_id,
            ReadingRow.source,
            ReadingRow.taken_at,
            ReadingRow.temperature_c,
            row.current & row.counts_level,
        )
        .join(ReadingRow, ReadingRow.id == row.reading_id)
        .where(is_one_of(unit, row.point_id, point_ids), row.level == int(Level.ACT_NOW))
        .order_by(row.id)
    )
    found: dict[int, dict[int, _Grave]] = {}
    for point_id, reading_id, row_id, source, taken_at, degrees, holds in unit.session.execute(query):
        one = _Grave(reading_id, (row_id, source), taken_at, degrees, bool(holds))
        found.setdefault(point_id, {})[reading_id] = one
    return {point_id: list(by_reading.values()) for point_id, by_reading in found.items()}


def _concerns(suspect: _Suspect, one: _Grave) -> bool:
    """Of the reading that opened it, in any revision, or of a later one."""
    if suspect.since is None or one.taken_at >= suspect.since:
        return True
    return one.sheet[0] is not None and one.sheet == suspect.opened_by


def _latest_revisions(unit: Unit, sheets: Iterable[Sheet]) -> dict[Sheet, ReadingRow]:
    """By row of a sheet and source the reading that is valid now."""
    rows = {row_id for row_id, _source in sheets if row_id is not None}
    query = select(ReadingRow).where(is_one_of(unit, ReadingRow.row_id, rows)).order_by(ReadingRow.revision)
    return {(row.row_id, row.source): row for row in unit.session.scalars(query)}
