"""Correct one reading: a new revision with its reason; the old one stays."""

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.readings import FOUND, MEASURED, Reading, TypedRow
from service.domain.rounds import OPEN_FOR_READINGS, Round
from service.domain.words import RoundState
from service.errors import Conflict, Invalid, NotFound, Problem, Stale
from service.intake.collecting import Problems
from service.intake.content_hash import content_hash_of
from service.intake.matched_rows import match_rows
from service.intake.parsed_rows import parse_rows
from service.intake.raw_rows import Ways, rows_of_records
from service.storage import audit, expected_rows, idempotency, readings, rounds, site_state, uploads
from service.storage.bulk import reserve_keys
from service.storage.idempotency import StoredReply
from service.storage.readings import StoredRow
from service.storage.unit import Store, Unit
from service.usecases.condition.assess import FreshReading, assess_views
from service.usecases.rounds.follow_readings import follow_readings
from service.usecases.rounds.returned_rows import RowToStore, reading_values
from service.usecases.rounds.sight import round_to_change

#: Cells of a returned row and the field of the stored reading each comes from.
_CELLS = {
    **{name: name for name in ("temperature_c", *MEASURED, *FOUND, "picture", "note")},
    "visit_kind": "visit_kind",
    "load_source": "load_source",
    "reason": "not_assessable",
}
CORRECTABLE = frozenset((*_CELLS, "taken_at", "instrument_serial"))


def correct_reading(
    store: Store,
    actor: Actor,
    uid: str,
    *,
    revision: int,
    changes: Mapping[str, Any],
    reason: str,
    key: str | None,
    now: datetime,
) -> Reading:
    """Supersede a reading by a revision with some fields changed.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who walked the round, until it is signed off; an engineer at any time.
    uid : str
        Id of the reading, the valid revision.
    revision : int
        The revision that was read.
    changes : mapping of str to JSON value
        Fields of a returned row with their new values; None empties one.
    reason : str
        Why; kept with the revision.
    key : str or None
        Idempotency-Key of the send.
    now : datetime
        The instant of the request.

    Returns
    -------
    Reading
        The new revision.

    Raises
    ------
    Stale
        Somebody corrected it since ``revision``.
    Conflict
        The round is signed off and this is no engineer.
    Invalid
        No reason, nothing changed, or values with problems.
    KeyReused, KeyBusy
        The key names another send, or one that is still running.
    """
    person = actor.person_id
    request = f"correct {uid}"
    body_hash = content_hash_of(json.dumps([revision, dict(changes), reason], sort_keys=True, default=str))
    with store.begin() as unit:
        reading, round_ = _reading_to_correct(unit, actor, uid)
        if key is not None and person is not None:
            reply = idempotency.claim(unit, person, key=key, request=request, body_hash=body_hash)
            if reply is not None:
                return _required(unit, json.loads(reply.body)["reading_id"])
        if not reading.current or reading.revision != revision:
            raise Stale(_latest(unit, reading).revision, "This reading was corrected meanwhile")
        if round_.state is RoundState.SIGNED_OFF:
            require(actor, Verb.KEEP_REGISTER)
        elif round_.state not in OPEN_FOR_READINGS:
            raise Conflict(f"Round {round_.code} is {round_.state}; its readings no longer change")
        site_state.bump(unit, rounds.site_ids_of(unit, round_.id), now=now)
        row = _corrected_row(unit, round_, reading, changes=changes, reason=reason)
        corrected = _store(unit, actor, round_, reading, row=row, now=now)
        if key is not None and person is not None:
            reply = StoredReply(201, json.dumps({"reading_id": corrected}).encode(), "application/json")
            idempotency.keep(
                unit, person, key=key, request=request, body_hash=body_hash, reply=reply, now=now
            )
        return _required(unit, corrected)


def _reading_to_correct(unit: Unit, actor: Actor, uid: str) -> tuple[Reading, Round]:
    reading = readings.reading_by_uid(unit, uid)
    if reading is None or reading.round_id is None:
        raise NotFound()
    return reading, round_to_change(unit, actor, reading.round_id, verb=Verb.BRING_READINGS)


def _latest(unit: Unit, reading: Reading) -> Reading:
    valid = readings.current_of_rows(unit, [reading.row_id or 0])
    return next((one for one in valid if one.source == reading.source), reading)


def _required(unit: Unit, reading_id: int) -> Reading:
    found = readings.reading_by_id(unit, reading_id)
    assert found is not None
    return found


def _corrected_row(
    unit: Unit, round_: Round, reading: Reading, *, changes: Mapping[str, Any], reason: str
) -> TypedRow:
    """The stored values with the changes laid over them, read like any returned row."""
    problems = Problems()
    if not reason.strip():
        problems.add(
            "body", "reason", "", message="A correction needs its reason.", remedy="Say why, in words."
        )
    for name in changes:
        if name not in CORRECTABLE:
            problems.add(
                "body",
                name,
                changes[name],
                message="This field is not one that is corrected.",
                remedy="Leave it out.",
            )
    record = {cell: getattr(reading, name) for cell, name in _CELLS.items()}
    for cell in ("reason", "visit_kind", "load_source", "emissivity_standing", "reflected_standing"):
        record[cell] = None if record[cell] is None else str(record[cell])
    record |= {"taken_at": reading.taken_at.isoformat(), "correction_reason": reason}
    record |= {name: value for name, value in changes.items() if name in CORRECTABLE}
    row_uid = expected_rows.row_uid_of(unit, reading.row_id)
    parsed = parse_rows(rows_of_records([record | {"row_uid": row_uid}], Ways()), problems)
    expected = expected_rows.expected_round(unit, round_, uids=[row_uid], tags=())
    if "instrument_serial" not in changes:
        expected = expected.with_instrument(reading.instrument_id)
    read = match_rows(parsed, expected, problems)
    if not problems.count and read.rows[0].content_hash == reading.content_hash:
        problems.add(
            "body", "", "", message="Nothing is changed by this.", remedy="Change a field, or leave it."
        )
    if problems.count:
        raise Invalid([Problem("body", p.field, p.found, p.message, p.remedy) for p in problems.told])
    return read.rows[0]


def _store(unit: Unit, actor: Actor, round_: Round, reading: Reading, *, row: TypedRow, now: datetime) -> int:
    assert row.expected is not None
    before = StoredRow(
        reading.id,
        reading.uid,
        row.expected.row_id,
        reading.source,
        reading.revision,
        reading.content_hash,
        reading.correction_reason,
    )
    reading_id = reserve_keys(unit, "readings", 1)[0]
    values = reading_values(
        RowToStore(row, reading.revision + 1, before),
        reading_id,
        round_id=round_.id,
        upload_id=None,
        person_id=actor.person_id,
        device=actor.device,
        source=reading.source,
        received_at=now,
        shut=uploads.shut_stops(unit, round_.id),
    )
    readings.add_readings(unit, [values])
    point = row.expected
    fresh = FreshReading(
        reading_id, point.point_id, point.view_id, reading.source, point.chosen_source, row, reading.id
    )
    assessed = assess_views(
        unit,
        round_id=round_.id,
        client_id=round_.client_id,
        view_ids=[point.view_id],
        fresh=[fresh],
        gone=frozenset({reading.id}),
        began=True,
        now=now,
        cause=f"correction on {round_.code}",
    )
    follow_readings(unit, assessed, now=now)
    audit.note(
        unit,
        actor,
        verb="correct",
        noun="reading",
        noun_id=reading_id,
        now=now,
        site_id=point.site_id,
        before={"revision": reading.revision, "temperature_c": reading.temperature_c},
        after={
            "revision": reading.revision + 1,
            "temperature_c": row.temperature_c,
            "reason": row.correction_reason,
        },
    )
    return reading_id
