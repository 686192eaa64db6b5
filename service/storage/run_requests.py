"""Requests that machines which run in turn run for a visit."""

from collections.abc import Collection
from datetime import date, datetime

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import aliased

from service.domain.run_requests import RunRequest
from service.domain.words import RunRequestState
from service.storage.tables.people import PersonRow
from service.storage.tables.register import EquipmentRow, SiteRow
from service.storage.tables.rounds import RunRequestRow
from service.storage.unit import Unit
from service.storage.versions import locked_row, row_to_edit


def newest_of_round(unit: Unit, round_id: int) -> dict[int, RunRequest]:
    """By equipment the request that counts: the last one noted."""
    last = (
        select(func.max(RunRequestRow.id))
        .where(RunRequestRow.round_id == round_id)
        .group_by(RunRequestRow.equipment_id)
    )
    return {one.equipment_id: one for one in _read(unit, RunRequestRow.id.in_(last))}


def all_of_round(unit: Unit, round_id: int) -> tuple[RunRequest, ...]:
    """Every request of a round in the order in which they were noted."""
    return _read(unit, RunRequestRow.round_id == round_id)


def request_by_id(unit: Unit, request_id: int) -> RunRequest | None:
    found = _read(unit, RunRequestRow.id == request_id)
    return found[0] if found else None


def lock_request(unit: Unit, request_id: int) -> RunRequest:
    """The request as it is now, held until the end of the writing unit; it must be there."""
    locked_row(unit, RunRequestRow, request_id)
    return _required(unit, request_id)


def add_requests(
    unit: Unit,
    round_id: int,
    equipment_ids: Collection[int],
    *,
    day: date,
    asked_of: str,
    by: int | None,
    now: datetime,
) -> tuple[RunRequest, ...]:
    rows = [
        RunRequestRow(
            round_id=round_id,
            equipment_id=key,
            day=day,
            asked_of=asked_of,
            state=RunRequestState.ASKED.value,
            asked_at=now,
            asked_by_id=by,
            created_at=now,
            changed_at=now,
        )
        for key in equipment_ids
    ]
    unit.session.add_all(rows)
    unit.session.flush()
    return _read(unit, RunRequestRow.id.in_([row.id for row in rows]))


def note_answer(
    unit: Unit,
    request_id: int,
    *,
    version: int,
    state: RunRequestState,
    answer: str,
    by: int | None,
    now: datetime,
) -> RunRequest:
    row = row_to_edit(unit, RunRequestRow, request_id, version=version, now=now)
    row.state, row.answer = state.value, answer
    row.answered_at, row.answered_by_id = now, by
    unit.session.flush()
    return _required(unit, request_id)


def _required(unit: Unit, request_id: int) -> RunRequest:
    found = request_by_id(unit, request_id)
    assert found is not None
    return found


_ASKED, _ANSWERED = aliased(PersonRow), aliased(PersonRow)
_WITH_NAMES = (
    select(RunRequestRow, EquipmentRow.site_id, SiteRow.time_zone, _ASKED.name, _ANSWERED.name)
    .join(EquipmentRow, EquipmentRow.id == RunRequestRow.equipment_id)
    .join(SiteRow, SiteRow.id == EquipmentRow.site_id)
    .outerjoin(_ASKED, _ASKED.id == RunRequestRow.asked_by_id)
    .outerjoin(_ANSWERED, _ANSWERED.id == RunRequestRow.answered_by_id)
    .order_by(RunRequestRow.id)
)


def _read(unit: Unit, condition: ColumnElement[bool]) -> tuple[RunRequest, ...]:
    return tuple(
        RunRequest(
            id=row.id,
            round_id=row.round_id,
            equipment_id=row.equipment_id,
            site_id=site_id,
            zone=zone,
            day=row.day,
            asked_of=row.asked_of,
            state=RunRequestState(row.state),
            asked_at=row.asked_at,
            asked_by=asked_by or "",
            answer=row.answer,
            answered_at=row.answered_at,
            answered_by=answered_by or "",
            version=row.version,
        )
        for row, site_id, zone, asked_by, answered_by in unit.session.execute(_WITH_NAMES.where(condition))
    )
