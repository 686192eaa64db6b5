"""Suggest a common load from the loads seen on visits; an engineer takes it, nothing does so silently."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.loads_seen import LoadSuggestion, suggested_loads
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.reevaluation import Asked, NewValue, Reevaluated
from service.domain.register import Noun
from service.domain.words import ReevaluationTarget, SettingSource
from service.errors import Conflict, NotFound, Stale
from service.storage import loads_seen, register
from service.storage.unit import Store, Unit
from service.usecases.reevaluations.reevaluate import preview_reevaluation, reevaluate

MOST_LISTED = 500


@dataclass(frozen=True, slots=True)
class LoadsPage:
    """Points of a site whose load is only the rating; ``next_after`` is None on the last page."""

    site_id: int
    site_name: str
    items: tuple[LoadSuggestion, ...]
    next_after: int | None


def see_load_suggestion(store: Store, actor: Actor, point_id: int) -> LoadSuggestion:
    """What the visits of a point say of its common load.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.look() as unit:
        return _suggestion(unit, actor, point_id)


def _suggestion(unit: Unit, actor: Actor, point_id: int) -> LoadSuggestion:
    register.thing(unit, Noun.POINT, point_id, sight=register.sight_of(actor))
    place = loads_seen.load_place(unit, point_id)
    if place is None:
        raise NotFound()
    require(actor, Verb.KEEP_REGISTER, site_id=place.site_id)
    currents = loads_seen.currents_of_points(unit, [point_id])
    return suggested_loads([place], [currents[point_id]])[0]


def list_load_suggestions(
    store: Store, actor: Actor, site_id: int, *, after: int = 0, limit: int = 100
) -> LoadsPage:
    """Points of a site whose common load is only the rating, each with what its visits say.

    Parameters
    ----------
    store, actor
        Where, and for whom: an engineer of the site.
    site_id : int
        The site.
    after, limit : int
        Id after which the page begins, and its size, at most 500.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.

    Notes
    -----
    Three queries, however many points there are.
    """
    limit = min(limit, MOST_LISTED)
    with store.look() as unit:
        site = register.thing(unit, Noun.SITE, site_id, sight=register.sight_of(actor))
        require(actor, Verb.KEEP_REGISTER, site_id=site_id)
        places = loads_seen.places_on_rating(unit, site_id, after=after, limit=limit + 1)
        shown = places[:limit]
        currents = loads_seen.currents_of_points(unit, [place.point_id for place in shown])
    items = suggested_loads(shown, [currents[place.point_id] for place in shown])
    return LoadsPage(
        site_id, str(getattr(site, "name", "")), items, shown[-1].point_id if len(places) > limit else None
    )


def preview_load(store: Store, actor: Actor, point_id: int, *, now: datetime) -> Reevaluated | None:
    """What taking the suggestion would change; None where nothing is offered.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    suggestion = see_load_suggestion(store, actor, point_id)
    if not suggestion.offered:
        return None
    return preview_reevaluation(store, actor, asked=_asked(suggestion), now=now)


def take_load(
    store: Store, actor: Actor, point_id: int, *, amps: float, version: int, now: datetime
) -> Reevaluated:
    """Set the common load to what the visits say, and evaluate the point's readings again.

    Parameters
    ----------
    store, actor
        Where, and who: an engineer of the site.
    point_id : int
        The point.
    amps : float
        The suggestion that was shown [A].
    version : int
        The version of the point that was shown.
    now : datetime
        The instant of the request.

    Raises
    ------
    Conflict
        The visits say something else by now, or nothing is offered.
    Stale
        The point was changed since.
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    suggestion = see_load_suggestion(store, actor, point_id)
    if suggestion.place.version != version:
        raise Stale(suggestion.place.version)
    if not suggestion.offered or suggestion.amps != amps:
        raise Conflict(
            "The visits say something else by now.", remedy="Look at the suggestion again, then take it."
        )
    reason = f"Common load learned from visits: {suggestion.how}"
    return reevaluate(store, actor, asked=_asked(suggestion), reason=reason, now=now)


def _asked(suggestion: LoadSuggestion) -> Asked:
    assert suggestion.amps is not None
    new = NewValue(suggestion.amps, standing=SettingSource.MEASURED, how=suggestion.how)
    return Asked(
        ReevaluationTarget.POINT, suggestion.place.point_id, {"common_load_a": new}, from_now_on=True
    )
