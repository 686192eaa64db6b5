"""How long a session or a token lives, and when its use is noted."""

from datetime import datetime, timedelta

NOTE_USE_AFTER = timedelta(hours=1)


def alive(*, expires_at: datetime, revoked_at: datetime | None, now: datetime) -> bool:
    """True until it expires or is revoked, whichever comes first."""
    return revoked_at is None and now < expires_at


def worth_noting(last_seen: datetime | None, *, now: datetime) -> bool:
    """Use is noted once an hour: a write at every page would make readers wait for writers."""
    return last_seen is None or now - last_seen >= NOTE_USE_AFTER


def session_end(now: datetime, *, hours: int) -> datetime:
    return now + timedelta(hours=hours)
