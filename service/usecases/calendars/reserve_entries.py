"""Reserve days as entries of a calendar: tentative while they stand in for walks, cancelled once these came back."""

from collections.abc import Mapping
from datetime import date

from service.domain.calendars import CAUTION, CalendarEntry, EntryState, entry_uid
from service.domain.people import Actor
from service.domain.plan_visits import PlanSite
from service.domain.reserve_days import ReserveDay, reserve_days
from service.domain.site_clock import instant_at
from service.storage import plan_sites, plans, round_facts
from service.storage.plans import PlanAhead
from service.storage.unit import Unit
from service.usecases.plans.reserve import WALKED


def reserve_entries(unit: Unit, actor: Actor, person_id: int, *, first: date) -> tuple[CalendarEntry, ...]:
    """Days of a person that plans keep free, from the month of a day on; only where every site is in sight."""
    ahead = plans.plans_ahead(unit, None if actor.every_site else actor.clients, first=first)
    wanted = [one for one in ahead if all(actor.sees_site(site) for site in one.body.site_ids)]
    if not wanted:
        return ()
    facts = round_facts.equipment_facts(unit, {key for one in wanted for key in one.body.on_walks})
    outdoor = frozenset(key for key, one in facts.items() if one.outdoor)
    sites = plan_sites.sites_to_plan(unit, {site for one in wanted for site in one.body.site_ids})
    return tuple(
        _entry(one, day, sites)
        for one in wanted
        for day in reserve_days(one.body, outdoor, _walked(one))
        if day.walk.person_id == person_id
    )


def _walked(one: PlanAhead) -> frozenset[str]:
    return frozenset(key for key, state in one.states.items() if state in WALKED)


def _entry(one: PlanAhead, day: ReserveDay, sites: Mapping[int, PlanSite]) -> CalendarEntry:
    walk = day.walk
    zone = next((sites[site].time_zone for site in one.body.site_ids if site in sites), "UTC")
    before = ", ".join(other.named for other in day.stands_for) or "chosen by hand"
    said = "Given up: those walks came back." if day.walked else "Kept free in case the weather spoils them."
    return CalendarEntry(
        uid=entry_uid(f"reserve day {one.plan.id} {walk.key}", one.created_at),
        sequence=one.plan.version,
        created_at=one.created_at,
        changed_at=one.changed_at,
        starts_at=instant_at(walk.day, walk.start_min, zone=zone),
        ends_at=instant_at(walk.day, walk.end_min, zone=zone),
        state=EntryState.CANCELLED if day.walked else EntryState.TENTATIVE,
        summary="Reserve day for outdoor readings",
        client_code=one.client_code,
        client_name=one.client_name,
        lines=(f"For: {before}.", said, "", CAUTION),
    )
