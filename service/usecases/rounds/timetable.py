"""A round by the clock: when each stop is reached, whether it is loaded then, what else would fit."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from service.domain.cautions import access_words
from service.domain.load_hours import understood_hours
from service.domain.people import Actor
from service.domain.rounds import Permit, Round, Stop, closed_because, needs_permit
from service.domain.run_requests import RunRequest, run_words
from service.domain.stop_facts import EquipmentFacts, PointTally
from service.domain.words import Access, RoundState, RunRequestState
from service.planning.clock import Clock, DayPlan, DayRules, StopPlan, StopTime
from service.planning.day import reorder_for_load
from service.planning.places import Place, TravelRules
from service.storage import permits, round_facts, rounds, run_requests
from service.storage.unit import Store, Unit
from service.usecases.rounds.edit import reorder_stops
from service.usecases.rounds.sight import round_to_see

#: the share of common load from which a reading can clear
CLEARING_LOAD = 0.40
#: stands for "never on this day": no stop begins in a millisecond after midnight
_NEVER = ((0.0, 1e-5),)
#: candidates beside a round that are timed, and shown
MOST_CANDIDATES = 60
MOST_SHOWN = 12
#: days around a round in which another round counts as near
NEAR_DAYS = 45
#: what a reading is worth before it is divided by the minutes it takes (own weights, no source)
WORTH_DUE, WORTH_WORSENING, WORTH_ABOVE, WORTH_AGAIN, WORTH_OTHER = 1.0, 4.0, 2.0, 3.0, 0.1


@dataclass(frozen=True, slots=True)
class TimedStop:
    """One stop with all a page says of it. Minutes are of the day, on the clock of its site.

    ``idle_until_min`` is set for a stop outside its load hours that open later that day;
    ``closed`` says in words why it cannot be opened, empty when it can. ``run_request`` is what was
    asked last of a machine that runs in turn with others.
    """

    stop: Stop
    facts: EquipmentFacts
    tally: PointTally
    time: StopTime
    windows: tuple[tuple[int, int], ...]
    idle_until_min: float | None
    permit: Permit | None
    closed: str
    day: date
    run_request: RunRequest | None = None

    @property
    def will_not_run(self) -> bool:
        """The site said that this machine stands on the day of the round."""
        asked = self.run_request
        return asked is not None and asked.state is RunRequestState.REFUSED and asked.stands(self.day)

    @property
    def running(self) -> str:
        """What the site was asked about a machine that runs in turn; empty for any other."""
        group = self.facts.duty_group
        return f"Runs in turn ({group}). {run_words(self.run_request, self.day)}." if group else ""

    @property
    def access_words(self) -> str:
        """How it is reached: of a machine without a front, that it stands free."""
        free = self.facts.access is Access.CLOSED_FRONT and 0 < self.tally.points == self.tally.free
        return access_words(self.facts.access, free=free)

    @property
    def likely_to_clear(self) -> bool:
        share = self.facts.usual_load_share
        if self.will_not_run:
            return False
        return not self.time.outside_load_hours and (share is None or share >= CLEARING_LOAD)


@dataclass(frozen=True, slots=True)
class RoundDay:
    """The round by the clock and its six facts."""

    round: Round
    stops: tuple[TimedStop, ...]
    plan: DayPlan

    @property
    def points(self) -> int:
        return sum(stop.tally.points for stop in self.stops)

    @property
    def likely_to_clear(self) -> int:
        return sum(stop.tally.points for stop in self.stops if stop.likely_to_clear)

    @property
    def outside(self) -> tuple[TimedStop, ...]:
        return tuple(stop for stop in self.stops if stop.time.outside_load_hours)

    @property
    def behind_covers(self) -> int:
        return sum(needs_permit(stop.facts.access) for stop in self.stops)

    @property
    def travel_min(self) -> float:
        """Walking, driving, signing in, waiting and the break [min]."""
        rest = sum(stop.time.break_min for stop in self.stops)
        plan = self.plan
        return plan.walk_min + plan.drive_min + plan.sign_in_min + plan.wait_min + rest


@dataclass(frozen=True, slots=True)
class NotOnRound:
    """Equipment that is not on the round, and what it would add [min]."""

    facts: EquipmentFacts
    tally: PointTally
    added_min: float
    worth: float
    near_round_on: date | None


def stop_plan(key: int, facts: EquipmentFacts, *, minutes: int, day: date) -> StopPlan:
    """What the planner needs of one stop on one day."""
    place = Place(facts.site_id, facts.x_m, facts.y_m, facts.latitude, facts.longitude)
    hours = understood_hours(facts.load_hours)
    windows: tuple[tuple[float, float], ...] = ()
    if hours is not None:
        windows = tuple((float(a), float(b)) for a, b in hours.on(day.weekday())) or _NEVER
    return StopPlan(key=key, minutes=minutes, place=place, windows=windows)


def day_rules(round_: Round, facts: Sequence[EquipmentFacts]) -> DayRules:
    """Start of the round, and the sites' own minutes at the gate (their mean: one figure for all)."""
    gates = {one.site_id: one.setup_minutes for one in facts}
    gate = sum(gates.values()) / len(gates) if gates else TravelRules().sign_in_min
    return DayRules(start_min=float(round_.start_min), travel=replace(TravelRules(), sign_in_min=gate))


def read_day(store: Store, actor: Actor, round_id: int, *, now: datetime) -> RoundDay:
    """The timetable of a round.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who asks.
    round_id : int
        The round.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        return round_day(unit, round_to_see(unit, actor, round_id), today=now.date())


def round_day(unit: Unit, round_: Round, *, today: date) -> RoundDay:
    """The same inside a unit, for a round that is known to be in sight."""
    stops = rounds.stops_of(unit, round_.id)
    equipment = [stop.equipment_id for stop in stops]
    facts = round_facts.equipment_facts(unit, equipment)
    tallies = round_facts.tallies(unit, today=max(today, round_.planned_on), equipment_ids=equipment)
    in_turn = any(one.duty_group for one in facts.values())
    asked = run_requests.newest_of_round(unit, round_.id) if in_turn else {}
    papers = {permit.id: permit for permit in permits.permits_of(unit, round_.id)}
    day = round_.planned_on
    plans = [stop_plan(stop.id, facts[stop.equipment_id], minutes=stop.minutes, day=day) for stop in stops]
    plan = Clock(plans, day_rules(round_, list(facts.values()))).plan(range(len(plans)))
    timed = tuple(
        _timed(
            stop,
            facts[stop.equipment_id],
            tally=tallies.get(stop.equipment_id, PointTally(stop.equipment_id)),
            time=time,
            permit=papers.get(stop.permit_id or 0),
            day=day,
        )
        for stop, time in zip(stops, plan.stops, strict=True)
    )
    timed = tuple(replace(stop, run_request=asked.get(stop.facts.id)) for stop in timed) if asked else timed
    return RoundDay(round_, timed, plan)


def _timed(
    stop: Stop,
    facts: EquipmentFacts,
    *,
    tally: PointTally,
    time: StopTime,
    permit: Permit | None,
    day: date,
) -> TimedStop:
    hours = understood_hours(facts.load_hours)
    windows = () if hours is None else hours.on(day.weekday())
    later = time.next_opening_min
    opens_today = later is not None and bool(windows) and later < 24 * 60
    return TimedStop(
        stop=stop,
        facts=facts,
        tally=tally,
        time=time,
        windows=windows,
        idle_until_min=later if opens_today else None,
        permit=permit,
        closed=closed_because(facts.access, permit),
        day=day,
    )


def reorder_round_for_load(
    store: Store, actor: Actor, round_id: int, *, version: int, now: datetime
) -> Round:
    """Walk a draft in a better order: fewer stops outside their load hours, then a shorter day.

    Raises
    ------
    Conflict
        It is no draft any more.
    Stale
        Somebody changed it since ``version``.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        stops = rounds.stops_of(unit, round_id)
        facts = round_facts.equipment_facts(unit, [stop.equipment_id for stop in stops])
    plans = [
        stop_plan(stop.id, facts[stop.equipment_id], minutes=stop.minutes, day=round_.planned_on)
        for stop in stops
    ]
    better = reorder_for_load(plans, day_rules(round_, list(facts.values())))
    return reorder_stops(store, actor, round_id, [one.key for one in better], version=version, now=now)


def not_on_round(unit: Unit, actor: Actor, day: RoundDay, *, today: date) -> tuple[NotOnRound, ...]:
    """What could still be taken along: most told per minute added first.

    Candidates are the equipment of the round's sites, and what is due at the client's other sites.
    """
    round_ = day.round
    on_round = {stop.facts.id for stop in day.stops}
    here = {stop.facts.site_id for stop in day.stops}
    by = max(today, round_.planned_on)
    client_sites = [
        site for site, _, _ in round_facts.sites_in_sight(unit, actor.site_ids, client_id=round_.client_id)
    ]
    tallies = round_facts.tallies(unit, today=by, site_ids=list(here), limit=400)
    tallies |= round_facts.tallies(unit, today=by, site_ids=client_sites, due_only=True, limit=400)
    beside = [tally for equipment, tally in tallies.items() if equipment not in on_round]
    beside.sort(key=lambda tally: (-worth(tally), tally.equipment_id))
    beside = beside[:MOST_CANDIDATES]
    facts = round_facts.equipment_facts(unit, [tally.equipment_id for tally in beside])
    near = round_facts.occupied(
        unit,
        list(facts),
        first=round_.planned_on - timedelta(days=NEAR_DAYS),
        last=round_.planned_on + timedelta(days=NEAR_DAYS),
        states=[state.value for state in (RoundState.DRAFT, RoundState.ISSUED, RoundState.RETURNED)],
        but=round_.id,
    )
    added = _added_minutes(day, [facts[tally.equipment_id] for tally in beside])
    found = [
        NotOnRound(facts[tally.equipment_id], tally, minutes, worth(tally), near.get(tally.equipment_id))
        for tally, minutes in zip(beside, added, strict=True)
    ]
    found.sort(
        key=lambda one: (one.near_round_on is not None, -one.worth / max(one.added_min, 1.0), one.facts.id)
    )
    return tuple(found[:MOST_SHOWN])


def worth(tally: PointTally) -> float:
    """What reading an equipment would tell: due, worsening, above Nothing found, repaired."""
    other = max(tally.points - tally.due, 0)
    return (
        WORTH_DUE * tally.due
        + WORTH_WORSENING * tally.worsening
        + WORTH_ABOVE * tally.above_nothing
        + WORTH_AGAIN * tally.read_again
        + WORTH_OTHER * other
    )


def _added_minutes(day: RoundDay, candidates: Sequence[EquipmentFacts]) -> list[float]:
    """Minutes that each candidate adds to the day where it fits best."""
    round_ = day.round
    facts = [stop.facts for stop in day.stops] + list(candidates)
    minutes = [stop.stop.minutes for stop in day.stops] + [one.minutes for one in candidates]
    plans = [
        stop_plan(place, one, minutes=m, day=round_.planned_on)
        for place, (one, m) in enumerate(zip(facts, minutes, strict=True))
    ]
    clock = Clock(plans, day_rules(round_, facts))
    order = list(range(len(day.stops)))
    _, end = clock.cost(order)
    added = []
    for candidate in range(len(day.stops), len(facts)):
        ends = [clock.cost([*order[:at], candidate, *order[at:]])[1] for at in range(len(order) + 1)]
        added.append(min(ends) - (end if order else float(round_.start_min)))
    return added
