"""What came back without a reading, where the plan has it now, and what would be a better time."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from service.domain.carried_over import CarriedOver, better_time, carried_over
from service.domain.plan_visits import PlanSite
from service.domain.plans import PlanBody, Walk
from service.domain.stop_facts import EquipmentFacts
from service.storage import carried_over as unread
from service.storage.unit import Unit
from service.usecases.plans.better_times import sun_hours


@dataclass(frozen=True, slots=True)
class CarriedRow:
    """One equipment that was carried over; ``walk`` is None where it is on none of the plan.

    ``often`` says that it was carried over as many times in a row as its client wants to hear of.
    """

    carried: CarriedOver
    facts: EquipmentFacts
    walk: Walk | None
    better: str
    often: bool


def carried_rows(
    unit: Unit,
    body: PlanBody,
    facts: Mapping[int, EquipmentFacts],
    sites: Mapping[int, PlanSite],
    *,
    today: date | None = None,
) -> tuple[CarriedRow, ...]:
    """What of a plan was carried over, the most often first."""
    found = carried_over(unread.unread_at_sites(unit, body.site_ids))
    most = unread.most_carried_over(unit) if found else {}
    rows = [
        _row(one, body, facts[key], sites.get(facts[key].site_id), most=most[facts[key].site_id], today=today)
        for key, one in found.items()
        if key in facts
    ]
    return tuple(sorted(rows, key=lambda row: (-row.carried.times, row.facts.title, row.facts.id)))


def _row(
    carried: CarriedOver,
    body: PlanBody,
    facts: EquipmentFacts,
    site: PlanSite | None,
    *,
    most: int,
    today: date | None,
) -> CarriedRow:
    walk = body.walk_of(facts.id)
    day: date | None = None if walk is None else walk.day
    sun = None if site is None else sun_hours(site, day or body.month_on)
    better = better_time(carried, facts, day=day, today=today, sun=sun)
    return CarriedRow(carried, facts, walk, better, carried.times >= most)
