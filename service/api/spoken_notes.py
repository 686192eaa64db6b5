"""Spoken notes over JSON: a recording is sent to a reading or a stop, listed, given out, taken back."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker, RawBody
from service.api.field_records import FromDevice
from service.api.problems import PROBLEMS
from service.domain.spoken_notes import LONGEST_REASON, SpokenKind, SpokenNote
from service.security.kept_files import INERT_FOR_AN_HOUR
from service.usecases.spoken_notes.keep import SentNote, keep_note, take_note_back
from service.usecases.spoken_notes.see import hear_note, list_point_notes, list_round_notes

router = APIRouter(tags=["spoken notes"], responses=PROBLEMS)
Id = Annotated[int, Path(ge=1, le=2**53)]
Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
PLAIN = r"^[^\u0000-\u001f\u007f]*$"
_BINARY = {"schema": {"type": "string", "format": "binary"}}
_SOUND: dict[str, Any] = {kind.media_type: _BINARY for kind in SpokenKind}
_BODY: dict[str, Any] = {
    "requestBody": {"required": True, "content": _SOUND | {"application/octet-stream": _BINARY}}
}


class SpokenNoteReply(BaseModel):
    uid: str
    round_id: int
    stop_id: int
    row_uid: str = Field(description="empty: of the stop as a whole")
    point_id: int | None
    point_tag: str
    about: str = Field(description="what it speaks of, as people call it")
    kind: SpokenKind
    content_hash: str = Field(description="SHA-256 of the file as it came")
    size_bytes: int
    taken_at: datetime | None = Field(
        description="by the device's clock put right; null where that could not be believed"
    )
    received_at: datetime
    by: str
    taken_back_at: datetime | None
    taken_back_reason: str

    @classmethod
    def of(cls, note: SpokenNote) -> "SpokenNoteReply":
        return cls.model_validate(note, from_attributes=True)


class TakeNoteBackBody(BaseModel):
    model_config = ConfigDict(extra="forbid")
    reason: Annotated[str, Field(min_length=1, max_length=LONGEST_REASON)]


@router.put("/rounds/{round_id}/spoken-notes/{uid}", status_code=201, openapi_extra=_BODY)
def put_note(
    around: Around,
    asker: Asker,
    _device: FromDevice,
    round_id: Id,
    uid: Uid,
    body: RawBody,
    row_uid: Annotated[str, Query(max_length=64, pattern=PLAIN)] = "",
    stop_id: Annotated[int | None, Query(ge=1, le=2**53)] = None,
    device_time: Annotated[
        str, Query(max_length=40, pattern=PLAIN, description="as the clock of the device showed it")
    ] = "",
    skew_s: Annotated[
        float | None,
        Query(ge=-4e9, le=4e9, allow_inf_nan=False, description="how far that clock was ahead [s]"),
    ] = None,
) -> SpokenNoteReply:
    """Keep a spoken note to a row or to a stop under the sender's own id: WebM, Ogg or MP4 of at most 2 MiB.

    Safe to repeat: the same again is the same; another content or place under one id is refused.
    """
    sent = SentNote(uid, body, row_uid=row_uid, stop_id=stop_id, device_time=device_time, skew_s=skew_s)
    note = keep_note(around.store, asker, round_id, sent, shelf=around.pictures, now=around.now())
    return SpokenNoteReply.of(note)


@router.get("/rounds/{round_id}/spoken-notes")
def list_of_round(around: Around, asker: Asker, round_id: Id) -> list[SpokenNoteReply]:
    """Spoken notes of a round that stand, in walking order."""
    return [SpokenNoteReply.of(note) for note in list_round_notes(around.store, asker, round_id)]


@router.get("/points/{point_id}/spoken-notes")
def list_of_point(around: Around, asker: Asker, point_id: Id) -> list[SpokenNoteReply]:
    """The latest spoken notes of a point that stand, the latest first."""
    return [SpokenNoteReply.of(note) for note in list_point_notes(around.store, asker, point_id)]


@router.get(
    "/rounds/{round_id}/spoken-notes/{uid}",
    response_class=Response,
    responses={200: {"content": _SOUND}},
)
def read_file(around: Around, asker: Asker, round_id: Id, uid: Uid) -> Response:
    """The recording byte for byte as it came."""
    return note_file(*hear_note(around.store, asker, round_id, uid, shelf=around.pictures))


def note_file(note: SpokenNote, content: bytes) -> Response:
    kept = {"Content-Disposition": f'attachment; filename="note-{note.uid}.{note.kind.value}"'}
    return Response(content, media_type=note.kind.media_type, headers=INERT_FOR_AN_HOUR | kept)


@router.post("/rounds/{round_id}/spoken-notes/{uid}/take-back")
def take_back(
    around: Around, asker: Asker, round_id: Id, uid: Uid, body: TakeNoteBackBody
) -> SpokenNoteReply:
    """Take a spoken note off the pages; its line and its file stay on record."""
    note = take_note_back(around.store, asker, round_id, uid, reason=body.reason, now=around.now())
    return SpokenNoteReply.of(note)
