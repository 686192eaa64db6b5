"""Files that were looked at and wait for a yes: a day long, few for each person."""

import secrets
from datetime import datetime, timedelta

from sqlalchemy import delete, select

from service.errors import NotFound
from service.storage.tables.record import StagedFileRow
from service.storage.unit import Unit

KEPT_FOR = timedelta(days=1)
MOST_A_PERSON = 5


def stage(unit: Unit, *, person_id: int | None, file_name: str, content: bytes, now: datetime) -> str:
    """Keep a file; the secret name by which its sender finds it again."""
    unit.session.execute(delete(StagedFileRow).where(StagedFileRow.created_at < now - KEPT_FOR))
    older = (
        select(StagedFileRow.id)
        .where(StagedFileRow.person_id == person_id)
        .order_by(StagedFileRow.id.desc())
        .offset(MOST_A_PERSON - 1)
    )
    too_many = list(unit.session.scalars(older))
    unit.session.execute(delete(StagedFileRow).where(StagedFileRow.id.in_(too_many)))
    uid = secrets.token_urlsafe(24)
    unit.session.add(
        StagedFileRow(
            uid=uid, person_id=person_id, file_name=file_name[:200], content=content, created_at=now
        )
    )
    return uid


def staged(unit: Unit, uid: str, *, person_id: int | None, now: datetime) -> tuple[str, bytes]:
    """Name and content of a file this person sent within the last day.

    Raises
    ------
    NotFound
        No longer here, or another person's.
    """
    row = unit.session.scalar(select(StagedFileRow).where(StagedFileRow.uid == uid))
    if row is None or row.person_id != person_id or row.created_at < now - KEPT_FOR:
        raise NotFound("This file is no longer kept here.", remedy="Choose it again.")
    return row.file_name, row.content


def drop_staged(unit: Unit, uid: str) -> None:
    unit.session.execute(delete(StagedFileRow).where(StagedFileRow.uid == uid))
