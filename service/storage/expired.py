"""Deleting what has outlived its use."""

from datetime import datetime
from typing import Any

from sqlalchemy import CursorResult, delete, or_

from service.storage.tables.people import LoginTryRow, SessionRow
from service.storage.tables.record import IdempotencyKeyRow
from service.storage.unit import Unit


def drop_sends_before(unit: Unit, moment: datetime) -> int:
    """Idempotency keys and the replies kept with them."""
    return _dropped(unit, delete(IdempotencyKeyRow).where(IdempotencyKeyRow.created_at < moment))


def drop_sessions_ended_before(unit: Unit, moment: datetime) -> int:
    ended = or_(SessionRow.expires_at < moment, SessionRow.revoked_at < moment)
    return _dropped(unit, delete(SessionRow).where(ended))


def drop_tries_before(unit: Unit, moment: datetime) -> int:
    return _dropped(unit, delete(LoginTryRow).where(LoginTryRow.at < moment))


def _dropped(unit: Unit, statement: Any) -> int:
    result = unit.session.execute(statement.execution_options(synchronize_session=False))
    assert isinstance(result, CursorResult)
    return int(result.rowcount)
