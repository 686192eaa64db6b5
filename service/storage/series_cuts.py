"""Cuts of a point's series: no trend and no baseline runs across one."""

from datetime import datetime

from sqlalchemy import func, select, update

from service.storage.tables.readings import AssessmentRow, PointStateRow
from service.storage.tables.register import SeriesCutRow
from service.storage.unit import Unit


def cut_series(
    unit: Unit, point_id: int, *, at: datetime, reason: str, note: str = "", finding_id: int | None = None
) -> None:
    """Cut at an instant: later readings begin a new episode with a new baseline.

    Readings that came in before the cut was recorded are renumbered too, so that the order in
    which paper reaches the office does not matter. The trend is *pending* from here on: put a
    job for it in the same transaction.
    """
    session = unit.session
    session.add(SeriesCutRow(point_id=point_id, at=at, reason=reason, note=note, finding_id=finding_id))
    session.flush()
    cuts_before = (
        select(func.count())
        .select_from(SeriesCutRow)
        .where(SeriesCutRow.point_id == AssessmentRow.point_id, SeriesCutRow.at <= AssessmentRow.taken_at)
        .scalar_subquery()
    )
    session.execute(
        update(AssessmentRow)
        .where(AssessmentRow.point_id == point_id)
        .values(episode=cuts_before)
        .execution_options(synchronize_session=False)
    )
    episodes = session.scalar(
        select(func.count()).select_from(SeriesCutRow).where(SeriesCutRow.point_id == point_id)
    )
    session.execute(
        update(PointStateRow)
        .where(PointStateRow.point_id == point_id)
        .values(
            episode=episodes,
            baseline_k=None,
            baseline_visits=0,
            previous_over_first_line=False,
            pending=True,
            data_version=PointStateRow.data_version + 1,
        )
        .execution_options(synchronize_session=False)
    )
