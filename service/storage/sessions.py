"""Sessions of browsers and tries to sign in."""

from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, and_, delete, func, select, update

from service.domain.people import Person, Session
from service.storage.people import person_of
from service.storage.tables.people import LoginTryRow, PersonRow, SessionRow
from service.storage.unit import Unit

KEEP_ENDED = timedelta(days=30)


def add_session(
    unit: Unit, person_id: int, *, secret_digest: str, now: datetime, expires_at: datetime
) -> int:
    row = SessionRow(
        secret_hash=secret_digest, person_id=person_id, created_at=now, expires_at=expires_at, seen_at=now
    )
    unit.session.add(row)
    unit.session.flush()
    return row.id


def session_by_digest(unit: Unit, secret_digest: str) -> tuple[Session, Person] | None:
    """The session and whose it is, alive or not."""
    found = unit.session.execute(
        select(SessionRow, PersonRow)
        .join(PersonRow, PersonRow.id == SessionRow.person_id)
        .where(SessionRow.secret_hash == secret_digest)
    ).one_or_none()
    if found is None:
        return None
    row, person = found
    session = Session(
        id=row.id,
        person_id=row.person_id,
        created_at=row.created_at,
        expires_at=row.expires_at,
        seen_at=row.seen_at,
        revoked_at=row.revoked_at,
    )
    return session, person_of(person)


def note_session_seen(unit: Unit, session_id: int, *, now: datetime) -> None:
    unit.session.execute(update(SessionRow).where(SessionRow.id == session_id).values(seen_at=now))


def revoke_session(unit: Unit, secret_digest: str, *, now: datetime) -> int:
    """End one session; the number of sessions it ended."""
    return _revoke(unit, SessionRow.secret_hash == secret_digest, now)


def revoke_sessions_of(unit: Unit, person_id: int, *, now: datetime, besides: str = "") -> int:
    """End every session of a person but the one of a digest; how many there were."""
    others = and_(SessionRow.person_id == person_id, SessionRow.secret_hash != besides)
    return _revoke(unit, others, now)


def _revoke(unit: Unit, which: ColumnElement[bool], now: datetime) -> int:
    ended = unit.session.execute(
        update(SessionRow)
        .where(which, SessionRow.revoked_at.is_(None))
        .values(revoked_at=now)
        .returning(SessionRow.id)
    )
    return len(ended.all())


def forget_ended(unit: Unit, *, now: datetime) -> None:
    """Drop sessions that ended a month ago and tries of yesterday."""
    unit.session.execute(delete(SessionRow).where(SessionRow.expires_at < now - KEEP_ENDED))
    unit.session.execute(delete(LoginTryRow).where(LoginTryRow.at < now - timedelta(days=1)))


def count_and_add_try(unit: Unit, key: str, *, since: datetime, now: datetime) -> int:
    """Note one try and say how many there were before it since an instant.

    Tries of one key wait for each other, so that many at once are counted one by one.
    """
    if unit.dialect == "postgresql":
        unit.session.execute(select(func.pg_advisory_xact_lock(func.hashtextextended(key, 0))))
    earlier = unit.session.scalar(
        select(func.count()).select_from(LoginTryRow).where(LoginTryRow.key == key, LoginTryRow.at > since)
    )
    unit.session.add(LoginTryRow(key=key, at=now))
    return earlier or 0


def forget_tries(unit: Unit, key: str) -> None:
    unit.session.execute(delete(LoginTryRow).where(LoginTryRow.key == key))
