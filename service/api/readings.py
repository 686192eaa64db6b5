"""Readings over JSON, CSV or XLSX: previewed, stored once, listed, corrected."""

import re
from collections.abc import Sequence
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Header, Path, Query, Request, Response

from service.api.asking import After, Around, Asker, EditedVersion, Limit, RawBody, tag
from service.api.field_records import HELD, FromDevice, New
from service.api.field_schemas import MOST_REPLACED, HeldReply
from service.api.problems import PROBLEMS
from service.api.reading_schemas import (
    CorrectionBody,
    DecisionBody,
    DoubleReply,
    JudgedReadingReply,
    PreviewReply,
    ReadingReply,
    SentRowBody,
    UploadBody,
    UploadReply,
)
from service.domain.field_records import FieldSend, SendKind
from service.domain.people import Actor
from service.domain.readings import Reading
from service.errors import Invalid, KeyMissing, Problem, Unsupported
from service.intake.content_hash import content_hash_of
from service.intake.messages import read_message, rows_in
from service.intake.raw_rows import KNOWN, RawRows, Ways, rows_of_records, rows_of_tables
from service.intake.tables import read_tables
from service.usecases.field.send_reading import send_reading
from service.usecases.readings.figures import see_figures
from service.usecases.rounds import list_readings
from service.usecases.rounds.correct import correct_reading
from service.usecases.rounds.decide_double import decide_double, list_doubles
from service.usecases.rounds.preview import preview_upload
from service.usecases.rounds.upload import upload_round
from service.usecases.surroundings import Surroundings

router = APIRouter(tags=["readings"], responses=PROBLEMS)

JSON, CSV = "application/json", "text/csv"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
Id = Annotated[int, Path(ge=1, le=2**53)]
Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
#: Of a held reading only what can be a time and an offset is kept beside its body.
LONGEST_DEVICE_TIME, MOST_SKEW_S = 40, 4e9
_UID = re.compile(r"[A-Za-z0-9._:-]{8,64}")
_KEY = re.compile(r"[\x21-\x7e]{1,255}")


def _schema_of(model: Any) -> dict[str, Any]:
    """A body's schema in one piece: the document has no place for parts of a hand-read body."""
    schema: dict[str, Any] = model.model_json_schema()
    parts = schema.pop("$defs", {})

    def resolved(value: Any) -> Any:
        if isinstance(value, dict):
            if "$ref" in value:
                return resolved(parts[value["$ref"].rsplit("/", 1)[1]])
            return {key: resolved(inner) for key, inner in value.items()}
        return [resolved(inner) for inner in value] if isinstance(value, list) else value

    told: dict[str, Any] = resolved(schema)
    return told


_BINARY = {"schema": {"type": "string", "format": "binary"}}
_UPLOAD_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {JSON: {"schema": _schema_of(UploadBody)}, CSV: _BINARY, XLSX: _BINARY},
    }
}
_ROW_BODY: dict[str, Any] = {
    "requestBody": {"required": True, "content": {JSON: {"schema": _schema_of(SentRowBody)}}}
}


def idempotency_key(
    idempotency_key: Annotated[
        str | None,
        Header(max_length=255, description="one name per send; repeat it when you repeat the send"),
    ] = None,
) -> str:
    """The name of this send.

    Raises
    ------
    KeyMissing
        Absent, or not 1 to 255 printable characters without spaces.
    """
    if idempotency_key is None or not _KEY.fullmatch(idempotency_key):
        raise KeyMissing(remedy="Send Idempotency-Key: a new UUID for each new upload.")
    return idempotency_key


Key = Annotated[str, Depends(idempotency_key)]
DecimalSign = Annotated[
    Literal["found out", ".", ","], Query(description="decimal sign of a file; asked for when it shows none")
]
Degrees = Annotated[Literal["C", "F"], Query(description="unit of the temperatures in a file")]


def _rows(request: Request, body: bytes, *, decimal: str, degrees: str) -> tuple[RawRows, str]:
    """The rows of a body by its content type, and the name of its content.

    Raises
    ------
    Unsupported
        Neither JSON nor CSV nor XLSX.
    """
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind == JSON:
        message = read_message(body, known=("rows", "temperature_unit"))
        unit = message.get("temperature_unit", "°C")
        ways = Ways(temperature_unit=unit if isinstance(unit, str) else "")
        return rows_of_records(rows_in(message), ways), content_hash_of("json", body)
    if kind in (CSV, XLSX, "application/octet-stream"):
        ways = Ways("" if decimal == "found out" else decimal, f"°{degrees}")
        return rows_of_tables(read_tables(body), ways), content_hash_of(decimal, degrees, body)
    raise Unsupported(f"{kind or 'No content type'} is not taken here", remedy="Send JSON, CSV or XLSX.")


@router.post("/rounds/{round_id}/uploads", status_code=201, openapi_extra=_UPLOAD_BODY)
def upload(
    request: Request,
    around: Around,
    asker: Asker,
    key: Key,
    round_id: Id,
    body: RawBody,
    decimal: DecimalSign = "found out",
    degrees: Degrees = "C",
) -> UploadReply:
    """Store a round's returned rows: all of them, or none and every problem."""
    rows, content_hash = _rows(request, body, decimal=decimal, degrees=degrees)
    result = upload_round(
        around.store,
        asker,
        round_id=round_id,
        rows=rows,
        content_hash=content_hash,
        key=key,
        channel="api" if rows.strict else "file",
        now=around.now(),
    )
    return UploadReply.of(result)


@router.post("/rounds/{round_id}/uploads/preview", openapi_extra=_UPLOAD_BODY)
def preview(
    request: Request,
    around: Around,
    asker: Asker,
    round_id: Id,
    body: RawBody,
    decimal: DecimalSign = "found out",
    degrees: Degrees = "C",
) -> PreviewReply:
    """What an upload would store, what changed, what looks wrong; nothing is stored."""
    rows, content_hash = _rows(request, body, decimal=decimal, degrees=degrees)
    found = preview_upload(
        around.store, asker, round_id=round_id, rows=rows, content_hash=content_hash, now=around.now()
    )
    return PreviewReply.of(found)


@router.get("/rounds/{round_id}/uploads/{upload_id}")
def read_upload(around: Around, asker: Asker, round_id: Id, upload_id: Id) -> UploadReply:
    """What an accepted upload was answered."""
    result = list_readings.see_upload(around.store, asker, round_id=round_id, upload_id=upload_id)
    return UploadReply.of(result)


@router.put(
    "/rounds/{round_id}/readings/{uid}",
    status_code=201,
    openapi_extra=_ROW_BODY,
    responses=HELD,
    dependencies=[New],
)
def put_reading(
    around: Around, asker: Asker, response: Response, keep: FromDevice, round_id: Id, uid: Uid, body: RawBody
) -> UploadReply | HeldReply:
    """Store one reading under the client's own id, with ``If-None-Match: *``; safe to repeat."""
    record = read_message(body, known=(*KNOWN, "replaces", "temperature_unit"))
    replaces = _earlier(record.pop("replaces", None))
    device_time, skew_s = record.get("device_time"), record.get("skew_s")
    sent = FieldSend(
        uid=uid,
        kind=SendKind.READING,
        round_id=round_id,
        body=record,
        content_hash=content_hash_of("reading", uid, body),
        device_time=device_time[:LONGEST_DEVICE_TIME] if isinstance(device_time, str) else "",
        skew_s=float(skew_s) if isinstance(skew_s, int | float) and abs(skew_s) < MOST_SKEW_S else None,
        replaces=replaces,
        keep=keep,
    )
    answer = send_reading(around.store, asker, sent, now=around.now())
    if answer.stored is not None:
        return UploadReply.of(answer.stored)
    assert answer.held is not None
    response.status_code = 202
    return HeldReply.of(answer.held)


def _earlier(given: object) -> tuple[str, ...]:
    """The ids that a reading stands for.

    Raises
    ------
    Invalid
        Not a list of ids.
    """
    if given is None:
        return ()
    ids = given if isinstance(given, list) else [given]
    if len(ids) > MOST_REPLACED or not all(isinstance(one, str) and _UID.fullmatch(one) for one in ids):
        message = "These are not the ids of earlier sends."
        raise Invalid([Problem("body", "replaces", str(given)[:80], message, "Send a list of ids.")])
    return tuple(ids)


@router.get("/rounds/{round_id}/readings")
def list_of_round(
    around: Around, asker: Asker, round_id: Id, after: After = 0, limit: Limit = 100
) -> list[JudgedReadingReply]:
    """Every revision of a round's readings by id; pass the last id as ``after`` for the next page."""
    found = list_readings.list_round_readings(
        around.store, asker, round_id=round_id, after=after, limit=limit
    )
    return _judged(around, asker, found)


@router.get("/points/{point_id}/readings")
def list_of_point(
    around: Around, asker: Asker, point_id: Id, after: After = 0, limit: Limit = 100
) -> list[JudgedReadingReply]:
    """Every revision of a point's readings by id, each with what it says: its history."""
    found = list_readings.list_point_readings(
        around.store, asker, point_id=point_id, after=after, limit=limit
    )
    return _judged(around, asker, found)


@router.get("/readings/{uid}")
def read_reading(around: Around, asker: Asker, response: Response, uid: Uid) -> JudgedReadingReply:
    """One reading by its id with what it says; its ETag is the revision to correct."""
    reading = list_readings.see_reading(around.store, asker, uid)
    tag(response, reading.revision)
    return _judged(around, asker, [reading])[0]


def _judged(around: Surroundings, asker: Actor, found: Sequence[Reading]) -> list[JudgedReadingReply]:
    says = see_figures(around.store, asker, found)
    return [JudgedReadingReply.of_judged(reading, says.get(reading.id)) for reading in found]


@router.post("/readings/{uid}/corrections", status_code=201)
def correct(
    around: Around,
    asker: Asker,
    response: Response,
    key: Key,
    uid: Uid,
    revision: EditedVersion,
    body: CorrectionBody,
) -> ReadingReply:
    """Supersede a reading by a revision with a reason; the old one stays to be seen."""
    reading = correct_reading(
        around.store,
        asker,
        uid,
        revision=revision,
        changes=body.changed(),
        reason=body.reason,
        key=key,
        now=around.now(),
    )
    tag(response, reading.revision)
    return ReadingReply.of(reading)


@router.get("/rounds/{round_id}/doubles")
def read_doubles(around: Around, asker: Asker, round_id: Id) -> list[DoubleReply]:
    """Points of a round that two sources read, decided or not."""
    _round, doubles = list_doubles(around.store, asker, round_id=round_id)
    return [DoubleReply.of(double) for double in doubles]


@router.post("/rounds/{round_id}/doubles/{row_uid}", status_code=204)
def decide(around: Around, asker: Asker, round_id: Id, row_uid: Uid, body: DecisionBody) -> None:
    """Say whose reading feeds level and trend; both stay stored."""
    decide_double(
        around.store, asker, round_id=round_id, row_uid=row_uid, source=body.source, now=around.now()
    )
