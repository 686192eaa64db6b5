"""What is held aside: seen, taken in where it has a place after all, or set aside with a reason."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from service.domain.field_records import (
    CheckTyped,
    ClockTyped,
    FieldSend,
    HeldSend,
    HeldState,
    SendKind,
    TellingTyped,
    VisitTyped,
)
from service.domain.instrument_checks import Occasion
from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.rounds import Round
from service.domain.words import RoundState
from service.errors import Conflict, Invalid, NotFound, Problem
from service.intake.content_hash import content_hash_of
from service.intake.raw_rows import sent_row
from service.storage import audit, field_records, held_sends, rounds, site_state
from service.storage.unit import Store, Unit
from service.usecases.field.keep import NoPlace, instants_of
from service.usecases.field.send_records import add_check, add_clock, add_telling, add_visit
from service.usecases.rounds.sight import round_to_change, round_to_see, sight_of
from service.usecases.rounds.typed_checks import text_problems
from service.usecases.rounds.upload import store_late

LONGEST_REASON = 500


@dataclass(frozen=True, slots=True)
class Target:
    """A round that can take a held reading, and how."""

    round_id: int
    words: str


@dataclass(frozen=True, slots=True)
class HeldPage:
    """A held send with where it could go; nothing to choose for those who do not decide."""

    held: HeldSend
    targets: tuple[Target, ...]
    findings: tuple[tuple[int, str], ...]
    may_decide: bool
    #: its own round takes it as it is, with nothing to choose
    as_it_is: bool = False

    @property
    def takeable(self) -> bool:
        """Whether anything can take it in."""
        return bool(self.targets or self.findings or self.as_it_is)


def list_held(
    store: Store, actor: Actor, *, round_id: int | None = None, after: int = 0, limit: int = 100
) -> tuple[HeldSend, ...]:
    """What is held aside of rounds in sight, decided or not, by id."""
    with store.look() as unit:
        return held_sends.held_sends(unit, sight_of(actor), round_id=round_id, after=after, limit=limit)


def see_held(store: Store, actor: Actor, held_id: int) -> HeldPage:
    """One held send, for whoever sees its round.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        held = _required(unit, held_id)
        round_ = round_to_see(unit, actor, held.round_id)
        decides = may(actor, Verb.KEEP_REGISTER) and held.state is HeldState.WAITING
        if not decides:
            return HeldPage(held, (), (), False)
        of_finding = held.kind is SendKind.TELLING
        return HeldPage(
            held,
            _targets(unit, actor, held, round_) if held.kind is SendKind.READING else (),
            field_records.findings_of_round(unit, round_.id) if of_finding else (),
            True,
            _has_its_place(unit, held, round_),
        )


def _has_its_place(unit: Unit, held: HeldSend, round_: Round) -> bool:
    if held.kind is SendKind.STOP_VISIT:
        return field_records.place_of_stop(unit, int(held.body.get("stop_id", 0)), round_.id) is not None
    return held.kind in (SendKind.CHECK, SendKind.CAMERA_CLOCK)


def _targets(unit: Unit, actor: Actor, held: HeldSend, round_: Round) -> tuple[Target, ...]:
    """Its own round after sign-off, and every open round in sight that has its point."""
    if held.point_id is None:
        return ()
    found = []
    if round_.state is RoundState.SIGNED_OFF and held_sends.row_of_point(unit, round_.id, held.point_id):
        found.append(Target(round_.id, f"{round_.code}, corrected after sign-off"))
    found += [
        Target(round_id, f"{code} {name}")
        for round_id, code, name, _uid in held_sends.open_rows_of_point(unit, held.point_id, sight_of(actor))
    ]
    return tuple(found)


def set_held_aside(store: Store, actor: Actor, held_id: int, *, reason: str, now: datetime) -> HeldSend:
    """Leave a held send where it is, with the reason; it stays to be seen.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        It is decided already.
    Invalid
        No reason.
    """
    with store.begin() as unit:
        held, _round = _to_decide(unit, actor, held_id, reason=reason)
        return _decided(unit, actor, held, HeldState.SET_ASIDE, words=reason.strip(), now=now)


def take_held_in(
    store: Store,
    actor: Actor,
    held_id: int,
    *,
    reason: str,
    round_id: int | None = None,
    finding_id: int | None = None,
    now: datetime,
) -> HeldSend:
    """Give a held send its place, in the name of whoever typed it.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer.
    held_id : int
        What waits.
    reason : str
        Why it is taken; kept with the reading.
    round_id : int or None
        For a reading: an open round that has its point, or its own round after sign-off.
    finding_id : int or None
        For a telling: the finding that was told of.
    now : datetime
        The instant of the decision.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        It is decided already, or nothing can take it.
    Invalid
        No reason, no place chosen, or values with problems.
    """
    with store.begin() as unit:
        held, round_ = _to_decide(unit, actor, held_id, reason=reason)
        site_state.bump(unit, rounds.site_ids_of(unit, round_.id), now=now)
        into = _TAKE[held.kind](unit, actor, held, round_, reason.strip(), (round_id, finding_id), now)
        return _decided(
            unit, actor, held, HeldState.TAKEN_IN, words=reason.strip(), into_round_id=into, now=now
        )


_Chosen = tuple[int | None, int | None]


def _reading(
    unit: Unit, actor: Actor, held: HeldSend, own: Round, reason: str, chosen: _Chosen, now: datetime
) -> int:
    if chosen[0] is None:
        raise _unchosen("round_id", "Which round takes it?", "Choose a round that has its point.")
    round_ = round_to_change(unit, actor, chosen[0])
    row_uid = None if held.point_id is None else held_sends.row_of_point(unit, round_.id, held.point_id)
    if row_uid is None:
        raise Conflict(f"Round {round_.code} does not have this point.", remedy="Choose another round.")
    record: dict[str, Any] = {name: value for name, value in held.body.items() if name != "round_code"}
    record |= {"uid": held.uid, "row_uid": row_uid, "correction_reason": reason}
    if round_.id != own.id:
        record.pop("point_tag", None)
    store_late(
        unit,
        actor,
        round_,
        reader=_reader(actor, held),
        rows=sent_row(record),
        content_hash=content_hash_of("held aside", held.uid),
        received_at=held.received_at,
        now=now,
    )
    return round_.id


def _telling(
    unit: Unit, actor: Actor, held: HeldSend, own: Round, reason: str, chosen: _Chosen, now: datetime
) -> int:
    if chosen[1] not in {finding_id for finding_id, _title in field_records.findings_of_round(unit, own.id)}:
        raise _unchosen("finding_id", "Which finding was told of?", "Choose one of this round.")
    typed = TellingTyped(
        told_whom=str(held.body.get("told_whom", "")), answer=str(held.body.get("answer", "")),
        told_at=str(held.body.get("told_at", "")),
    )  # fmt: skip
    told_at = instants_of(own, held.skew_s, now=held.received_at)(typed.told_at, "UTC") or held.received_at
    assert chosen[1] is not None
    add_telling(unit, actor, chosen[1], typed, told_at=told_at, by=held.person_id, now=now)
    return own.id


def _check(
    unit: Unit, actor: Actor, held: HeldSend, own: Round, reason: str, chosen: _Chosen, now: datetime
) -> int:
    body = held.body
    typed = CheckTyped(
        Occasion(body["occasion"]), float(body["reference_c"]), float(body["shown_c"]), str(body.get("at", "")),
        str(body.get("note", "")), body.get("instrument_id"),
    )  # fmt: skip
    try:
        add_check(unit, _reader(actor, held), own, _sent(held), typed, received_at=held.received_at, now=now)
    except NoPlace as error:
        raise Conflict(error.reason, remedy=error.remedy or "Set it aside with the reason.") from error
    return own.id


def _visit(
    unit: Unit, actor: Actor, held: HeldSend, own: Round, reason: str, chosen: _Chosen, now: datetime
) -> int:
    said = {name: value for name, value in held.body.items() if name in _OF_VISIT and value is not None}
    _as_it_is(unit, held, own, add=add_visit, typed=VisitTyped(**said))
    return own.id


def _clock(
    unit: Unit, actor: Actor, held: HeldSend, own: Round, reason: str, chosen: _Chosen, now: datetime
) -> int:
    body = held.body
    typed = ClockTyped(
        int(body["instrument_id"]),
        str(body["camera_time"]),
        float(body["offset_s"]),
        str(body.get("at") or ""),
    )
    _as_it_is(unit, held, own, add=add_clock, typed=typed)
    return own.id


def _as_it_is(unit: Unit, held: HeldSend, own: Round, *, add: Callable[..., None], typed: object) -> None:
    """What its own round takes as it came, remembered as a send like any other."""
    sent = _sent(held)
    try:
        add(unit, own, sent, typed, by=held.person_id, received_at=held.received_at)
    except NoPlace as error:
        raise Conflict(error.reason, remedy="Set it aside with the reason.") from error
    field_records.keep_send(unit, sent, person_id=held.person_id, finding_id=None, now=held.received_at)


_OF_VISIT = tuple(VisitTyped.__dataclass_fields__)
_TAKE: Mapping[
    SendKind, Callable[[Unit, Actor, HeldSend, Round, str, _Chosen, datetime], int]
] = {
    SendKind.READING: _reading,
    SendKind.TELLING: _telling,
    SendKind.CHECK: _check,
    SendKind.STOP_VISIT: _visit,
    SendKind.CAMERA_CLOCK: _clock,
}  # fmt: skip


def _reader(actor: Actor, held: HeldSend) -> Actor:
    """Whoever typed it, with the sight of whoever decides."""
    return replace(actor, person_id=held.person_id, name=held.person, device=held.device)


def _sent(held: HeldSend) -> FieldSend:
    return FieldSend(held.uid, held.kind, held.round_id, held.body, "", held.device_time, held.skew_s)


def _unchosen(field: str, message: str, remedy: str) -> Invalid:
    return Invalid([Problem("form", field, "", message, remedy)])


def _required(unit: Unit, held_id: int) -> HeldSend:
    held = held_sends.held_send(unit, held_id)
    if held is None:
        raise NotFound()
    return held


def _to_decide(unit: Unit, actor: Actor, held_id: int, *, reason: str) -> tuple[HeldSend, Round]:
    held = _required(unit, held_id)
    round_ = round_to_change(unit, actor, held.round_id)
    if held_sends.lock_held_send(unit, held_id) is not HeldState.WAITING:
        raise Conflict(f"This is decided already: {_required(unit, held_id).state}.")
    problems = text_problems("reason", reason, longest=LONGEST_REASON, required="Why?")
    if problems:
        raise Invalid(problems)
    return held, round_


def _decided(
    unit: Unit,
    actor: Actor,
    held: HeldSend,
    state: HeldState,
    *,
    words: str,
    now: datetime,
    into_round_id: int | None = None,
) -> HeldSend:
    held_sends.decide(
        unit, held.id, state, by=actor.person_id, words=words, now=now, into_round_id=into_round_id
    )
    audit.note(
        unit,
        actor,
        verb="take in" if state is HeldState.TAKEN_IN else "set aside",
        noun="held send",
        noun_id=held.id,
        site_id=held.site_id,
        now=now,
        before={"uid": held.uid, "reason": held.reason},
        after={"reason": words, "round": into_round_id},
    )
    unit.session.flush()
    return _required(unit, held.id)
