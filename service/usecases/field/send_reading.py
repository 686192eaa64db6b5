"""Take one reading from a device in; what its round no longer takes is held aside, never lost."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from service.domain.field_records import CORRECTED_ON_DEVICE, FieldSend, Receipt
from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.readings import UploadResult, source_of
from service.errors import Conflict, Invalid, NotFound
from service.intake.raw_rows import sent_row
from service.storage import field_records, readings, uploads
from service.storage.unit import Store, Unit
from service.usecases.field.keep import (
    NoPlace,
    hold,
    known_receipt,
    refuse_replaced,
    round_of_send,
    stand_for_earlier,
)
from service.usecases.rounds.sight import round_to_change
from service.usecases.rounds.upload import Beside, upload_round
from service.usecases.rounds.upload_results import result_from_dict

#: Problems of a row that say that it has no place on its round.
_PLACES = frozenset({"row_uid", "point_tag", "round_code"})
#: Two devices of one person: neither knows what the other has sent, so that neither may stand over it.
FROM_ELSEWHERE = "The same person has sent another reading of this point from elsewhere; an engineer decides which one stands."


@dataclass(frozen=True, slots=True)
class ReadingSent:
    """What a reading was answered: stored with its result, or held aside."""

    stored: UploadResult | None
    held: Receipt | None


def send_reading(store: Store, actor: Actor, sent: FieldSend, *, now: datetime) -> ReadingSent:
    """Store one reading under its own id, with ``upload_round``.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who walked the round, or an engineer.
    sent : FieldSend
        Its body is the row.
    now : datetime
        The instant it was received.

    Raises
    ------
    Invalid
        Values with problems; or, for a sender that can ask somebody, a row without a place.
    Conflict
        The round takes no readings, and the sender can ask somebody.
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    if sent.keep:
        held = _held_before(store, actor, sent)
        if held is not None:
            return ReadingSent(None, held)
    record: Mapping[str, object] = sent.body
    try:
        result = upload_round(
            store,
            actor,
            round_id=sent.round_id,
            rows=sent_row(record, uid=sent.uid),
            content_hash=sent.content_hash,
            key=None,
            channel="reading",
            now=now,
            beside=_beside(actor, sent, now),
        )
    except NotFound:
        if not sent.keep:
            raise
        return _handed_on(store, actor, sent, now=now)
    except (Conflict, Invalid, NoPlace) as error:
        reason = _no_place(error) if sent.keep else ""
        if not reason:
            raise
        return ReadingSent(None, _hold(store, actor, sent, reason=reason, now=now))
    return ReadingSent(result, None)


def _held_before(store: Store, actor: Actor, sent: FieldSend) -> Receipt | None:
    with store.look() as unit:
        known = known_receipt(unit, actor, sent)
    return known if known is not None and known.held_id is not None else None


def _no_place(error: Conflict | Invalid | NoPlace) -> str:
    """Why a reading has no place any more; empty where it is the reading itself that is wrong."""
    if isinstance(error, NoPlace):
        return error.reason
    if isinstance(error, Conflict):
        return f"{error.message}."
    if error.problems and all(problem.field in _PLACES for problem in error.problems):
        return error.problems[0].message
    if error.problems and all(problem.field == "correction_reason" for problem in error.problems):
        return FROM_ELSEWHERE
    return ""


def _hold(store: Store, actor: Actor, sent: FieldSend, *, reason: str, now: datetime) -> Receipt:
    with store.begin() as unit:
        round_to_change(unit, actor, sent.round_id, verb=Verb.BRING_READINGS)
        return known_receipt(unit, actor, sent) or hold(unit, actor, sent, reason=reason, now=now)


def _handed_on(store: Store, actor: Actor, sent: FieldSend, *, now: datetime) -> ReadingSent:
    """Of a round that somebody else was given meanwhile: stored before that, or held aside."""
    with store.begin() as unit:
        _round, reason = round_of_send(unit, actor, sent)
        stored = uploads.result_of_content(unit, sent.round_id, sent.content_hash)
        if stored is not None:
            return ReadingSent(result_from_dict(stored), None)
        known = known_receipt(unit, actor, sent)
        if known is None:
            refuse_replaced(unit, sent)
            known = hold(unit, actor, sent, reason=reason, now=now)
        return ReadingSent(None, known)


def _beside(actor: Actor, sent: FieldSend, now: datetime) -> Beside:
    """A reading that was replaced comes too late; one of a part off the round is known by its send."""

    def before(unit: Unit) -> Callable[[UploadResult], None]:
        refuse_replaced(unit, sent)
        _refuse_unseen(unit, actor, sent)
        stand_for_earlier(unit, actor, sent, now=now)

        def after(result: UploadResult) -> None:
            if sent.keep and sent.body.get("place") and result.finding_ids:
                field_records.keep_send(
                    unit, sent, person_id=actor.person_id, finding_id=result.finding_ids[0], now=now
                )

        return after

    return before


def _refuse_unseen(unit: Unit, actor: Actor, sent: FieldSend) -> None:
    """A device corrects what it has sent itself, never what it has not seen.

    Raises
    ------
    NoPlace
        Another reading of the same person stands there.
    """
    row_uid = sent.body.get("row_uid")
    by_itself = sent.body.get("correction_reason") == CORRECTED_ON_DEVICE
    if not (sent.keep and by_itself and isinstance(row_uid, str)):
        return
    own = readings.own_of_row(unit, sent.round_id, row_uid, source=source_of(actor.person_id, actor.device))
    if own is not None and own.uid not in {sent.uid, *sent.replaces}:
        raise NoPlace(FROM_ELSEWHERE)
