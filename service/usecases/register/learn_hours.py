"""Suggest load hours and minutes of an equipment from its past visits; an engineer takes them, nothing else does."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from service.domain.hours_seen import LOOK_BACK_DAYS, HoursSuggestion, SeenPlace, suggested_hours
from service.domain.minutes_seen import MinutesSuggestion, suggested_minutes
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.register import Noun
from service.errors import Conflict, NotFound, Stale
from service.storage import register, visits_seen
from service.storage.unit import Store, Unit
from service.usecases.register.edit import edit_thing

MOST_LISTED = 200


@dataclass(frozen=True, slots=True)
class AsVisited:
    """What the visits of an equipment say of its load hours and its minutes."""

    hours: HoursSuggestion
    minutes: MinutesSuggestion

    @property
    def place(self) -> SeenPlace:
        return self.hours.place


@dataclass(frozen=True, slots=True)
class VisitedPage:
    """Equipment of a site with what its visits say; ``next_after`` is None on the last page."""

    site_id: int
    site_name: str
    items: tuple[AsVisited, ...]
    next_after: int | None


def see_as_visited(store: Store, actor: Actor, equipment_id: int, *, now: datetime) -> AsVisited:
    """What the visits of an equipment say.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.look() as unit:
        register.thing(unit, Noun.EQUIPMENT, equipment_id, sight=register.sight_of(actor))
        place = visits_seen.seen_place(unit, equipment_id)
        if place is None:
            raise NotFound()
        require(actor, Verb.KEEP_REGISTER, site_id=place.site_id)
        return _as_visited(unit, [place], now=now)[0]


def _as_visited(unit: Unit, places: Sequence[SeenPlace], *, now: datetime) -> tuple[AsVisited, ...]:
    since = now - timedelta(days=LOOK_BACK_DAYS)
    visits = visits_seen.visits_of_equipment(unit, [place.equipment_id for place in places], since=since)
    return tuple(
        AsVisited(
            suggested_hours(place, visits[place.equipment_id]),
            suggested_minutes(place, visits[place.equipment_id]),
        )
        for place in places
    )


def list_as_visited(
    store: Store, actor: Actor, site_id: int, *, now: datetime, after: int = 0, limit: int = 100
) -> VisitedPage:
    """Equipment of a site, each with what its visits say of its load hours and minutes.

    Parameters
    ----------
    store, actor
        Where, and for whom: an engineer of the site.
    site_id : int
        The site.
    now : datetime
        The instant of the request; visits of the last three years count.
    after, limit : int
        Id after which the page begins, and its size, at most 200.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.

    Notes
    -----
    Three queries, however many there are.
    """
    limit = min(limit, MOST_LISTED)
    with store.look() as unit:
        site = register.thing(unit, Noun.SITE, site_id, sight=register.sight_of(actor))
        require(actor, Verb.KEEP_REGISTER, site_id=site_id)
        places = visits_seen.seen_places(unit, site_id, after=after, limit=limit + 1)
        shown = places[:limit]
        items = _as_visited(unit, shown, now=now)
    more = shown[-1].equipment_id if len(places) > limit else None
    return VisitedPage(site_id, str(getattr(site, "name", "")), items, more)


def take_hours(
    store: Store, actor: Actor, equipment_id: int, *, text: str, version: int, now: datetime
) -> HoursSuggestion:
    """Keep the load hours that the visits say.

    Parameters
    ----------
    store, actor
        Where, and who: an engineer of the site.
    equipment_id : int
        The equipment.
    text : str
        The suggestion that was shown.
    version : int
        The version of the equipment that was shown.
    now : datetime
        The instant of the request.

    Raises
    ------
    Conflict
        The visits say something else by now, or nothing is offered.
    Stale
        The equipment was changed since.
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    seen = see_as_visited(store, actor, equipment_id, now=now).hours
    _check(seen.place, version, same=seen.offered and seen.text == text)
    _edit(store, actor, seen.place, fields={"load_hours": seen.text}, reason=seen.how, now=now)
    return seen


def take_minutes(
    store: Store, actor: Actor, equipment_id: int, *, minutes: int, version: int, now: datetime
) -> MinutesSuggestion:
    """Keep the minutes that the walks say; ``minutes`` is the suggestion that was shown.

    Raises
    ------
    Conflict
        The walks say something else by now, or nothing is offered.
    Stale
        The equipment was changed since ``version``.
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    seen = see_as_visited(store, actor, equipment_id, now=now).minutes
    _check(seen.place, version, same=seen.offered and seen.minutes == minutes)
    _edit(store, actor, seen.place, fields={"minutes": seen.minutes}, reason=seen.how, now=now)
    return seen


def _check(place: SeenPlace, version: int, *, same: bool) -> None:
    if place.version != version:
        raise Stale(place.version)
    if not same:
        raise Conflict(
            "The visits say something else by now.", remedy="Look at the suggestion again, then take it."
        )


def _edit(
    store: Store, actor: Actor, place: SeenPlace, *, fields: dict[str, Any], reason: str, now: datetime
) -> None:
    edit_thing(
        store,
        actor,
        Noun.EQUIPMENT,
        place.equipment_id,
        version=place.version,
        fields=fields,
        now=now,
        reason=reason,
    )
