"""Secret addresses of calendars."""

from datetime import datetime

from sqlalchemy import select, update

from service.domain.calendars import CalendarFeed
from service.domain.people import Person
from service.storage.people import person_of
from service.storage.tables.people import PersonRow
from service.storage.tables.planning import CalendarFeedRow
from service.storage.unit import Unit


def feed_by_digest(unit: Unit, secret_digest: str) -> tuple[CalendarFeed, Person] | None:
    """The feed and whose it is, alive or not."""
    found = unit.session.execute(
        select(CalendarFeedRow, PersonRow)
        .join(PersonRow, PersonRow.id == CalendarFeedRow.person_id)
        .where(CalendarFeedRow.secret_hash == secret_digest)
    ).one_or_none()
    return None if found is None else (_feed(found[0]), person_of(found[1]))


def feed_by_id(unit: Unit, feed_id: int) -> CalendarFeed | None:
    row = unit.session.get(CalendarFeedRow, feed_id)
    return None if row is None else _feed(row)


def living_feed_of(unit: Unit, person_id: int) -> CalendarFeed | None:
    """The newest of a person that was not revoked."""
    alive = (CalendarFeedRow.person_id == person_id, CalendarFeedRow.revoked_at.is_(None))
    query = select(CalendarFeedRow).where(*alive).order_by(CalendarFeedRow.id.desc()).limit(1)
    row = unit.session.scalar(query)
    return None if row is None else _feed(row)


def add_feed(unit: Unit, person_id: int, *, secret_digest: str, prefix: str, now: datetime) -> CalendarFeed:
    row = CalendarFeedRow(person_id=person_id, secret_hash=secret_digest, prefix=prefix, created_at=now)
    unit.session.add(row)
    unit.session.flush()
    return _feed(row)


def revoke_feeds_of(unit: Unit, person_id: int, *, now: datetime) -> None:
    """End every living one of a person."""
    alive = (CalendarFeedRow.person_id == person_id, CalendarFeedRow.revoked_at.is_(None))
    unit.session.execute(update(CalendarFeedRow).where(*alive).values(revoked_at=now))


def note_feed_used(unit: Unit, feed_id: int, *, now: datetime) -> None:
    unit.session.execute(update(CalendarFeedRow).where(CalendarFeedRow.id == feed_id).values(used_at=now))


def _feed(row: CalendarFeedRow) -> CalendarFeed:
    return CalendarFeed(
        id=row.id,
        person_id=row.person_id,
        prefix=row.prefix,
        created_at=row.created_at,
        used_at=row.used_at,
        revoked_at=row.revoked_at,
    )
