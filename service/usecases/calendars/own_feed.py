"""The secret address of one's own calendar: made, shown once, revoked."""

from datetime import datetime

from service.domain.calendars import CalendarFeed
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.errors import Forbidden, NotFound
from service.security.tokens import digest, new_secret, prefix
from service.storage import audit, calendar_feeds
from service.storage.unit import Store

#: who walks rounds brings their readings in: the others would have an empty calendar
WALKS = Verb.BRING_READINGS


def read_feed(store: Store, actor: Actor) -> CalendarFeed | None:
    """One's own living feed; None where there is none.

    Raises
    ------
    Forbidden
        The role walks no rounds.
    """
    require(actor, WALKS)
    with store.look() as unit:
        return calendar_feeds.living_feed_of(unit, _owner(actor))


def make_feed(store: Store, actor: Actor, *, now: datetime) -> tuple[CalendarFeed, str]:
    """Make an address of one's own; the one before ends.

    Parameters
    ----------
    store : Store
        Where its digest is kept.
    actor : Actor
        The owner, signed in (a token makes no address).
    now : datetime
        The instant.

    Returns
    -------
    tuple of CalendarFeed and str
        The feed, and the secret in its address that is shown this once.

    Raises
    ------
    Forbidden
        The role walks no rounds, or a token or the service itself asked.
    """
    require(actor, WALKS)
    owner, secret = _owner(actor), new_secret()
    with store.begin() as unit:
        calendar_feeds.revoke_feeds_of(unit, owner, now=now)
        feed = calendar_feeds.add_feed(
            unit, owner, secret_digest=digest(secret), prefix=prefix(secret), now=now
        )
        audit.note(unit, actor, verb="make", noun="calendar feed", noun_id=feed.id, now=now)
        return feed, secret


def revoke_feed(store: Store, actor: Actor, feed_id: int, *, now: datetime) -> None:
    """End an address of one's own at once; twice is once.

    Raises
    ------
    NotFound
        No such feed, or somebody else's.
    """
    with store.begin() as unit:
        feed = calendar_feeds.feed_by_id(unit, feed_id)
        if feed is None or feed.person_id != actor.person_id:
            raise NotFound()
        if feed.revoked_at is None:
            calendar_feeds.revoke_feeds_of(unit, feed.person_id, now=now)
            audit.note(unit, actor, verb="revoke", noun="calendar feed", noun_id=feed_id, now=now)


def _owner(actor: Actor) -> int:
    if actor.person_id is None or actor.by_token:
        raise Forbidden("It is made by its owner, signed in.", remedy="Sign in and make it under Set-up.")
    return actor.person_id
