"""Scans of signed sheets: kept, listed by round, put to another stop, taken back."""

from datetime import datetime
from typing import Any

from sqlalchemy import Select, select, update
from sqlalchemy.orm import aliased

from service.domain.scans import Matched, ScanKind, SheetScan
from service.storage.tables.people import PersonRow
from service.storage.tables.returns import SheetScanRow
from service.storage.unit import Unit

_Back = aliased(PersonRow)


def scans_of_round(unit: Unit, round_id: int) -> tuple[SheetScan, ...]:
    """Scans that stand, in the order in which they came."""
    query = _scans().where(SheetScanRow.round_id == round_id, SheetScanRow.taken_back_at.is_(None))
    return tuple(_scan(*row) for row in unit.session.execute(query.order_by(SheetScanRow.id)))


def scan_of_round(unit: Unit, round_id: int, uid: str) -> SheetScan | None:
    """One scan of a round, also one that was taken back."""
    query = _scans().where(SheetScanRow.round_id == round_id, SheetScanRow.uid == uid)
    row = unit.session.execute(query).one_or_none()
    return None if row is None else _scan(*row)


def add_scan(unit: Unit, fields: dict[str, Any]) -> None:
    unit.session.add(SheetScanRow(**fields))
    unit.session.flush()


def put_to_stop(unit: Unit, scan_id: int, stop_id: int | None, *, matched: Matched) -> None:
    change = update(SheetScanRow).where(SheetScanRow.id == scan_id)
    unit.session.execute(change.values(stop_id=stop_id, matched=matched.value))


def take_back(unit: Unit, scan_id: int, *, reason: str, by: int | None, now: datetime) -> None:
    change = update(SheetScanRow).where(SheetScanRow.id == scan_id)
    unit.session.execute(change.values(taken_back_at=now, taken_back_by_id=by, taken_back_reason=reason))


def files_named(unit: Unit) -> tuple[str, ...]:
    """Names of all files that scans lie in."""
    names = select(SheetScanRow.stored_as).distinct().order_by(SheetScanRow.stored_as)
    return tuple(unit.session.scalars(names))


def _scans() -> Select[*tuple[Any, ...]]:
    return (
        select(SheetScanRow, PersonRow.name, _Back.name)
        .outerjoin(PersonRow, PersonRow.id == SheetScanRow.by_person_id)
        .outerjoin(_Back, _Back.id == SheetScanRow.taken_back_by_id)
    )


def _scan(row: SheetScanRow, by: str | None, back_by: str | None) -> SheetScan:
    return SheetScan(
        id=row.id,
        uid=row.uid,
        round_id=row.round_id,
        stop_id=row.stop_id,
        matched=Matched(row.matched),
        file_name=row.file_name,
        kind=ScanKind(row.kind),
        content_hash=row.content_hash,
        stored_as=row.stored_as,
        size_bytes=row.size_bytes,
        received_at=row.received_at,
        by=by or "",
        taken_back_at=row.taken_back_at,
        taken_back_by=back_by or "",
        taken_back_reason=row.taken_back_reason,
    )
