"""Phrases for notes of pictures, by client."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from sqlalchemy import select

from service.domain.pictures import FIRST_PHRASES, Phrases
from service.storage.tables.pictures import PhrasesRow
from service.storage.tables.register import ClientRow, SiteRow
from service.storage.unit import Unit
from service.storage.versions import row_to_edit


def phrases_of_clients(unit: Unit, client_ids: Iterable[int] | None) -> tuple[Phrases, ...]:
    """The phrases of clients, by their names; of one that changed nothing, those the list begins with."""
    query = (
        select(ClientRow.id, ClientRow.name, PhrasesRow.lines, PhrasesRow.version)
        .outerjoin(PhrasesRow, PhrasesRow.client_id == ClientRow.id)
        .where(ClientRow.retired_at.is_(None))
        .order_by(ClientRow.name, ClientRow.id)
    )
    if client_ids is not None:
        query = query.where(ClientRow.id.in_(sorted(client_ids)))
    return tuple(
        Phrases(client_id, name, tuple(FIRST_PHRASES if lines is None else lines), version or 1)
        for client_id, name, lines, version in unit.session.execute(query)
    )


def phrases_of_site(unit: Unit, site_id: int) -> tuple[str, ...]:
    client = unit.session.scalar(select(SiteRow.client_id).where(SiteRow.id == site_id))
    return (
        ()
        if client is None
        else next((one.lines for one in phrases_of_clients(unit, [client])), FIRST_PHRASES)
    )


def begin_phrases(unit: Unit, client_id: int, *, now: datetime) -> int:
    """The row of a client's phrases, made where there is none; its id."""
    row = unit.session.scalar(select(PhrasesRow).where(PhrasesRow.client_id == client_id))
    if row is None:
        row = PhrasesRow(client_id=client_id, lines=list(FIRST_PHRASES), created_at=now, changed_at=now)
        unit.session.add(row)
        unit.session.flush()
    return row.id


def change_phrases(unit: Unit, row_id: int, lines: Sequence[str], *, version: int, now: datetime) -> None:
    """Put other lines in their place.

    Raises
    ------
    Stale
        Somebody changed them since ``version``.
    """
    row_to_edit(unit, PhrasesRow, row_id, version=version, now=now).lines = list(lines)
    unit.session.flush()
