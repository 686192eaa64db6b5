"""Take in what a device sends beside readings: visits of stops, tellings, checks, camera clocks."""

from datetime import datetime

from service.domain.field_records import (
    CheckTyped,
    ClockTyped,
    FieldSend,
    Receipt,
    TellingTyped,
    VisitTyped,
)
from service.domain.instrument_checks import CheckFields
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.rounds import OPEN_FOR_READINGS, Round
from service.domain.words import Level
from service.errors import Conflict, NotFound
from service.storage import audit, field_records
from service.storage import finding_subjects as subjects
from service.storage import findings as kept_findings
from service.storage import instrument_checks as kept_checks
from service.storage.unit import Store, Unit
from service.usecases.field.keep import NoPlace, instants_of, keep_send
from service.usecases.rounds.instrument_checks import keep_check


def send_stop_visit(
    store: Store, actor: Actor, sent: FieldSend, typed: VisitTyped, *, now: datetime
) -> Receipt:
    """Keep one visit of a stop: from, to, what was seen, heard or smelt, and when its cautions were.

    A visit is a fact of the walk, so that a round which is over takes it too. Instants whose clock
    cannot be believed are left out; what was typed stays beside them.
    """

    def work(unit: Unit, round_: Round) -> None:
        add_visit(unit, round_, sent, typed, by=actor.person_id, received_at=now)

    return keep_send(store, actor, sent, work=work, now=now)


def add_visit(
    unit: Unit, round_: Round, sent: FieldSend, typed: VisitTyped, *, by: int | None, received_at: datetime
) -> None:
    """Write a visit of a stop down, in the name of whoever made it."""
    place = field_records.place_of_stop(unit, typed.stop_id, round_.id)
    if place is None:
        raise NoPlace(f"Round {round_.code} has no such stop.", remedy="Take the round along again.")
    read = instants_of(round_, sent.skew_s, now=received_at)
    started, ended, cautions = (
        read(text, place[1]) for text in (typed.started_at, typed.ended_at, typed.cautions_at)
    )
    if sent.replaces:
        field_records.replace_visits(unit, sent.replaces, person_id=by)
    field_records.add_stop_visit(
        unit, uid=sent.uid, round_id=round_.id, stop_id=typed.stop_id, person_id=by,
        started_at=started, ended_at=ended if started is None or ended is None or ended >= started else None,
        cautions_at=cautions, seen=typed.seen, heard=typed.heard, smelt=typed.smelt, typed=dict(sent.body),
    )  # fmt: skip


def send_telling(
    store: Store, actor: Actor, sent: FieldSend, typed: TellingTyped, *, now: datetime
) -> Receipt:
    """Keep whom a technician told of an Act now: at the point's live finding, opened where there is none.

    The live finding is whichever still wants something, so that an answer which comes late does not
    open a second one.
    """

    def work(unit: Unit, round_: Round) -> int:
        require(actor, Verb.OPEN_FINDING)
        told_at = instants_of(round_, sent.skew_s, now=now)(typed.told_at, "UTC") or now
        finding_id = _told_finding(unit, actor, round_, typed, now=now)
        add_telling(unit, actor, finding_id, typed, told_at=told_at, by=actor.person_id, now=now)
        return finding_id

    return keep_send(store, actor, sent, work=work, now=now)


def add_telling(
    unit: Unit,
    actor: Actor,
    finding_id: int,
    typed: TellingTyped,
    *,
    told_at: datetime,
    by: int | None,
    now: datetime,
) -> None:
    """Write a telling down at a finding, in the name of whoever told."""
    found = kept_findings.finding(unit, finding_id)
    kept_findings.add_telling(
        unit, finding_id, told_whom=typed.told_whom.strip(), told_at=told_at, answer=typed.answer.strip(), by=by
    )  # fmt: skip
    note = {"told_whom": typed.told_whom, "answer": typed.answer}
    audit.note(
        unit, actor, verb="tell", noun="finding", noun_id=finding_id, site_id=found.site_id, now=now, after=note
    )  # fmt: skip


def _told_finding(unit: Unit, actor: Actor, round_: Round, typed: TellingTyped, *, now: datetime) -> int:
    if typed.off_round_uid:
        finding_id = field_records.finding_of_send(unit, typed.off_round_uid, round_.id)
        if finding_id is None:
            raise NoPlace(
                "The part off the round that this tells of has not come in.", remedy="Send its reading first."
            )
        return finding_id
    place = field_records.point_of_row(unit, typed.row_uid, round_id=round_.id)
    if place is None:
        raise NoPlace(f"Round {round_.code} has no such row.", remedy="Take the round along again.")
    live = kept_findings.live_finding_of(unit, place[0])
    return live.id if live is not None else _open_act_now(unit, actor, round_, place[0], now=now)


def _open_act_now(unit: Unit, actor: Actor, round_: Round, point_id: int, *, now: datetime) -> int:
    """Somebody was told, so it is grave, whatever the figures said."""
    subject = subjects.point_subject(unit, point_id, person_id=None)
    finding_id = kept_findings.open_finding(
        unit, now=now, by_person_id=actor.person_id, client_id=subject.client_id, site_id=subject.site_id,
        point_id=point_id, round_id=round_.id, reading_id=subject.reading_id, level=Level.ACT_NOW,
        value_k=subject.value_k, common_k=subject.common_k, load_ratio=subject.load_ratio,
        current_a=subject.current_a, title=subject.title, consequence=subject.consequence,
    )  # fmt: skip
    subjects.point_to_finding(unit, point_id, finding_id)
    audit.note(
        unit, actor, verb="open", noun="finding", noun_id=finding_id, site_id=subject.site_id, now=now,
        after={"told": round_.code},
    )  # fmt: skip
    return finding_id


def send_check(store: Store, actor: Actor, sent: FieldSend, typed: CheckTyped, *, now: datetime) -> Receipt:
    """Keep an instrument check made on the walk, by the rules of ``check_on_round``."""

    def work(unit: Unit, round_: Round) -> None:
        if round_.state not in OPEN_FOR_READINGS:
            raise NoPlace(f"Round {round_.code} is {round_.state}; its checks no longer change.")
        add_check(unit, actor, round_, sent, typed, received_at=now, now=now)

    return keep_send(store, actor, sent, work=work, now=now)


def add_check(
    unit: Unit,
    actor: Actor,
    round_: Round,
    sent: FieldSend,
    typed: CheckTyped,
    *,
    received_at: datetime,
    now: datetime,
) -> None:
    """Write a check down; without an instrument it is the one that the round was given."""
    chosen = typed.instrument_id or round_.instrument_id
    try:
        one = kept_checks.instrument(unit, chosen or 0, client_ids=[round_.client_id])
        at = instants_of(round_, sent.skew_s, now=received_at)(typed.at, "UTC") or received_at
        fields = CheckFields(str(typed.occasion), at, typed.reference_c, typed.shown_c, typed.note.strip())
        keep_check(unit, actor, one, fields, round_=round_, now=now)
    except (NotFound, Conflict) as error:
        raise NoPlace(error.message, remedy=error.remedy) from error


def send_camera_clock(
    store: Store, actor: Actor, sent: FieldSend, typed: ClockTyped, *, now: datetime
) -> Receipt:
    """Keep what a camera's clock showed beside the device's, as its lead over true time.

    Camera − true = (camera − device) + (device − true).
    """

    def work(unit: Unit, round_: Round) -> None:
        add_clock(unit, round_, sent, typed, by=actor.person_id, received_at=now)

    return keep_send(store, actor, sent, work=work, now=now)


def add_clock(
    unit: Unit, round_: Round, sent: FieldSend, typed: ClockTyped, *, by: int | None, received_at: datetime
) -> None:
    """Write a compared clock down, in the name of whoever compared it."""
    try:
        one = kept_checks.instrument(unit, typed.instrument_id, client_ids=[round_.client_id])
    except NotFound as error:
        raise NoPlace(error.message) from error
    at = instants_of(round_, sent.skew_s, now=received_at)(typed.at or sent.device_time, "UTC") or received_at
    field_records.add_camera_clock(
        unit, replaces=sent.replaces, uid=sent.uid, round_id=round_.id, instrument_id=one.id,
        person_id=by, at=at, camera_time=typed.camera_time, offset_s=typed.offset_s + (sent.skew_s or 0.0),
    )  # fmt: skip
