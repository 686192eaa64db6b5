"""Take one reading from a device in; what its round no longer takes is held aside, never lost."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from service.domain.field_records import FieldSend, Receipt
from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.readings import UploadResult
from service.errors import Conflict, Invalid
from service.intake.raw_rows import Ways, rows_of_records
from service.storage import field_records
from service.storage.unit import Store, Unit
from service.usecases.field.keep import hold, known_receipt, refuse_replaced
from service.usecases.rounds.sight import round_to_change
from service.usecases.rounds.upload import Beside, upload_round

#: Problems of a row that say that it has no place on its round.
_PLACES = frozenset({"row_uid", "point_tag", "round_code"})


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
            rows=rows_of_records([{**record, "uid": sent.uid}], Ways()),
            content_hash=sent.content_hash,
            key=None,
            channel="reading",
            now=now,
            beside=_beside(actor, sent, now),
        )
    except (Conflict, Invalid) as error:
        reason = _no_place(error) if sent.keep else ""
        if not reason:
            raise
        return ReadingSent(None, _hold(store, actor, sent, reason=reason, now=now))
    return ReadingSent(result, None)


def _held_before(store: Store, actor: Actor, sent: FieldSend) -> Receipt | None:
    with store.look() as unit:
        known = known_receipt(unit, actor, sent)
    return known if known is not None and known.held_id is not None else None


def _no_place(error: Conflict | Invalid) -> str:
    """Why a reading has no place any more; empty where it is the reading itself that is wrong."""
    if isinstance(error, Conflict):
        return f"{error.message}."
    if error.problems and all(problem.field in _PLACES for problem in error.problems):
        return error.problems[0].message
    return ""


def _hold(store: Store, actor: Actor, sent: FieldSend, *, reason: str, now: datetime) -> Receipt:
    with store.begin() as unit:
        round_to_change(unit, actor, sent.round_id, verb=Verb.BRING_READINGS)
        return known_receipt(unit, actor, sent) or hold(unit, actor, sent, reason=reason, now=now)


def _beside(actor: Actor, sent: FieldSend, now: datetime) -> Beside:
    """A reading that was replaced comes too late; one of a part off the round is known by its send."""

    def before(unit: Unit) -> Callable[[UploadResult], None]:
        refuse_replaced(unit, sent)
        field_records.replace_sends(unit, sent)

        def after(result: UploadResult) -> None:
            if sent.keep and sent.body.get("place") and result.finding_ids:
                field_records.keep_send(
                    unit, sent, person_id=actor.person_id, finding_id=result.finding_ids[0], now=now
                )

        return after

    return before
