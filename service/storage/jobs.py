"""Work that follows: written in the same transaction as its cause, taken by lease."""

from datetime import datetime
from typing import Any

from sqlalchemy import select

from service.storage.tables.record import JobRow
from service.storage.unit import Unit


def put(
    unit: Unit, kind: str, payload: dict[str, Any], *, now: datetime, dedupe_key: str | None = None
) -> None:
    """Add a job; with a ``dedupe_key`` that is there already, nothing is added."""
    if dedupe_key is not None:
        known = unit.session.scalar(select(JobRow.id).where(JobRow.dedupe_key == dedupe_key))
        if known is not None:
            return
    unit.session.add(JobRow(kind=kind, payload=payload, dedupe_key=dedupe_key, run_at=now, created_at=now))
