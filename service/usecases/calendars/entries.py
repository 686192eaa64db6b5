"""Rounds as entries of a calendar: when, where, what is read, how the permits stand; never a reading."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from service.domain.calendars import CAUTION, STATE_OF, CalendarEntry, EntryState, entry_uid
from service.domain.rounds import Permit, Round, Stop, closed_because
from service.domain.site_clock import instant_at, minute_of_day
from service.domain.stop_facts import EquipmentFacts
from service.domain.walking_parties import Walker
from service.domain.words import PermitState, RoundState
from service.planning.clock import Clock, DayPlan
from service.storage import permits, round_facts, rounds, walked_rounds, walking_parties
from service.storage.unit import Unit
from service.storage.walked_rounds import RoundStamps
from service.usecases.rounds.timetable import day_rules, stop_plan

#: stops named one by one; a calendar is no place for more
MOST_STOPS = 40
OVER = (RoundState.SIGNED_OFF, RoundState.WITHDRAWN)
PERMIT_WORDS = {
    PermitState.GRANTED: "granted",
    PermitState.ASKED: "asked for",
    PermitState.CLOSED: "closed",
}


@dataclass(frozen=True, slots=True)
class _Told:
    """What stands with a batch of rounds, asked once for all."""

    stamps: Mapping[int, RoundStamps]
    stops: Mapping[int, Sequence[Stop]]
    facts: Mapping[int, EquipmentFacts]
    permits: Mapping[int, Permit]
    points: Mapping[int, int]
    people: Mapping[int, Walker]


def entries_of(unit: Unit, kept: Sequence[Round]) -> tuple[CalendarEntry, ...]:
    """An entry for each of these rounds, which are known to be in sight.

    A round without stops has no site yet, so no clock, and is left out.
    """
    if not kept:
        return ()
    told = _told(unit, kept)
    return tuple(_entry(round_, told) for round_ in kept if told.stops.get(round_.id))


def cancelled_entries(unit: Unit, kept: Sequence[Round]) -> tuple[CalendarEntry, ...]:
    """For somebody who was taken off these rounds: that they walk no more, and nothing else of them."""
    if not kept:
        return ()
    told = _told(unit, kept)
    return tuple(_cancelled(round_, told) for round_ in kept if told.stops.get(round_.id))


def _told(unit: Unit, kept: Sequence[Round]) -> _Told:
    """Everything of a batch, with as many statements for many rounds as for few."""
    ids = [round_.id for round_ in kept]
    stops = rounds.stops_of_rounds(unit, ids)
    equipment = {stop.equipment_id for of_round in stops.values() for stop in of_round}
    drafts = [round_.id for round_ in kept if round_.issued_at is None]
    rows = {round_id: made for round_id, (made, _) in round_facts.count_rows(unit, ids).items()}
    walkers = {one for round_ in kept for one in (round_.person_id, round_.second_person_id)}
    return _Told(
        stamps=walked_rounds.stamps_of(unit, ids),
        stops=stops,
        facts=round_facts.equipment_facts(unit, equipment),
        permits={permit.id: permit for permit in permits.permits_of_rounds(unit, ids)},
        points=round_facts.count_points(unit, drafts) | rows,
        people=walking_parties.walkers_by_id(unit, walkers),
    )


def _plan(round_: Round, told: _Told) -> DayPlan:
    stops = told.stops[round_.id]
    facts = [told.facts[stop.equipment_id] for stop in stops]
    plans = [
        stop_plan(stop.id, one, minutes=stop.minutes, day=round_.planned_on)
        for stop, one in zip(stops, facts, strict=True)
    ]
    return Clock(plans, day_rules(round_, facts)).plan(range(len(plans)))


def _entry(round_: Round, told: _Told) -> CalendarEntry:
    plan = _plan(round_, told)
    first = told.facts[told.stops[round_.id][0].equipment_id]
    starts_at = instant_at(round_.planned_on, round_.start_min, zone=first.time_zone)
    # a round takes as long as it takes, also on a night on which the clock is changed
    lasts_min = max(1, round(plan.back_by_min) - round_.start_min)
    stamps = told.stamps[round_.id]
    return CalendarEntry(
        uid=entry_uid(round_.code, stamps.created_at),
        sequence=round_.version,
        created_at=stamps.created_at,
        changed_at=stamps.changed_at,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(minutes=lasts_min),
        state=STATE_OF[round_.state],
        summary=f"{round_.name} ({round_.code})",
        client_code=stamps.client_code,
        client_name=stamps.client_name,
        place="; ".join(_sites(round_, told)),
        latitude=first.latitude,
        longitude=first.longitude,
        lines=_lines(round_, told, plan),
        round_id=round_.id,
    )


def _cancelled(round_: Round, told: _Told) -> CalendarEntry:
    """Times as they are by now; name, sites and stops may have changed since, and are left out."""
    entry = _entry(round_, told)
    return CalendarEntry(
        uid=entry.uid,
        sequence=entry.sequence,
        created_at=entry.created_at,
        changed_at=entry.changed_at,
        starts_at=entry.starts_at,
        ends_at=entry.ends_at,
        state=EntryState.CANCELLED,
        summary=round_.code,
        client_code=entry.client_code,
        client_name=entry.client_name,
        lines=("You no longer walk this round.",),
    )


def _sites(round_: Round, told: _Told) -> tuple[str, ...]:
    """Names of the round's sites, in walking order."""
    return tuple(dict.fromkeys(told.facts[stop.equipment_id].site_name for stop in told.stops[round_.id]))


def _lines(round_: Round, told: _Told, plan: DayPlan) -> tuple[str, ...]:
    stops = told.stops[round_.id]
    points = told.points.get(round_.id, 0)
    counts = f"{_counted(len(stops), 'stop')}, {_counted(points, 'point')}"
    return (
        f"{round_.state.capitalize()}. {counts}. Back by {minute_of_day(plan.back_by_min)} on the site's clock.",
        *_party(round_, told),
        _permits(round_, told),
        "",
        *(
            f"{minute_of_day(time.start_min)} {told.facts[stop.equipment_id].title} "
            f"({told.facts[stop.equipment_id].tag})"
            for stop, time in list(zip(stops, plan.stops, strict=True))[:MOST_STOPS]
        ),
        *([f"and {len(stops) - MOST_STOPS} more"] if len(stops) > MOST_STOPS else []),
        "",
        CAUTION,
    )


def _party(round_: Round, told: _Told) -> tuple[str, ...]:
    walkers = (("Reads", round_.person_id), ("Goes along", round_.second_person_id))
    known = [(word, told.people.get(person_id or 0)) for word, person_id in walkers]
    named = [f"{word}: {walker.name}." for word, walker in known if walker is not None]
    return (" ".join(named),) if named else ()


def _permits(round_: Round, told: _Told) -> str:
    states = Counter(permit.state for permit in told.permits.values() if permit.round_id == round_.id)
    noted = [f"{states[state]} {word}" for state, word in PERMIT_WORDS.items() if states[state]]
    closed = [f"{_counted(count, 'stop')} not open: {reason}" for reason, count in _shut(round_, told)]
    return f"Permits: {'; '.join([', '.join(noted) or 'none noted', *closed])}."


def _shut(round_: Round, told: _Told) -> list[tuple[str, int]]:
    """Why how many stops cannot be opened; of a round that is over nobody asks."""
    if round_.state in OVER:
        return []
    reasons = (
        closed_because(told.facts[stop.equipment_id].access, told.permits.get(stop.permit_id or 0))
        for stop in told.stops[round_.id]
    )
    return sorted(Counter(reason for reason in reasons if reason).items())


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun if count == 1 else f'{noun}s'}"
