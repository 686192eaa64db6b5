"""Is the database whole? What an operator asks after a crash, a restore or a move."""

from sqlalchemy import exists, func, select, text

from service.domain.jobs import JobState
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow
from service.storage.tables.record import JobRow
from service.storage.unit import Store, Unit


def faults_of(store: Store) -> list[str]:
    """Everything found wrong, in plain sentences; empty when it is whole."""
    with store.look() as unit:
        return [*(_faults_of_sqlite(unit) if unit.dialect == "sqlite" else ()), *_faults_of_rows(unit)]


def _faults_of_sqlite(unit: Unit) -> list[str]:
    said = [str(row[0]) for row in unit.session.execute(text("PRAGMA integrity_check"))]
    faults = [f"integrity: {line}" for line in said if line != "ok"]
    orphans = unit.session.execute(text("PRAGMA foreign_key_check")).all()
    return faults + [f"{row[0]} row {row[1]} points to a {row[2]} that is not there" for row in orphans]


def _faults_of_rows(unit: Unit) -> list[str]:
    """What one transaction always writes together must be there together."""
    unjudged = select(func.count()).where(
        ~exists().where(AssessmentRow.reading_id == ReadingRow.id), ReadingRow.not_assessable.is_(None)
    )
    stateless = select(func.count(func.distinct(ReadingRow.point_id))).where(
        ~exists().where(PointStateRow.point_id == ReadingRow.point_id)
    )
    failed = select(func.count()).where(JobRow.state == JobState.FAILED.value)
    found = (
        (unit.session.scalar(failed) or 0, "jobs that failed for good: their last_error says why"),
        (unit.session.scalar(unjudged) or 0, "readings without what they say (assessment)"),
        (unit.session.scalar(stateless) or 0, "points with readings but without a standing"),
    )
    return [f"{count} {what}" for count, what in found if count]
