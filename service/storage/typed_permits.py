"""What was typed of permits on walks: kept, listed by permit and by round, settled by an engineer's word."""

from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, select, update
from sqlalchemy.orm import aliased

from service.domain.typed_permits import PermitWords, TypedPermit
from service.storage.tables.people import PersonRow
from service.storage.tables.record import AuditRow
from service.storage.tables.returns import TypedPermitRow
from service.storage.tables.rounds import PermitRow
from service.storage.unit import Unit

_Settler = aliased(PersonRow)


def of_permit(unit: Unit, permit_id: int) -> tuple[TypedPermit, ...]:
    """The latest first."""
    return _found(unit, TypedPermitRow.permit_id == permit_id)


def of_round(unit: Unit, round_id: int) -> tuple[TypedPermit, ...]:
    """The latest first."""
    its_own = select(PermitRow.id).where(PermitRow.round_id == round_id)
    return _found(unit, TypedPermitRow.permit_id.in_(its_own))


def by_uid(unit: Unit, uid: str) -> TypedPermit | None:
    return next(iter(_found(unit, TypedPermitRow.uid == uid)), None)


def add(unit: Unit, fields: dict[str, Any]) -> None:
    unit.session.add(TypedPermitRow(**fields))
    unit.session.flush()


def settle(unit: Unit, permit_id: int, *, by: int | None, now: datetime) -> None:
    """An engineer has seen to the permit: what was typed on walks waits for nobody any more."""
    waiting = (TypedPermitRow.permit_id == permit_id) & TypedPermitRow.settled_at.is_(None)
    unit.session.execute(update(TypedPermitRow).where(waiting).values(settled_at=now, settled_by_id=by))


def engineers_words(unit: Unit, permit_id: int) -> PermitWords:
    """What an engineer typed of it last, by the trail: on the permit itself a walk may have typed since."""
    mine = (AuditRow.noun == "permit", AuditRow.noun_id == permit_id, AuditRow.verb.in_(("ask", "edit")))
    query = select(AuditRow.after).where(*mine).order_by(AuditRow.id.desc()).limit(1)
    said = unit.session.scalar(query) or {}
    since, until = (_moment(said.get(name)) for name in ("valid_from", "valid_to"))
    return PermitWords(str(said.get("number", "")), since, until)


def _moment(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


def _found(unit: Unit, which: ColumnElement[bool]) -> tuple[TypedPermit, ...]:
    query = (
        select(TypedPermitRow, PersonRow.name, _Settler.name)
        .outerjoin(PersonRow, PersonRow.id == TypedPermitRow.by_person_id)
        .outerjoin(_Settler, _Settler.id == TypedPermitRow.settled_by_id)
        .where(which)
        .order_by(TypedPermitRow.id.desc())
    )
    return tuple(_typed(*row) for row in unit.session.execute(query))


def _typed(row: TypedPermitRow, by: str | None, settled_by: str | None) -> TypedPermit:
    return TypedPermit(
        id=row.id,
        uid=row.uid,
        round_id=row.round_id,
        permit_id=row.permit_id,
        stop_id=row.stop_id,
        number=row.number,
        valid_from=row.valid_from,
        valid_to=row.valid_to,
        stands=row.stands,
        typed_at=row.typed_at,
        received_at=row.received_at,
        by=by or "",
        settled_at=row.settled_at,
        settled_by=settled_by or "",
    )
