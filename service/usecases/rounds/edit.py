"""Change a round: its facts while it runs, its stops while it is a draft."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from service.domain.people import Actor
from service.domain.rounds import Round, check_draft, check_running, moved
from service.domain.words import RoundState
from service.errors import Invalid, NotFound, Problem
from service.storage import audit, former_walkers, rounds, site_state, walking_parties
from service.storage.unit import Store, Unit
from service.usecases.rounds.plan import equipment_in_sight
from service.usecases.rounds.sight import round_to_change
from service.usecases.rounds.typed_checks import (
    LONGEST_NAME,
    MOST_STOPS,
    day_problems,
    problem,
    text_problems,
)

MOST_MINUTES = 600


@dataclass(frozen=True, slots=True)
class RoundDetails:
    """Name, day and start (a draft's only), who walks, with what, in which weather."""

    name: str
    planned_on: date
    start_min: int
    person_id: int | None = None
    second_person_id: int | None = None
    instrument_id: int | None = None
    weather: str = ""
    note: str = ""

    def problems(self) -> list[Problem]:
        found = text_problems("name", self.name, longest=LONGEST_NAME, required="A round needs a name.")
        found += day_problems("planned_on", self.planned_on)
        found += text_problems("weather", self.weather, longest=LONGEST_NAME)
        found += text_problems("note", self.note)
        if not 0 <= self.start_min <= 1439:
            found.append(problem("start", str(self.start_min), "Not a time of the day.", "Type 07:00."))
        if self.person_id is not None and self.person_id == self.second_person_id:
            found.append(
                problem("second_person_id", "", "The second person is the first one.", "Choose another.")
            )
        return found


def details_of(round_: Round) -> RoundDetails:
    """What of a round may be edited, as it stands."""
    return RoundDetails(
        name=round_.name,
        planned_on=round_.planned_on,
        start_min=round_.start_min,
        person_id=round_.person_id,
        second_person_id=round_.second_person_id,
        instrument_id=round_.instrument_id,
        weather=round_.weather,
        note=round_.note,
    )


def edit_round(
    store: Store, actor: Actor, round_id: int, details: RoundDetails, *, version: int, now: datetime
) -> Round:
    """Replace the details of a round.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        The round is over; or it is issued and its day or name would change.
    Invalid
        Fields with problems, or a person or instrument that cannot be given to it.
    Stale
        Somebody changed it since ``version``.
    """
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id, version=version)
        check_running(round_)
        before = details_of(round_)
        if (details.name, details.planned_on, details.start_min) != (
            before.name,
            before.planned_on,
            before.start_min,
        ):
            check_draft(round_)
        problems = details.problems() + _party_problems(unit, round_, details)
        if problems:
            raise Invalid(problems)
        if round_.state is not RoundState.DRAFT:  # a draft is on nobody's phone
            walked, walk = _walkers(before), _walkers(details)
            former_walkers.keep_former_walkers(unit, round_id, walked - walk, until=now)
        fields = asdict(details) | {"name": details.name.strip()}
        after = rounds.touch_round(unit, round_id, version=version, now=now, **fields)
        changed = {
            name: value for name, value in asdict(details_of(after)).items() if value != getattr(before, name)
        }
        audit.note(
            unit,
            actor,
            verb="edit",
            noun="round",
            noun_id=round_id,
            now=now,
            before={name: getattr(before, name) for name in changed},
            after=changed,
        )
        return after


def _walkers(details: RoundDetails) -> set[int]:
    return {one for one in (details.person_id, details.second_person_id) if one is not None}


def _party_problems(unit: Unit, round_: Round, details: RoundDetails) -> list[Problem]:
    sites = rounds.site_ids_of(unit, round_.id)
    able = {w.id for w in walking_parties.walkers_for(unit, sites, client_id=round_.client_id)}
    found = []
    for field in ("person_id", "second_person_id"):
        chosen = getattr(details, field)
        if chosen is not None and chosen != getattr(round_, field) and chosen not in able:
            message = "Not somebody who may walk every site of this round."
            found.append(problem(field, str(chosen), message, "Choose from the list, or grant the sites."))
    instrument = walking_parties.instrument_by_id(unit, details.instrument_id)
    if details.instrument_id is not None and (instrument is None or instrument.client_id != round_.client_id):
        message = "No such instrument of this client."
        found.append(problem("instrument_id", str(details.instrument_id), message, "Choose from the list."))
    return found


def reorder_stops(
    store: Store, actor: Actor, round_id: int, stop_ids: Sequence[int], *, version: int, now: datetime
) -> Round:
    """Walk the stops of a draft in this order; every stop is named once.

    Raises
    ------
    Invalid
        A stop is missing, foreign or named twice.
    """
    with store.begin() as unit:
        round_ = _draft(unit, actor, round_id, version=version)
        here = [stop.id for stop in rounds.stops_of(unit, round_id)]
        if sorted(stop_ids) != sorted(here):
            message = "The order must name every stop of the round once."
            raise Invalid(
                [problem("stop_ids", f"{len(stop_ids)} of {len(here)}", message, "Read the round again.")]
            )
        return _order(unit, actor, round_, stop_ids, version=version, now=now)


def move_stop(
    store: Store, actor: Actor, round_id: int, stop_id: int, *, by: int, version: int, now: datetime
) -> Round:
    """One stop up (−1) or down (+1), for those who have no script or no mouse."""
    with store.begin() as unit:
        round_ = _draft(unit, actor, round_id, version=version)
        order = [stop.id for stop in rounds.stops_of(unit, round_id)]
        if stop_id not in order:
            raise NotFound()
        return _order(unit, actor, round_, moved(order, stop_id, by=by), version=version, now=now)


def _order(
    unit: Unit, actor: Actor, round_: Round, stop_ids: Sequence[int], *, version: int, now: datetime
) -> Round:
    rounds.set_order(unit, stop_ids)
    return _touched(
        unit, actor, round_, version=version, now=now, verb="reorder", after={"stops": [*stop_ids]}
    )


def add_stops(
    store: Store, actor: Actor, round_id: int, equipment_ids: Sequence[int], *, version: int, now: datetime
) -> Round:
    """Take equipment into a draft, each behind the last stop of its own site.

    Raises
    ------
    NotFound
        An equipment is absent or out of sight.
    Invalid
        It is retired, on the round already, of another client, or there are too many.
    """
    with store.begin() as unit:
        round_ = _draft(unit, actor, round_id, version=version)
        here = rounds.stops_of(unit, round_id)
        facts = equipment_in_sight(unit, actor, list(dict.fromkeys(equipment_ids)))
        problems = []
        on_round = {stop.equipment_id for stop in here}
        for one in facts:
            if one.retired_at is not None:
                problems.append(problem("equipment", one.tag, f"{one.name} is retired.", "Leave it out."))
            if one.id in on_round:
                problems.append(problem("equipment", one.tag, f"{one.name} is on the round.", "Leave it."))
            if one.client_id != round_.client_id:
                message = f"{one.name} belongs to another client."
                problems.append(problem("equipment", one.tag, message, "Build a round for that client."))
        if len(here) + len(facts) > MOST_STOPS:
            found = str(len(here) + len(facts))
            message = f"A round takes at most {MOST_STOPS} stops."
            problems.append(problem("equipment", found, message, "Split it over more days."))
        if problems:
            raise Invalid(problems)
        rounds.add_stops(
            unit, round_id, [(one.id, one.site_id, one.minutes) for one in facts], first=len(here) + 1
        )
        rounds.set_order(unit, _grouped(unit, round_id))
        site_state.bump(unit, {one.site_id for one in facts}, now=now)
        after = {"equipment": [one.id for one in facts]}
        return _touched(unit, actor, round_, version=version, now=now, verb="add stops", after=after)


def _grouped(unit: Unit, round_id: int) -> list[int]:
    """Stop ids with late-comers moved up behind the last stop of their site."""
    order: list[int] = []
    site_of: dict[int, int] = {}
    for stop in rounds.stops_of(unit, round_id):
        places = [place for place, other in enumerate(order) if site_of[other] == stop.site_id]
        order.insert(places[-1] + 1 if places else len(order), stop.id)
        site_of[stop.id] = stop.site_id
    return order


def remove_stop(
    store: Store, actor: Actor, round_id: int, stop_id: int, *, version: int, now: datetime
) -> Round:
    """Leave one stop out of a draft; what is due there stays due."""
    with store.begin() as unit:
        round_ = _draft(unit, actor, round_id, version=version)
        here = {stop.id: stop for stop in rounds.stops_of(unit, round_id)}
        if stop_id not in here:
            raise NotFound()
        rounds.remove_stop(unit, stop_id)
        rounds.set_order(unit, [other for other in here if other != stop_id])
        before = {"equipment": here[stop_id].equipment_id}
        return _touched(unit, actor, round_, version=version, now=now, verb="remove stop", before=before)


def set_stop_minutes(
    store: Store, actor: Actor, round_id: int, stop_id: int, *, minutes: int, version: int, now: datetime
) -> Round:
    """How long one takes at the equipment."""
    if not 0 <= minutes <= MOST_MINUTES:
        message = f"Minutes at an equipment lie between 0 and {MOST_MINUTES}."
        raise Invalid([problem("minutes", str(minutes), message, "Type them again.")])
    with store.begin() as unit:
        round_ = _draft(unit, actor, round_id, version=version)
        if stop_id not in {stop.id for stop in rounds.stops_of(unit, round_id)}:
            raise NotFound()
        rounds.set_minutes(unit, stop_id, minutes)
        after = {"stop": stop_id, "minutes": minutes}
        return _touched(unit, actor, round_, version=version, now=now, verb="set minutes", after=after)


def _draft(unit: Unit, actor: Actor, round_id: int, *, version: int) -> Round:
    round_ = round_to_change(unit, actor, round_id, version=version)
    check_draft(round_)
    return round_


def _touched(
    unit: Unit,
    actor: Actor,
    round_: Round,
    *,
    version: int,
    now: datetime,
    verb: str,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> Round:
    """Count the round's version up and write the trail: an order is a part of the round."""
    touched = rounds.touch_round(unit, round_.id, version=version, now=now)
    audit.note(
        unit,
        actor,
        verb=verb,
        noun="round",
        noun_id=round_.id,
        now=now,
        before=before,
        after=after,
    )
    return touched
