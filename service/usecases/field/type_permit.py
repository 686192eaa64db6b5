"""Take in what a technician typed of a permit on the walk; the engineer's own word always wins."""

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.rounds import OPEN_FOR_READINGS, Permit, Round, Stop
from service.domain.typed_permits import LONGEST_NUMBER, PermitWords, TypedPermit, may_stand
from service.errors import Conflict, Invalid, NotFound
from service.intake.moments import Clock
from service.storage import audit, permits, round_facts, rounds, typed_permits
from service.storage.unit import Store, Unit
from service.usecases.field.keep import instants_of
from service.usecases.rounds.sight import round_to_change, round_to_see, round_walked_before
from service.usecases.rounds.typed_checks import problem, text_problems


@dataclass(frozen=True, slots=True)
class PermitShown:
    """The paper in a technician's hand: number, from and to on the clock of the site, and of which stop it is."""

    uid: str
    stop_id: int
    number: str
    valid_from: str
    valid_to: str
    device_time: str = ""
    skew_s: float | None = None


def type_permit(
    store: Store, actor: Actor, round_id: int, shown: PermitShown, *, now: datetime
) -> TypedPermit:
    """Keep what was typed of a permit; put it on the permit where nobody had typed one. It never grants anything.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who walks the round, or an engineer; who walked it until somebody else was given it is noted,
        and changes no permit.
    round_id : int
        The round.
    shown : PermitShown
        As shown by the issuer; the same again is the same.
    now : datetime
        The instant it was received.

    Raises
    ------
    Invalid
        No number, or times that are none; nothing was stored.
    NotFound, Forbidden
        Out of sight and never walked by this person, or not this role's.
    Conflict
        No permit was asked for the stop, the round is over, or the id names something else.
    """
    with store.begin() as unit:
        round_, walks = _round(unit, actor, round_id)
        stop = next((one for one in rounds.stops_of(unit, round_id) if one.id == shown.stop_id), None)
        if stop is None:
            raise Invalid([problem("stop_id", str(shown.stop_id), "No such stop here.", "Name one of it.")])
        zone = round_facts.equipment_facts(unit, [stop.equipment_id])[stop.equipment_id].time_zone
        number, valid_from, valid_to = _read(shown, round_, zone)
        said = (shown.stop_id, number, valid_from, valid_to, round_id)
        before = typed_permits.by_uid(unit, shown.uid)
        if before is not None:
            return _same(before, said)
        permit = _permit(unit, round_, stop)
        words = PermitWords(number, valid_from, valid_to)
        stands = walks and may_stand(permit, words, engineers=typed_permits.engineers_words(unit, permit.id))
        times = {"valid_from": valid_from, "valid_to": valid_to}
        if stands:
            fields = {"number": number, **times}
            permits.edit_permit(unit, permit.id, version=permit.version, fields=fields, now=now)
        row = {
            "uid": shown.uid,
            "round_id": round_id,
            "permit_id": permit.id,
            "stop_id": stop.id,
            "number": number,
            "stands": stands,
            "typed_at": instants_of(round_, shown.skew_s, now=now)(shown.device_time, zone),
            "received_at": now,
            "by_person_id": actor.person_id,
        }
        typed_permits.add(unit, row | times)
        _trail(unit, actor, permit, now=now, after={"number": number, "stands": stands, **asdict(shown)})
        kept = typed_permits.by_uid(unit, shown.uid)
        assert kept is not None
        return kept


def list_typed_permits(store: Store, actor: Actor, round_id: int) -> tuple[TypedPermit, ...]:
    """What was typed of a round's permits on its walk, the latest first.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        round_to_see(unit, actor, round_id)
        return typed_permits.of_round(unit, round_id)


def _round(unit: Unit, actor: Actor, round_id: int) -> tuple[Round, bool]:
    """The round, held, and whether it is this person's still."""
    walks = True
    try:
        round_ = round_to_change(unit, actor, round_id, verb=Verb.BRING_READINGS)
    except NotFound:
        round_, walks = round_walked_before(unit, actor, round_id), False
    if round_.state not in OPEN_FOR_READINGS:
        raise Conflict(f"Round {round_.code} is {round_.state}; its permits are settled")
    return round_, walks


def _read(shown: PermitShown, round_: Round, zone: str) -> tuple[str, datetime, datetime]:
    number = shown.number.strip()
    wrong = text_problems("number", number, longest=LONGEST_NUMBER, required="A permit has a number.")
    clock, times = Clock(round_.planned_on, round_.start_min), []
    for name in ("valid_from", "valid_to"):
        text = getattr(shown, name)
        read = clock.read(text, zone) if text.strip() else None
        if read is None or not read[1]:
            wrong.append(problem(name, text[:40], "This is no day and time.", "Type both from the permit."))
        else:
            times.append(read[0])
    if not wrong and times[1] <= times[0]:
        wrong.append(problem("valid_to", shown.valid_to, "It ends before it begins.", "Check both times."))
    if wrong:
        raise Invalid(wrong)
    return number, times[0], times[1]


def _same(before: TypedPermit, said: tuple[int, str, datetime, datetime, int]) -> TypedPermit:
    if (before.stop_id, before.number, before.valid_from, before.valid_to, before.round_id) != said:
        raise Conflict("This id names another permit already; nothing was stored", remedy="Use a new id.")
    return before


def _permit(unit: Unit, round_: Round, stop: Stop) -> Permit:
    if stop.permit_id is None:
        raise Conflict(
            f"No permit was asked for this stop of round {round_.code}",
            remedy="Tell the engineer; nothing is opened without one.",
        )
    return permits.lock_permit(unit, stop.permit_id)


def _trail(unit: Unit, actor: Actor, permit: Permit, *, now: datetime, after: dict[str, Any]) -> None:
    before = {"number": permit.number, "state": permit.state.value}
    audit.note(
        unit, actor, verb="type on the walk", noun="permit", noun_id=permit.id, site_id=permit.site_id,
        now=now, before=before, after=after,
    )  # fmt: skip
