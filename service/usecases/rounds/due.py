"""Due points: keep their day and reason, and say what is due where."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from service.domain.due import due_of
from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.stop_facts import DueTotal, EquipmentFacts, PointTally
from service.errors import Forbidden
from service.storage import due, due_totals, round_facts, site_state
from service.storage.unit import Store, Unit


@dataclass(frozen=True, slots=True)
class DueEquipment:
    """One equipment with points whose day has come."""

    facts: EquipmentFacts
    tally: PointTally


@dataclass(frozen=True, slots=True)
class DueSite:
    """What is due at one site by a day."""

    site_id: int
    client_id: int
    name: str
    equipment: tuple[DueEquipment, ...]

    @property
    def points(self) -> int:
        return sum(one.tally.due for one in self.equipment)

    @property
    def minutes(self) -> int:
        return sum(one.facts.minutes for one in self.equipment)


def refresh_due(unit: Unit, point_ids: Collection[int], now: datetime) -> int:
    """Work out again when these points are due; called inside the transaction of the change.

    To be called when a reading has come in, a trend has changed, a finding was repaired or
    proven, and when the register changed what the interval stands on. A point without a row
    in the state table gets one.

    Parameters
    ----------
    unit : Unit
        The writing unit of the change.
    point_ids : collection of int
        The points.
    now : datetime
        The instant of the change; due days stand on stored visits, never on the clock.

    Returns
    -------
    int
        How many days or reasons changed.
    """
    changes = []
    for point in due.due_points(unit, point_ids):
        new = due_of(point)
        if not point.has_state or (new.on, new.reason) != (point.due_on, point.due_reason):
            changes.append((point, new))
    due.write_due(unit, changes)
    return len(changes)


def refresh_due_at(
    store: Store, *, now: datetime, point_ids: Collection[int] = (), site_ids: Collection[int] = ()
) -> int:
    """The same as work that follows a change: of these points, and of all points of these sites."""
    with store.begin() as unit:
        if site_ids:
            site_state.bump(unit, site_ids, now=now)
        wanted = {*point_ids, *due.points_of_sites(unit, site_ids)}
        return refresh_due(unit, wanted, now)


def list_due(
    store: Store, actor: Actor, *, until: date, site_id: int | None = None, now: datetime
) -> tuple[DueSite, ...]:
    """Sites with points due by a day, the site with most of them first.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Anybody but technicians, who see their own rounds only.
    until : date
        The last day that counts.
    site_id : int, optional
        Only this site.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound, Forbidden
        The site is out of sight, or this is not the role's.
    """
    require(actor, Verb.SEE, site_id=site_id)
    if own_rounds_only(actor) or actor.only_round is not None:
        raise Forbidden("Technicians see what is on their own rounds.")
    with store.look() as unit:
        return due_sites(unit, actor, until=until, site_id=site_id)


def due_sites(
    unit: Unit, actor: Actor, *, until: date, site_id: int | None = None, client_id: int | None = None
) -> tuple[DueSite, ...]:
    """The same inside a unit, for pages that show it beside other things."""
    sites = {
        one: (of_client, name)
        for one, of_client, name in round_facts.sites_in_sight(unit, actor.site_ids, client_id=client_id)
        if site_id is None or one == site_id
    }
    tallies = round_facts.tallies(unit, today=until, site_ids=list(sites), due_only=True, limit=None)
    facts = round_facts.equipment_facts(unit, list(tallies))
    at_site: dict[int, list[DueEquipment]] = {}
    for equipment_id, tally in tallies.items():
        one = facts[equipment_id]
        at_site.setdefault(one.site_id, []).append(DueEquipment(one, tally))
    found = [
        DueSite(site, sites[site][0], sites[site][1], tuple(sorted(rows, key=_in_walking_order)))
        for site, rows in at_site.items()
    ]
    return tuple(sorted(found, key=lambda site: (-site.points, site.name)))


def count_due(unit: Unit, actor: Actor, *, until: date, now: datetime) -> tuple[DueTotal, ...]:
    """How much is due at each site in sight, the site with most of it first."""
    sites = [one for one, _, _ in round_facts.sites_in_sight(unit, actor.site_ids)]
    return due_totals.due_totals(unit, sites, until=until, today=now.date())


def _in_walking_order(row: DueEquipment) -> tuple[int, int, int, int]:
    facts = row.facts
    return facts.area_order, facts.area_id, facts.walking_order, facts.id
