"""What waits for a decision, read in a fixed number of queries."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, and_, func, or_, select

from service.domain.desk import DeskItem, Waiting
from service.domain.findings import OPEN_STILL, READ_AGAIN_DAYS, READING_CORRECTED, SetAside, TakenBack
from service.domain.losses import loss_of
from service.domain.words import FindingState, Level, RoundState, Trend
from service.storage.bulk import is_one_of
from service.storage.finding_causes import taken_back
from service.storage.held_sends import waiting_sends
from service.storage.losses import expected_loss
from service.storage.readings import CURRENT
from service.storage.set_aside import covered, set_asides
from service.storage.tables.findings import FindingRow, RepairRow, TellingRow
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.returns import RoundQuestionRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit

EVER = datetime(1970, 1, 1, tzinfo=UTC)
#: Rows read per kind; the Desk says how many more there are.
MOST = 200
_TOLD_OF_FINDING = (
    FindingRow.id,
    FindingRow.site_id,
    FindingRow.point_id,
    FindingRow.state,
    FindingRow.attempt,
    FindingRow.level,
    FindingRow.value_k,
    FindingRow.title,
    FindingRow.place,
    FindingRow.opened_at,
    FindingRow.changed_at,
    FindingRow.due_on,
    FindingRow.review_on,
    FindingRow.set_aside_reason,
)


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
    """Points above Nothing found on which nobody has decided; the gravest, and how many there are in all.

    One that was set aside is left out until it rises above the level at which it was; its review
    has a line of its own.
    """
    state = PointStateRow
    retired = select(PointRow.id).where(PointRow.retired_at.is_not(None))
    where = and_(
        state.level >= 1,
        state.finding_id.is_(None),
        state.point_id.not_in(retired),
        ~covered(state.point_id.expression),
        sight.of(state.site_id.expression, state.point_id.expression),
    )
    total = unit.session.scalar(select(func.count()).select_from(state).where(where)) or 0
    order = (state.level.desc(), expected_loss().desc(), state.since, state.point_id)
    # which ones first, then all that is told of them: thousands of whole rows need not be sorted
    first = (
        select(state.point_id)
        .join(EquipmentRow, EquipmentRow.id == state.equipment_id)
        .where(where)
        .order_by(*order)
        .limit(MOST)
        .subquery()
    )
    query = (
        select(
            state.point_id,
            state.site_id,
            state.level,
            state.trend,
            state.since,
            state.last_read_at,
            state.last_sentence,
            state.value_k,
            state.chance_12,
            EquipmentRow.cost_per_hour,
            EquipmentRow.repair_lead_days,
            PointRow.name.label("point"),
            ViewRow.name.label("view"),
            EquipmentRow.name.label("equipment"),
            SiteRow.name.label("site"),
        )
        .join(PointRow, PointRow.id == state.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == state.equipment_id)
        .join(SiteRow, SiteRow.id == state.site_id)
        .where(state.point_id.in_(select(first.c.point_id)))
        .order_by(*order)
    )
    rows = unit.session.execute(query).all()
    asides = set_asides(unit, [row.point_id for row in rows])
    return [_undecided(row, asides.get(row.point_id)) for row in rows], total


def _undecided(row: Any, aside: SetAside | None) -> DeskItem:
    level = Level(row.level)
    trend = f"; {row.trend}" if Trend(row.trend).worsening else ""
    risen = (
        ""
        if aside is None or aside.level is None
        else f" It was set aside at {aside.level.word} and has risen since."
    )
    return DeskItem(
        Waiting.TELL if level is Level.ACT_NOW else Waiting.DECIDE,
        row.since or (row.last_read_at or EVER).date(),
        row.site_id,
        row.site,
        f"{row.equipment}, {row.view}: {row.point}",
        f"{_bare(_last(row.last_sentence, level))}{trend}.{risen}",
        level,
        point_id=row.point_id,
        finding_id=None if aside is None else aside.finding_id,
        value_k=row.value_k,
        loss=loss_of(row.chance_12, row.cost_per_hour, row.repair_lead_days),
    )


def _last(sentence: str, level: Level) -> str:
    """A milder last reading under a graver standing is said to be only the last one."""
    mild = sentence.startswith(Level.NOTHING_FOUND.word) and level > Level.NOTHING_FOUND
    return f"Last reading: {sentence}" if mild else sentence


def _bare(sentence: str) -> str:
    """A sentence without its end, so that more can follow."""
    return sentence.rstrip(".")


def finding_items(unit: Unit, sight: Sight, now: datetime) -> list[DeskItem]:
    """Findings that want telling or closing, are overdue, not proven, to be read again or reviewed."""
    told = select(TellingRow.id).where(TellingRow.finding_id == FindingRow.id).exists()
    repaired_at = (
        select(func.max(RepairRow.repaired_at))
        .where(RepairRow.finding_id == FindingRow.id, RepairRow.attempt == FindingRow.attempt)
        .scalar_subquery()
    )
    in_sight = sight.of(FindingRow.site_id.expression, FindingRow.point_id.expression)
    to_review = or_(FindingRow.review_on.is_(None), FindingRow.review_on <= now.date())
    awake = or_(
        FindingRow.state != FindingState.SET_ASIDE.value,
        and_(FindingRow.outcome != READING_CORRECTED, to_review),
    )
    query = (
        select(*_TOLD_OF_FINDING, SiteRow.name.label("site"), told.label("told"), repaired_at.label("mended"))
        .join(SiteRow, SiteRow.id == FindingRow.site_id)
        .where(
            FindingRow.state != FindingState.PROVEN.value,
            awake,
            in_sight,
        )
        .order_by(FindingRow.id)
        .limit(MOST * 5)
    )
    back = taken_back(unit, in_sight)
    items = []
    for row in unit.session.execute(query):
        if row.id in back:
            items.append(_taken_back(row, back[row.id]))
            continue
        waiting, since, detail = _why(row, now)
        if waiting is None:
            continue
        level = None if row.level is None else Level(row.level)
        items.append(
            DeskItem(
                waiting, since.date() if isinstance(since, datetime) else since, row.site_id, row.site, row.title, detail,
                level, point_id=row.point_id, finding_id=row.id, value_k=row.value_k,
            )
        )  # fmt: skip
    return items


def _taken_back(row: Any, back: TakenBack) -> DeskItem:
    """An Act now that only waits to be closed: told at the level its part stands at now."""
    told = " Who was told should hear it." if row.told else ""
    return DeskItem(
        Waiting.TAKEN_BACK, back.on, row.site_id, row.site, row.title, f"{back.sentence}.{told}", back.standing,
        point_id=row.point_id, finding_id=row.id,
    )  # fmt: skip


def _why(row: Any, now: datetime) -> tuple[Waiting | None, datetime | date, str]:
    state, mended = FindingState(row.state), row.mended
    open_still = state in OPEN_STILL
    if open_still and row.level == Level.ACT_NOW and not row.told:
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


def held_items(unit: Unit, sight: Sight) -> list[DeskItem]:
    """What devices sent to rounds that no longer take it, with its values."""
    waiting = waiting_sends(unit, site_ids=sight.site_ids, person_id=sight.person_id, limit=MOST)
    return [
        DeskItem(
            Waiting.HELD, held.received_at.date(), held.site_id or 0, held.site_name, held.what,
            f"{held.person} sent: {held.values}. {held.reason}", round_id=held.round_id, held_id=held.id,
        )
        for held in waiting
    ]  # fmt: skip


def double_items(unit: Unit, sight: Sight) -> list[DeskItem]:
    """Points read by two sources on one round while the engineer has not chosen, each with what was read."""
    twice = (
        select(ReadingRow.row_id, func.max(ReadingRow.received_at).label("at"))
        .join(AssessmentRow, AssessmentRow.reading_id == ReadingRow.id)
        .join(RoundPointRow, RoundPointRow.id == ReadingRow.row_id)
        # worded as the index of the few is, else every assessment is read
        .where(~AssessmentRow.counts_trend, AssessmentRow.current.is_(True))
        .where(RoundPointRow.chosen_source.is_(None))
        .group_by(ReadingRow.row_id)
        .having(func.count(func.distinct(ReadingRow.source)) > 1)
        .limit(MOST)
        .subquery()
    )
    query = (
        select(
            RoundPointRow.id.label("row_id"), RoundRow.id.label("round_id"), RoundRow.code, PointRow.id.label("point_id"), PointRow.tag, PointRow.name,
            PointRow.site_id, SiteRow.name.label("site"), twice.c.at,
        )
        .select_from(RoundPointRow)
        .join(twice, twice.c.row_id == RoundPointRow.id)
        .join(RoundRow, RoundRow.id == RoundPointRow.round_id)
        .join(PointRow, PointRow.id == RoundPointRow.point_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
        .where(sight.of(PointRow.site_id.expression, PointRow.id.expression))
    )  # fmt: skip
    rows = unit.session.execute(query).all()
    read = _read_of_rows(unit, [row.row_id for row in rows])
    return [
        DeskItem(
            Waiting.DOUBLE, row.at.date(), row.site_id, row.site, f"{row.tag} {row.name}",
            f"Round {row.code}: {' and '.join(read.get(row.row_id, ())) or 'two readings'}. "
            "Both are kept; choose which one feeds the trend.",
            point_id=row.point_id, round_id=row.round_id,
        )
        for row in rows
    ]  # fmt: skip


def _read_of_rows(unit: Unit, row_ids: Iterable[int]) -> dict[int, list[str]]:
    """By row of a round: what each source read there, with whoever did."""
    query = (
        select(ReadingRow, PersonRow.name)
        .outerjoin(PersonRow, PersonRow.id == ReadingRow.person_id)
        .where(is_one_of(unit, ReadingRow.row_id, row_ids), CURRENT)
        .order_by(ReadingRow.id)
    )
    told: dict[int, list[str]] = {}
    for row, person in unit.session.execute(query):
        if row.row_id is None:
            continue
        value = "not read" if row.temperature_c is None else f"{row.temperature_c:.1f} °C"
        told.setdefault(row.row_id, []).append(f"{value} by {person or row.device or 'somebody'}")
    return told


def round_items(unit: Unit, sight: Sight) -> list[DeskItem]:
    """Returned rounds not signed off, with how many readings came in without a permit recorded."""
    bare = (
        select(func.count())
        .select_from(ReadingRow)
        .where(ReadingRow.round_id == RoundRow.id, ReadingRow.no_permit_recorded.expression)
        .scalar_subquery()
    )
    first_site = select(func.min(StopRow.site_id)).where(StopRow.round_id == RoundRow.id).scalar_subquery()
    query = (
        select(RoundRow, SiteRow.id, SiteRow.name, bare)
        .join(SiteRow, SiteRow.id == first_site)
        .where(RoundRow.state == RoundState.RETURNED.value, sight.of(SiteRow.id.expression))
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


def question_items(unit: Unit, sight: Sight) -> list[DeskItem]:
    """Rounds not signed off with questions that nobody has answered: how many, and the oldest of them."""
    first_site = select(func.min(StopRow.site_id)).where(StopRow.round_id == RoundRow.id).scalar_subquery()
    still = (
        select(
            RoundQuestionRow.round_id,
            func.count().label("count"),
            func.min(RoundQuestionRow.created_at).label("since"),
        )
        # worded as the index of the few is
        .where(RoundQuestionRow.answered_at.is_(None))
        .group_by(RoundQuestionRow.round_id)
        .subquery()
    )
    query = (
        select(
            RoundRow.id, RoundRow.code, RoundRow.name, SiteRow.id, SiteRow.name, still.c.count, still.c.since
        )
        .join(still, still.c.round_id == RoundRow.id)
        .join(SiteRow, SiteRow.id == first_site)
        .where(
            RoundRow.state.in_((RoundState.ISSUED.value, RoundState.RETURNED.value)),
            sight.of(SiteRow.id.expression),
        )
        .order_by(still.c.since)
        .limit(MOST)
    )
    if sight.person_id is not None:
        query = query.where(
            or_(RoundRow.person_id == sight.person_id, RoundRow.second_person_id == sight.person_id)
        )
    return [
        DeskItem(
            Waiting.QUESTION, since.date(), site_id, site, f"Round {code}, {name}",
            f"{count} {'question waits' if count == 1 else 'questions wait'} for an answer.", round_id=round_id,
        )
        for round_id, code, name, site_id, site, count, since in unit.session.execute(query)
    ]  # fmt: skip
