"""Permits of a round, and which stops stand under them."""

from collections.abc import Collection
from datetime import datetime
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import aliased

from service.domain.rounds import Permit
from service.domain.words import PermitState
from service.storage.tables.people import PersonRow
from service.storage.tables.rounds import PermitRow, StopRow
from service.storage.unit import Unit
from service.storage.versions import locked_row, row_to_edit


def permits_of(unit: Unit, round_id: int) -> tuple[Permit, ...]:
    return _read(unit, PermitRow.round_id == round_id)


def permits_of_rounds(unit: Unit, round_ids: Collection[int]) -> tuple[Permit, ...]:
    return _read(unit, PermitRow.round_id.in_(round_ids))


def permit_by_id(unit: Unit, permit_id: int) -> Permit | None:
    found = _read(unit, PermitRow.id == permit_id)
    return found[0] if found else None


def round_of_permit(unit: Unit, permit_id: int) -> int | None:
    """The round that a permit belongs to, for ever."""
    return unit.session.scalar(select(PermitRow.round_id).where(PermitRow.id == permit_id))


def lock_permit(unit: Unit, permit_id: int) -> Permit:
    """The permit as it is now, held until the end of the writing unit; it must be there."""
    locked_row(unit, PermitRow, permit_id)
    return _required(unit, permit_id)


def add_permit(
    unit: Unit, *, round_id: int, site_id: int, fields: dict[str, Any], by: int | None, now: datetime
) -> Permit:
    row = PermitRow(
        round_id=round_id,
        site_id=site_id,
        state=PermitState.ASKED.value,
        asked_at=now,
        asked_by_id=by,
        created_at=now,
        changed_at=now,
        **fields,
    )
    unit.session.add(row)
    unit.session.flush()
    return _required(unit, row.id)


def edit_permit(unit: Unit, permit_id: int, *, version: int, fields: dict[str, Any], now: datetime) -> Permit:
    row = row_to_edit(unit, PermitRow, permit_id, version=version, now=now)
    for name, value in fields.items():
        setattr(row, name, value)
    unit.session.flush()
    return _required(unit, permit_id)


def move_permit(
    unit: Unit, permit_id: int, *, version: int, to: PermitState, by: int | None, now: datetime
) -> Permit:
    """Granted or closed, with who and when."""
    row = row_to_edit(unit, PermitRow, permit_id, version=version, now=now)
    row.state = to.value
    if to is PermitState.GRANTED:
        row.granted_at, row.granted_by_id = now, by
    else:
        row.closed_at, row.closed_by_id = now, by
    unit.session.flush()
    return _required(unit, permit_id)


def put_under(unit: Unit, permit_id: int, stop_ids: Collection[int], *, round_id: int) -> None:
    """Exactly these stops of the round stand under the permit."""
    mine = StopRow.round_id == round_id
    unit.session.execute(
        update(StopRow)
        .where(mine, StopRow.permit_id == permit_id, StopRow.id.not_in(stop_ids))
        .values(permit_id=None)
    )
    unit.session.execute(update(StopRow).where(mine, StopRow.id.in_(stop_ids)).values(permit_id=permit_id))


def _required(unit: Unit, permit_id: int) -> Permit:
    found = permit_by_id(unit, permit_id)
    assert found is not None
    return found


#: Made once: three aliases cost more than the query they are for.
_ASKED, _GRANTED, _CLOSED = aliased(PersonRow), aliased(PersonRow), aliased(PersonRow)
_WITH_NAMES = (
    select(PermitRow, _ASKED.name, _GRANTED.name, _CLOSED.name)
    .outerjoin(_ASKED, _ASKED.id == PermitRow.asked_by_id)
    .outerjoin(_GRANTED, _GRANTED.id == PermitRow.granted_by_id)
    .outerjoin(_CLOSED, _CLOSED.id == PermitRow.closed_by_id)
    .order_by(PermitRow.id)
)


def _read(unit: Unit, condition: Any) -> tuple[Permit, ...]:
    query = _WITH_NAMES.where(condition)
    return tuple(
        Permit(
            id=row.id,
            round_id=row.round_id,
            site_id=row.site_id,
            number=row.number,
            issuer=row.issuer,
            covers=row.covers,
            valid_from=row.valid_from,
            valid_to=row.valid_to,
            escort=row.escort,
            stand_off=row.stand_off,
            state=PermitState(row.state),
            asked_at=row.asked_at,
            asked_by=asked_by or "",
            granted_at=row.granted_at,
            granted_by=granted_by or "",
            closed_at=row.closed_at,
            closed_by=closed_by or "",
            version=row.version,
        )
        for row, asked_by, granted_by, closed_by in unit.session.execute(query)
    )
