"""What waits for a decision, read in a fixed number of queries."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from sqlalchemy import ColumnElement, and_, func, or_, select

from service.domain.desk import DeskItem, Waiting
from service.domain.findings import READ_AGAIN_DAYS
from service.domain.words import FindingState, Level, RoundState, Trend
from service.storage.tables.findings import FindingRow, RepairRow, TellingRow
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit

EVER = datetime(1970, 1, 1, tzinfo=UTC)
#: Rows read per kind; the Desk says how many more there are.
MOST = 200


class Sight:
    """Sites in sight, and the person whose rounds limit it (technicians)."""

    def __init__(self, site_ids: Iterable[int] | None, person_id: int | None) -> None:
        self.site_ids = None if site_ids is None else sorted(site_ids)
        self.person_id = person_id

    def of(
        self, site: ColumnElement[int], point: ColumnElement[int] | ColumnElement[int | None] | None = None
    ) -> ColumnElement[bool]:
        """Limit a query by its site column and, for technicians, its point column."""
        clauses: list[ColumnElement[bool]] = []
        if self.site_ids is not None:
            clauses.append(site.in_(self.site_ids))
        if self.person_id is not None and point is not None:
            mine = or_(RoundRow.person_id == self.person_id, RoundRow.second_person_id == self.person_id)
            own = (
                select(RoundPointRow.point_id)
                .join(RoundRow, RoundRow.id == RoundPointRow.round_id)
                .where(mine)
            )
            clauses.append(point.in_(own))
        return and_(True, *clauses)


def undecided_points(unit: Unit, sight: Sight) -> tuple[list[DeskItem], int]:
    """Points above Nothing found without a finding; the gravest, and how many there are in all."""
    where = and_(
        PointStateRow.level >= 1,
        PointStateRow.finding_id.is_(None),
        sight.of(PointStateRow.site_id.expression, PointStateRow.point_id.expression),
    )
    total = unit.session.scalar(select(func.count()).select_from(PointStateRow).where(where)) or 0
    query = (
        select(PointStateRow, PointRow.name, ViewRow.name, EquipmentRow.name, SiteRow.name)
        .join(PointRow, PointRow.id == PointStateRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == PointStateRow.equipment_id)
        .join(SiteRow, SiteRow.id == PointStateRow.site_id)
        .where(where, PointRow.retired_at.is_(None))
        .order_by(PointStateRow.level.desc(), PointStateRow.since)
        .limit(MOST)
    )
    items = []
    for state, point, view, equipment, site in unit.session.execute(query):
        level = Level(state.level or 0)
        trend = f"; {state.trend}" if Trend(state.trend).worsening else ""
        items.append(
            DeskItem(
                Waiting.TELL if level is Level.ACT_NOW else Waiting.DECIDE,
                state.since or (state.last_read_at or EVER).date(),
                state.site_id,
                site,
                f"{equipment}, {view}: {point}",
                f"{_bare(state.last_sentence)}{trend}.",
                level,
                point_id=state.point_id,
                value_k=state.value_k,
            )
        )
    return items, total


def _bare(sentence: str) -> str:
    """A sentence without its end, so that more can follow."""
    return sentence.rstrip(".")


def finding_items(unit: Unit, sight: Sight, now: datetime) -> list[DeskItem]:
    """Findings that want telling, are overdue, not proven, to be read again or to be reviewed."""
    told = select(TellingRow.id).where(TellingRow.finding_id == FindingRow.id).exists()
    repaired_at = (
        select(func.max(RepairRow.repaired_at))
        .where(RepairRow.finding_id == FindingRow.id, RepairRow.attempt == FindingRow.attempt)
        .scalar_subquery()
    )
    query = (
        select(FindingRow, SiteRow.name, told, repaired_at)
        .join(SiteRow, SiteRow.id == FindingRow.site_id)
        .where(
            FindingRow.state != FindingState.PROVEN.value,
            sight.of(FindingRow.site_id.expression, FindingRow.point_id.expression),
        )
        .order_by(FindingRow.id)
        .limit(MOST * 5)
    )
    items = []
    for row, site, was_told, mended in unit.session.execute(query):
        waiting, since, detail = _why(row, bool(was_told), mended, now)
        if waiting is None:
            continue
        level = None if row.level is None else Level(row.level)
        items.append(
            DeskItem(
                waiting, since.date() if isinstance(since, datetime) else since, row.site_id, site, row.title, detail,
                level, point_id=row.point_id, finding_id=row.id, value_k=row.value_k,
            )
        )  # fmt: skip
    return items


def _why(
    row: FindingRow, told: bool, mended: datetime | None, now: datetime
) -> tuple[Waiting | None, datetime | date, str]:
    state = FindingState(row.state)
    open_still = state in (FindingState.OPEN, FindingState.PLANNED, FindingState.NOT_PROVEN)
    if open_still and row.level == Level.ACT_NOW and not told:
        return Waiting.TELL, row.opened_at, "Nobody is on record as told."
    if state is FindingState.NOT_PROVEN:
        return Waiting.NOT_PROVEN, row.changed_at, f"Attempt {row.attempt} is to be planned."
    if open_still and row.due_on is not None and row.due_on < now.date():
        return Waiting.OVERDUE, row.due_on, "The day set for it has passed."
    if open_still and row.point_id is None:
        return Waiting.OFF_ROUND, row.opened_at, f"Place: {row.place}."
    if (
        state is FindingState.REPAIRED
        and mended is not None
        and now - mended > timedelta(days=READ_AGAIN_DAYS)
    ):
        return Waiting.READ_AGAIN, mended, "No clearing reading at its load since the repair."
    if state is FindingState.SET_ASIDE and (row.review_on is None or row.review_on <= now.date()):
        return Waiting.REVIEW, row.review_on or row.changed_at.date(), row.set_aside_reason
    return None, now, ""


def double_items(unit: Unit, sight: Sight) -> list[DeskItem]:
    """Points read by two sources on one round while the engineer has not chosen."""
    twice = (
        select(ReadingRow.row_id, func.max(ReadingRow.received_at).label("at"))
        .join(AssessmentRow, AssessmentRow.reading_id == ReadingRow.id)
        .join(RoundPointRow, RoundPointRow.id == ReadingRow.row_id)
        .where(AssessmentRow.current.is_(True), AssessmentRow.counts_trend.is_(False))
        .where(RoundPointRow.chosen_source.is_(None))
        .group_by(ReadingRow.row_id)
        .having(func.count(func.distinct(ReadingRow.source)) > 1)
        .limit(MOST)
        .subquery()
    )
    query = (
        select(RoundPointRow, RoundRow, PointRow, SiteRow.name, twice.c.at)
        .join(twice, twice.c.row_id == RoundPointRow.id)
        .join(RoundRow, RoundRow.id == RoundPointRow.round_id)
        .join(PointRow, PointRow.id == RoundPointRow.point_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
        .where(sight.of(PointRow.site_id.expression, PointRow.id.expression))
    )
    return [
        DeskItem(
            Waiting.DOUBLE, at.date(), point.site_id, site, f"{point.tag} {point.name}",
            f"Round {round_.code}: both are kept; choose which one feeds the trend.", point_id=point.id,
            round_id=round_.id,
        )
        for _row, round_, point, site, at in unit.session.execute(query)
    ]  # fmt: skip


def round_items(unit: Unit, sight: Sight) -> list[DeskItem]:
    """Returned rounds not signed off, with how many readings came in without a permit recorded."""
    bare = (
        select(func.count())
        .select_from(ReadingRow)
        .where(ReadingRow.round_id == RoundRow.id, ReadingRow.no_permit_recorded.is_(True))
        .scalar_subquery()
    )
    sites = (
        select(StopRow.round_id, func.min(StopRow.site_id).label("site_id"))
        .group_by(StopRow.round_id)
        .subquery()
    )
    query = (
        select(RoundRow, sites.c.site_id, SiteRow.name, bare)
        .join(sites, sites.c.round_id == RoundRow.id)
        .join(SiteRow, SiteRow.id == sites.c.site_id)
        .where(RoundRow.state == RoundState.RETURNED.value, sight.of(sites.c.site_id))
        .order_by(RoundRow.planned_on)
        .limit(MOST)
    )
    if sight.person_id is not None:
        query = query.where(
            or_(RoundRow.person_id == sight.person_id, RoundRow.second_person_id == sight.person_id)
        )
    items = []
    for row, site_id, site, without_permit in unit.session.execute(query):
        since = (row.returned_at or row.changed_at).date()
        items.append(
            DeskItem(
                Waiting.SIGN_OFF, since, site_id, site, f"Round {row.code}, {row.name}", "", round_id=row.id
            )
        )
        if without_permit:
            items.append(
                DeskItem(
                    Waiting.NO_PERMIT, since, site_id, site, f"Round {row.code}, {row.name}",
                    f"{without_permit} readings have no permit recorded.", round_id=row.id,
                )
            )  # fmt: skip
    return items
