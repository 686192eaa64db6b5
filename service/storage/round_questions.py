"""Questions sent back: asked, answered, listed by round."""

from datetime import datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import aliased

from service.domain.questions import RoundQuestion
from service.storage.tables.people import PersonRow
from service.storage.tables.register import EquipmentRow, PointRow, ViewRow
from service.storage.tables.returns import RoundQuestionRow
from service.storage.tables.rounds import RoundPointRow, StopRow
from service.storage.unit import Unit
from service.storage.versions import row_to_edit

_Answers = aliased(PersonRow)


def questions_of(unit: Unit, round_id: int) -> tuple[RoundQuestion, ...]:
    """Questions of a round in the order in which they were asked."""
    query = _questions().where(RoundQuestionRow.round_id == round_id).order_by(RoundQuestionRow.id)
    return tuple(_question(*row) for row in unit.session.execute(query))


def question_of(unit: Unit, round_id: int, question_id: int) -> RoundQuestion | None:
    query = _questions().where(RoundQuestionRow.round_id == round_id, RoundQuestionRow.id == question_id)
    row = unit.session.execute(query).one_or_none()
    return None if row is None else _question(*row)


def count_open(unit: Unit, round_id: int) -> int:
    query = select(func.count()).where(
        RoundQuestionRow.round_id == round_id, RoundQuestionRow.answered_at.is_(None)
    )
    return int(unit.session.scalar(query) or 0)


def add_question(
    unit: Unit, round_id: int, row_uid: str, *, text: str, by: int | None, now: datetime
) -> int | None:
    """Keep a question about a row of this round; None where the round has no such row."""
    of_row = select(RoundPointRow.id).where(RoundPointRow.round_id == round_id, RoundPointRow.uid == row_uid)
    row_id = unit.session.scalar(of_row)
    if row_id is None:
        return None
    row = RoundQuestionRow(
        round_id=round_id, row_id=row_id, asked_by_id=by, question=text, created_at=now, changed_at=now
    )
    unit.session.add(row)
    unit.session.flush()
    return row.id


def answer_question(
    unit: Unit, question_id: int, *, text: str, version: int, by: int | None, now: datetime
) -> None:
    """Write the answer over none or an earlier one.

    Raises
    ------
    NotFound, Stale
        No such question, or answered meanwhile.
    """
    row = row_to_edit(unit, RoundQuestionRow, question_id, version=version, now=now)
    row.answer, row.answered_at, row.answered_by_id = text, now, by
    unit.session.flush()


def _questions() -> Select[*tuple[Any, ...]]:
    return (
        select(
            RoundQuestionRow,
            RoundPointRow.uid,
            StopRow.id,
            PointRow,
            ViewRow.name,
            EquipmentRow.name,
            PersonRow.name,
            _Answers.name,
        )
        .join(RoundPointRow, RoundPointRow.id == RoundQuestionRow.row_id)
        .join(StopRow, StopRow.id == RoundPointRow.stop_id)
        .join(PointRow, PointRow.id == RoundPointRow.point_id)
        .join(ViewRow, ViewRow.id == RoundPointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == StopRow.equipment_id)
        .outerjoin(PersonRow, PersonRow.id == RoundQuestionRow.asked_by_id)
        .outerjoin(_Answers, _Answers.id == RoundQuestionRow.answered_by_id)
    )


def _question(
    row: RoundQuestionRow,
    row_uid: str,
    stop_id: int,
    point: PointRow,
    view: str,
    equipment: str,
    asked_by: str | None,
    answered_by: str | None,
) -> RoundQuestion:
    return RoundQuestion(
        id=row.id,
        round_id=row.round_id,
        row_uid=row_uid,
        stop_id=stop_id,
        point_id=point.id,
        point_tag=point.tag,
        point_title=f"{equipment}, {view}: {point.phase or point.name}",
        question=row.question,
        asked_at=row.created_at,
        asked_by=asked_by or "",
        answer=row.answer,
        answered_at=row.answered_at,
        answered_by=answered_by or "",
        version=row.version,
    )
