"""Writing sets of criteria: a new one, an edit in place, the next version of one in use."""

from collections.abc import Iterable
from datetime import date, datetime

from sqlalchemy import delete, func, select

from service.domain.criteria import Criteria
from service.errors import Conflict, NotFound, Stale
from service.storage.criteria import KEPT, body_to_keep, edits_of
from service.storage.tables.register import ClientRow, CriteriaSetRow
from service.storage.unit import Unit


def names_taken(unit: Unit) -> set[str]:
    return set(unit.session.scalars(select(CriteriaSetRow.name).distinct()))


def client_names(unit: Unit, client_ids: Iterable[int] | None) -> dict[int, str]:
    """By id the names of clients; None for all of them."""
    query = select(ClientRow.id, ClientRow.name).where(ClientRow.retired_at.is_(None))
    if client_ids is not None:
        query = query.where(ClientRow.id.in_(sorted(client_ids)))
    return dict(unit.session.execute(query.order_by(ClientRow.name)).all())


def row_of_set(unit: Unit, criteria_id: int, *, edits: int) -> CriteriaSetRow:
    """The row of a set, locked, as long as it is the newest version and as it was read.

    Raises
    ------
    NotFound
        No such set.
    Conflict
        A later version of it is kept.
    Stale
        It was written since.
    """
    row = unit.session.get(CriteriaSetRow, criteria_id, with_for_update=True, populate_existing=True)
    if row is None:
        raise NotFound("There is no such set of criteria.")
    if edits_of(row.body) != edits:
        raise Stale(edits_of(row.body))
    newest = unit.session.scalar(
        select(func.max(CriteriaSetRow.version)).where(CriteriaSetRow.name == row.name)
    )
    if newest != row.version:
        raise Conflict(f"Version {newest} of this set is newer.", remedy="Edit that one.")
    return row


def write_over(
    unit: Unit,
    row: CriteriaSetRow,
    criteria: Criteria,
    *,
    valid_from: date,
    now: datetime,
    by_person_id: int | None,
) -> None:
    """Write a set that was never in use over its row."""
    row.title, row.citation = criteria.title, criteria.citation
    row.confidence = criteria.confidence.value
    row.body = body_to_keep(criteria, edits=edits_of(row.body) + 1)
    row.valid_from, row.created_at, row.by_person_id = valid_from, now, by_person_id
    unit.session.flush()


def set_valid_from(unit: Unit, row: CriteriaSetRow, valid_from: date) -> None:
    """Switch a set on or off: what it says stays as it is."""
    row.valid_from = valid_from
    row.body = row.body | {KEPT: {**row.body.get(KEPT, {}), "edits": edits_of(row.body) + 1}}
    unit.session.flush()


def remove_set(unit: Unit, row: CriteriaSetRow) -> None:
    """Throw away a version that was never in use."""
    unit.session.execute(delete(CriteriaSetRow).where(CriteriaSetRow.id == row.id))
