"""Against lost updates: an edit names the version it was made on."""

from datetime import datetime
from typing import TypeVar

from service.errors import NotFound, Stale
from service.storage.tables.base import Kept
from service.storage.unit import Unit

Row = TypeVar("Row", bound=Kept)


def locked_row(unit: Unit, table: type[Row], row_id: int) -> Row | None:
    """The row as it is now, held until the end of the writing unit; None where there is none.

    Nobody else can change what this unit holds, so that a second time is not asked again.
    """
    held: dict[tuple[type[Kept], int], Kept] = unit.session.info.setdefault("held", {})
    row = held.get((table, row_id))
    if not isinstance(row, table) or row not in unit.session:
        row = unit.session.get(table, row_id, with_for_update=True, populate_existing=True)
        if row is not None:
            held[table, row_id] = row
    return row


def row_to_edit(unit: Unit, table: type[Row], row_id: int, *, version: int, now: datetime) -> Row:
    """The row, locked, with its version counted up.

    Raises
    ------
    NotFound
        No such row.
    Stale
        Somebody changed it since ``version`` was read.
    """
    row = locked_row(unit, table, row_id)
    if row is None:
        raise NotFound()
    if row.version != version:
        raise Stale(row.version)
    row.version += 1
    row.changed_at = now
    return row
