"""Read a calendar: everybody's own under a secret address, and one round's for those who see it."""

from dataclasses import replace
from datetime import datetime, timedelta

from service.domain.calendars import RoundsCalendar
from service.domain.people import Actor
from service.errors import Conflict, NotFound
from service.security.sessions import worth_noting
from service.security.tokens import digest
from service.storage import calendar_feeds, grants, walked_rounds
from service.storage.unit import Store, Unit
from service.usecases.calendars.entries import cancelled_entries, entries_of
from service.usecases.calendars.reserve_entries import reserve_entries
from service.usecases.people.sign_in import actor_for, note_quietly
from service.usecases.rounds.sight import round_to_see, sight_of

#: how far back a calendar goes; ahead it has no end
BACK = timedelta(days=90)


def read_own_calendar(store: Store, secret: str, *, now: datetime) -> RoundsCalendar:
    """The rounds of whoever the secret was made for, from 90 days back on.

    Parameters
    ----------
    store : Store
        Where rounds are kept.
    secret : str
        As it stands in the address.
    now : datetime
        The instant of the request.

    Returns
    -------
    RoundsCalendar
        Rounds in sight that the person walks; those that the person was taken off, as cancelled; days
        that plans keep in reserve.

    Raises
    ------
    NotFound
        No such secret, a revoked one, or the account is closed: told alike.
    """
    with store.look() as unit:
        found = calendar_feeds.feed_by_digest(unit, digest(secret))
        if found is None or found[0].revoked_at is not None or not found[1].active:
            raise NotFound()
        feed, person = found
        actor = actor_for(person, grants.sights_of(unit, person.id))
        calendar = _of(unit, actor, person.id, now=now)
    if worth_noting(feed.used_at, now=now):
        note_quietly(store, lambda unit: calendar_feeds.note_feed_used(unit, feed.id, now=now))
    return calendar


def _of(unit: Unit, actor: Actor, person_id: int, *, now: datetime) -> RoundsCalendar:
    first = now.date() - BACK
    sight = replace(sight_of(actor), person_id=None)
    walked = walked_rounds.rounds_walked(unit, sight, person_id, first=first)
    left = walked_rounds.rounds_taken_off(unit, sight, person_id, first=first)
    entries = (
        *entries_of(unit, walked),
        *cancelled_entries(unit, left),
        *reserve_entries(unit, actor, person_id, first=now.date()),
    )
    ordered = sorted(entries, key=lambda entry: (entry.starts_at, entry.uid))
    return RoundsCalendar(f"Rounds of {actor.name}", tuple(ordered))


def read_round_calendar(store: Store, actor: Actor, round_id: int) -> RoundsCalendar:
    """One round for a calendar.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    Conflict
        It has no stops: no site, and so no clock.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        entries = entries_of(unit, [round_])
    if not entries:
        raise Conflict(f"Round {round_.code} has no stops", remedy="Add the first stop, then try again.")
    return RoundsCalendar(f"Round {round_.code}", entries)
