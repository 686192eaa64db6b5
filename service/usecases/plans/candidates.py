"""What a plan stands on, gathered: visits due, who walks when, what is shut, what is taken already."""

import calendar
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from service.domain.carried_over import carried_over
from service.domain.cover_price import priced
from service.domain.duty_groups import in_turn
from service.domain.forecasts import Forecast, unfit_at
from service.domain.plan_levelling import levelled
from service.domain.plan_visits import PlanSite, Visit, visits_of, with_carried
from service.domain.planning import SiteClosure, WalkPart, WorkingDay
from service.domain.plans import PlanBody, Walk, walk_key
from service.domain.words import RoundState
from service.storage import carried_over as unread
from service.storage import due, forecasts, plan_sites, round_facts, rounds, walking_hours, walking_parties
from service.storage.due_totals import TAKEN
from service.storage.unit import Unit

#: equipment of a plan at most
MOST_EQUIPMENT = 50_000
#: shortest day that is worth setting out for [min]
LEAST_SHIFT_MIN = 60


@dataclass(frozen=True, slots=True)
class Ground:
    """All that a plan of a month needs to know of the register and of people.

    ``reach`` are by person the sites that their grants open; ``taken`` names by equipment the round to come that has it already; ``busy`` are the (day, person)
    of rounds that are not this plan's.
    """

    visits: tuple[Visit, ...]
    sites: dict[int, PlanSite]
    closures: tuple[SiteClosure, ...]
    reach: dict[int, frozenset[int]]
    taken: dict[int, str]
    busy: frozenset[tuple[date, int]]
    today: date
    forecasts: tuple[Forecast, ...] = ()
    cover_minutes: float = 0.0

    def unfit_days(self, site_id: int) -> frozenset[int]:
        """Days (ordinals) whose forecast keeps outdoor readings off at a site."""
        return frozenset(day.toordinal() for site, day in unfit_at(self.forecasts) if site == site_id)

    def spoiled_walks(self, body: PlanBody) -> frozenset[str]:
        """Keys of walks with outdoor stops at a site whose forecast is unfit that day."""
        site_of = {one.facts.id: one.facts.site_id for one in self.visits if one.facts.outdoor}
        unfit = unfit_at(self.forecasts)
        return frozenset(
            walk.key
            for walk in body.walks
            if any((site_of.get(stop.equipment_id, 0), walk.day) in unfit for stop in walk.stops)
        )

    @property
    def outdoor(self) -> frozenset[int]:
        """Equipment that stands outdoors."""
        return frozenset(visit.facts.id for visit in self.visits if visit.facts.outdoor)

    @property
    def by_equipment(self) -> dict[int, Visit]:
        return {visit.facts.id: visit for visit in self.visits}


def month_span(month_on: date) -> tuple[date, date]:
    """First and last day of a month."""
    last = calendar.monthrange(month_on.year, month_on.month)[1]
    return month_on.replace(day=1), month_on.replace(day=last)


def read_ground(
    unit: Unit, *, client_id: int, body: PlanBody, own_rounds: Iterable[int], today: date
) -> Ground:
    """Visits of the plan's sites by the end of its month, and what stands in their way."""
    first, last = month_span(body.month_on)
    site_ids = list(body.site_ids)
    facts = round_facts.equipment_in_walking_order(unit, site_ids=site_ids, limit=MOST_EQUIPMENT)
    points = due.due_points(unit, due.points_of_sites(unit, site_ids))
    taken, busy = _other_rounds(unit, client_id, first, last, own=set(own_rounds), today=today)
    visits = visits_of(facts, points, first=max(first, min(today, last)), last=last, wanted=body.on_walks)
    visits = in_turn(with_carried(visits, carried_over(unread.unread_at_sites(unit, site_ids))), facts)
    visits = levelled(
        visits,
        month_on=first,
        minutes=_offered(body.walks),
        qualified_min=_offered(walk for walk in body.walks if walk.qualified),
    )
    cover_minutes = plan_sites.cover_minutes(unit, client_id)
    return Ground(
        visits=priced(visits, cover_minutes),
        sites=plan_sites.sites_to_plan(unit, site_ids),
        closures=walking_hours.closures_between(unit, site_ids, from_on=first, to_on=last),
        reach=walking_parties.sites_reached(unit, site_ids, client_id=client_id),
        taken=taken,
        busy=busy,
        today=today,
        cover_minutes=cover_minutes,
        forecasts=forecasts.forecasts_between(unit, site_ids, first=first, last=last),
    )


def _offered(walks: Iterable[Walk]) -> float:
    """Minutes of the shifts that are walked."""
    return float(sum(walk.end_min - walk.start_min for walk in walks if not walk.lost))


def _other_rounds(
    unit: Unit, client_id: int, first: date, last: date, *, own: set[int], today: date
) -> tuple[dict[int, str], frozenset[tuple[date, int]]]:
    """Equipment on rounds to come that are not the plan's, and who walks them when."""
    taken: dict[int, str] = {}
    busy = set()
    here = rounds.rounds_of_client(unit, client_id, first=min(first, today), last=last)
    others = [one for one in here if one.id not in own and one.state is not RoundState.WITHDRAWN]
    to_come = [one.id for one in others if one.state in TAKEN and one.planned_on >= today]
    stops = rounds.stops_of_rounds(unit, to_come)
    for round_ in others:
        taken |= {stop.equipment_id: round_.code for stop in stops.get(round_.id, ())}
        if first <= round_.planned_on:
            people = (round_.person_id, round_.second_person_id)
            busy |= {(round_.planned_on, person) for person in people if person is not None}
    return taken, frozenset(busy)


def walks_of(
    days: Iterable[WorkingDay], *, busy: frozenset[tuple[date, int]], from_on: date
) -> tuple[Walk, ...]:
    """A walk for each day of everybody who reads, with somebody to go along while there is one.

    Those who cannot open covers by themselves get company first; hours are those that both have.
    """
    by_day: dict[date, list[WorkingDay]] = {}
    for one in days:
        if not one.why_not and one.day >= from_on and (one.day, one.person_id) not in busy:
            by_day.setdefault(one.day, []).append(one)
    return tuple(walk for day in sorted(by_day) for walk in _walks_on(by_day[day]))


def _walks_on(here: list[WorkingDay]) -> list[Walk]:
    readers = sorted((one for one in here if one.part is WalkPart.READS), key=lambda one: one.person_id)
    company = sorted((one for one in here if one.part is WalkPart.GOES_ALONG), key=lambda one: one.person_id)
    walks = []
    for reader in sorted(readers, key=lambda one: (one.qualified, one.person_id)):
        second = company.pop(0) if company else None
        walk = walk_of(reader, second)
        if walk.end_min - walk.start_min >= LEAST_SHIFT_MIN:
            walks.append(walk)
    return sorted(walks, key=lambda walk: walk.person_id)


def walk_of(reader: WorkingDay, second: WorkingDay | None) -> Walk:
    """The walk of somebody who reads, and of who goes along."""
    start, end = reader.start_min, reader.end_min
    if second is not None:
        start, end = max(start, second.start_min), min(end, second.end_min)
    return Walk(
        key=walk_key(reader.day, reader.person_id),
        day=reader.day,
        person_id=reader.person_id,
        second_id=None if second is None else second.person_id,
        start_min=start,
        end_min=max(start, end),
        qualified=reader.qualified or (second is not None and second.qualified),
        category=reader.category,
        latitude=reader.start_latitude,
        longitude=reader.start_longitude,
    )
