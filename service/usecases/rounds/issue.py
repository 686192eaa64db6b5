"""Issue a round: from here on it stands on paper and on the phone."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any

from service.domain.people import Actor
from service.domain.rounds import (
    Permit,
    Round,
    Stop,
    check_move,
    closed_because,
    needs_permit,
    stand_off_text,
)
from service.domain.run_requests import RunRequest, still_to_ask
from service.domain.sheet_codes import make_code
from service.domain.spots import Target, spot_warnings
from service.domain.stand_offs import stand_off_m
from service.domain.stop_facts import EquipmentFacts
from service.domain.walking_parties import RoundInstrument, Walker, certificate_warnings
from service.domain.words import PermitState, RoundState
from service.errors import Invalid, Problem
from service.storage import (
    audit,
    foretold,
    permits,
    round_facts,
    rounds,
    run_requests,
    settings,
    sheet_rows,
    site_state,
    walking_parties,
)
from service.storage.unit import Store, Unit
from service.usecases.rounds.sight import round_to_change
from service.usecases.rounds.typed_checks import problem, text_problems


@dataclass(frozen=True, slots=True)
class Issued:
    """The issued round, and what was pointed out (kept with its move)."""

    round: Round
    warnings: tuple[str, ...]
    points: int


@dataclass(frozen=True, slots=True)
class Outfit:
    """All that issuing looks at: stops with their facts, permits, people and instrument."""

    round: Round
    stops: tuple[Stop, ...]
    facts: dict[int, EquipmentFacts]
    permits: dict[int, Permit]
    points: dict[int, int]
    able: frozenset[int]
    person: Walker | None
    second: Walker | None
    instrument: RoundInstrument | None
    targets: tuple[Target, ...] = ()
    ifov_mrad: float | None = None
    run_requests: Mapping[int, RunRequest] = field(default_factory=dict)

    @property
    def unasked(self) -> tuple[str, ...]:
        """Machines that run in turn and that nobody was asked to run on the round's day."""
        facts = (self.facts[stop.equipment_id] for stop in self.stops)
        day = self.round.planned_on
        return tuple(
            one.title for one in facts if one.duty_group and still_to_ask(self.run_requests.get(one.id), day)
        )

    def permit_of(self, stop: Stop) -> Permit | None:
        return None if stop.permit_id is None else self.permits.get(stop.permit_id)

    @property
    def stand_offs_m(self) -> dict[int, float | None]:
        """By equipment: how near its permit, else the register, lets one stand [m]."""
        return {
            stop.equipment_id: stand_off_m(
                stand_off_text(self.facts[stop.equipment_id].stand_off, self.permit_of(stop))
            )
            for stop in self.stops
        }


def read_outfit(unit: Unit, round_: Round) -> Outfit:
    """Gather what `issue_problems` and `issue_warnings` judge."""
    stops = rounds.stops_of(unit, round_.id)
    equipment = [stop.equipment_id for stop in stops]
    points: dict[int, int] = dict.fromkeys(equipment, 0)
    for equipment_id, _, _, _ in sheet_rows.draft_points(unit, equipment):
        points[equipment_id] += 1
    people = walking_parties.walkers_by_id(unit, [round_.person_id, round_.second_person_id])
    sites = {stop.site_id for stop in stops}
    able = walking_parties.walkers_for(unit, sites, client_id=round_.client_id)
    instrument = walking_parties.instrument_by_id(unit, round_.instrument_id)
    optics = settings.instruments_of_client(unit, round_.client_id).get(round_.instrument_id or 0)
    facts = round_facts.equipment_facts(unit, equipment)
    in_turn = any(one.duty_group for one in facts.values())
    return Outfit(
        round=round_,
        stops=stops,
        facts=facts,
        permits={permit.id: permit for permit in permits.permits_of(unit, round_.id)},
        points=points,
        able=frozenset(walker.id for walker in able),
        person=people.get(round_.person_id or 0),
        second=people.get(round_.second_person_id or 0),
        instrument=instrument,
        targets=targets_of_round(round_, sheet_rows.targets_of(unit, equipment)),
        ifov_mrad=None if optics is None else optics.ifov_mrad,
        run_requests=run_requests.newest_of_round(unit, round_.id) if in_turn else {},
    )


def targets_of_round(round_: Round, targets: tuple[Target, ...]) -> tuple[Target, ...]:
    """A distance that holds for the whole round goes before those of its points."""
    held = round_.settings.get("distance_m")
    return targets if held is None else tuple(replace(one, distance_m=held["value"]) for one in targets)


def issue_problems(outfit: Outfit) -> list[Problem]:
    """Everything that stands in the way of issuing, all at once."""
    found = []
    if not outfit.stops:
        found.append(problem("stops", "", "The round has no stops.", "Add some.", where="round"))
    if outfit.person is None:
        message = "Nobody is named to walk it."
        found.append(problem("person_id", "", message, "Choose who reads.", where="round"))
    for name, walker in (("person_id", outfit.person), ("second_person_id", outfit.second)):
        if walker is not None and (not walker.active or walker.id not in outfit.able):
            message = "May not walk every site of this round, or has left."
            found.append(problem(name, walker.name, message, "Choose another, or grant.", where="round"))
    if outfit.instrument is not None and outfit.instrument.retired_at is not None:
        message = "This instrument is retired."
        found.append(
            problem("instrument_id", outfit.instrument.serial, message, "Choose another.", where="round")
        )
    for stop in outfit.stops:
        found += _stop_problems(outfit, stop)
    return found


def _stop_problems(outfit: Outfit, stop: Stop) -> list[Problem]:
    facts, where = outfit.facts[stop.equipment_id], f"stop {stop.position}"
    found = []
    if facts.retired_at is not None:
        found.append(
            problem(f"stop-{stop.id}", facts.tag, f"{facts.title} is retired.", "Take it out.", where=where)
        )
    elif not outfit.points[stop.equipment_id]:
        message = f"{facts.title} has no point to read."
        found.append(problem(f"stop-{stop.id}", facts.tag, message, "Take it out.", where=where))
    permit = outfit.permit_of(stop)
    if needs_permit(facts.access) and (permit is None or permit.state is PermitState.CLOSED):
        message = f"{facts.title} stands behind a {facts.access} and no permit is asked for."
        remedy = "Ask the site for one, and note it here."
        found.append(problem(f"stop-{stop.id}", facts.tag, message, remedy, where=where))
    return found


def issue_warnings(outfit: Outfit, *, day: date) -> list[str]:
    """What does not stand in the way, but is told and kept."""
    told = []
    instrument = outfit.instrument
    if instrument is None:
        told.append("No instrument is named.")
    elif instrument.calibration_overdue(day):
        due = instrument.calibration_due
        told.append(f"Calibration of {instrument.name} ({instrument.serial}) was due on {due}.")
    if instrument is not None and instrument.last_check is not None and instrument.last_check.failed:
        at = instrument.last_check.at.date()
        told.append(
            f"{instrument.name} ({instrument.serial}) was outside its accuracy when last checked, on {at}."
        )
    told += spot_warnings(
        outfit.targets,
        ifov_mrad=outfit.ifov_mrad,
        instrument="" if instrument is None else f"{instrument.name} ({instrument.serial})",
        stand_offs_m=outfit.stand_offs_m,
    )
    covered = [stop for stop in outfit.stops if needs_permit(outfit.facts[stop.equipment_id].access)]
    if covered and outfit.second is None:
        told.append(f"No second person is named for {_stops(len(covered))} behind covers.")
    party = [walker for walker in (outfit.person, outfit.second) if walker is not None]
    if covered and party and not any(walker.qualified for walker in party):
        told.append("Neither person is on record as qualified to open covers; the permit must name one.")
    if outfit.unasked:
        told.append(f"Nobody was asked to have this run for the visit: {', '.join(outfit.unasked)}.")
    told += certificate_warnings(outfit.person, outfit.second, day=day)
    shut = [
        stop
        for stop in covered
        if closed_because(outfit.facts[stop.equipment_id].access, outfit.permit_of(stop))
    ]
    if shut:
        told.append(
            f"{_stops(len(shut))} cannot be opened until number, from and to of the permit are typed."
        )
    return told


def _stops(count: int) -> str:
    return "1 stop" if count == 1 else f"{count} stops"


def _calibration_problems(outfit: Outfit, reason: str) -> list[Problem]:
    """With an instrument that is overdue on the day a round goes out only for a reason."""
    instrument, day = outfit.instrument, outfit.round.planned_on
    if instrument is None or not instrument.calibration_overdue(day):
        return []
    if not reason:
        message = (
            f"{instrument.name} ({instrument.serial}) is due for calibration before the round is walked."
        )
        remedy = "Say why it goes out all the same, or choose another instrument."
        return [problem("calibration_reason", "", message, remedy)]
    return text_problems("calibration_reason", reason)


def issue_round(
    store: Store, actor: Actor, round_id: int, *, version: int, now: datetime, calibration_reason: str = ""
) -> Issued:
    """Issue a draft: a row per point in walking order, and a code per sheet.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer.
    round_id : int
        The draft.
    version : int
        The version that was read.
    now : datetime
        The instant of the request.
    calibration_reason : str
        Why it goes out with an instrument whose calibration is due before the planned day;
        needed only then, and kept with the move and in the audit trail.

    Raises
    ------
    Conflict
        It is not a draft.
    Invalid
        All that is missing, at once; nothing was issued.
    Stale
        Somebody changed it since ``version``.
    """
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id, version=version)
        check_move(round_, RoundState.ISSUED)
        outfit = read_outfit(unit, round_)
        late = outfit.instrument is not None and outfit.instrument.calibration_overdue(round_.planned_on)
        reason = calibration_reason.strip() if late else ""
        problems = issue_problems(outfit) + _calibration_problems(outfit, reason)
        if problems:
            raise Invalid(problems)
        warnings = issue_warnings(outfit, day=round_.planned_on)
        warnings += [f"It goes out all the same: {reason}"] if reason else []
        points = _make_rows(unit, outfit)
        rounds.set_sheet_codes(unit, _new_codes(unit, outfit.stops))
        issued = rounds.move_round(
            unit,
            round_,
            RoundState.ISSUED,
            by=actor.person_id,
            now=now,
            note=" ".join(warnings),
            version=version,
        )
        site_state.bump(unit, {stop.site_id for stop in outfit.stops}, now=now)
        after = {"points": points, "warnings": warnings}
        after |= {"calibration_reason": reason} if reason else {}
        audit.note(unit, actor, verb="issue", noun="round", noun_id=round_id, now=now, after=after)
        return Issued(issued, tuple(warnings), points)


def _make_rows(unit: Unit, outfit: Outfit) -> int:
    of_equipment: dict[int, list[tuple[int, int, str]]] = {}
    for equipment_id, view_id, point_id, visit_kind in sheet_rows.draft_points(unit, list(outfit.facts)):
        of_equipment.setdefault(equipment_id, []).append((view_id, point_id, visit_kind))
    points = [point_id for several in of_equipment.values() for _view, point_id, _kind in several]
    told = foretold.foretold_of(unit, points)
    rows: list[dict[str, Any]] = []
    for stop in outfit.stops:
        for view_id, point_id, visit_kind in of_equipment[stop.equipment_id]:
            rows.append(
                {
                    "uid": _row_uid(),
                    "round_id": outfit.round.id,
                    "stop_id": stop.id,
                    "view_id": view_id,
                    "point_id": point_id,
                    "position": len(rows) + 1,
                    "visit_kind": visit_kind,
                    "foretold": told[point_id].to_dict() if point_id in told else None,
                }
            )
    rounds.add_points(unit, rows)
    return len(rows)


def _row_uid() -> str:
    """Begins with a letter, so that no spreadsheet takes it for a number."""
    return f"r{secrets.token_hex(8)}"


def _new_codes(unit: Unit, stops: tuple[Stop, ...]) -> dict[int, str]:
    codes: list[str] = []
    while len(codes) < len(stops):
        drawn = {make_code(secrets.randbelow) for _ in range(len(stops) - len(codes))} - set(codes)
        codes += sorted(drawn - rounds.codes_taken(unit, drawn))
    return {stop.id: code for stop, code in zip(stops, codes, strict=True)}
