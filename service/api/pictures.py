"""Pictures over JSON: brought to a round, placed, described, given out, taken out; phrases for their notes."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Response
from pydantic import AwareDatetime, BaseModel, BeforeValidator, ConfigDict, Field

from service.api.asking import Around, Asker, EditedVersion, RawBody, tag
from service.api.problems import PROBLEMS
from service.domain.pictures import (
    LONGEST_NOTE,
    LONGEST_PHRASE,
    LONGEST_WORDS,
    MEDIA,
    MOST_MARKS,
    MOST_PHRASES,
    Mark,
    MarkShape,
    MatchedBy,
    Phrases,
    Picture,
    PictureKind,
    TimeFrom,
)
from service.security.kept_files import INERT_FOR_AN_HOUR
from service.usecases.pictures.bring import LONGEST_FILE_NAME, Sent, bring_picture
from service.usecases.pictures.change import (
    LONGEST_REASON,
    PictureWish,
    change_picture,
    keep_voice,
    retire_picture,
)
from service.usecases.pictures.phrases import see_phrases, set_phrases
from service.usecases.pictures.see import (
    list_point_pictures,
    list_round_pictures,
    see_file,
    see_picture,
)

router = APIRouter(tags=["pictures"], responses=PROBLEMS)

Id = Annotated[int, Path(ge=1, le=2**53)]
Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
PLAIN = r"^[^\u0000-\u001f\u007f]*$"
_BINARY = {"schema": {"type": "string", "format": "binary"}}
_PICTURE = dict.fromkeys(("image/jpeg", "image/png", "image/webp"), _BINARY)
_VOICE = dict.fromkeys(("audio/webm", "audio/ogg", "audio/mp4"), _BINARY)
_ANY = {"application/octet-stream": _BINARY}
_PICTURE_BODY: dict[str, Any] = {"requestBody": {"required": True, "content": _PICTURE | _ANY}}
_VOICE_BODY: dict[str, Any] = {"requestBody": {"required": True, "content": _VOICE | _ANY}}


class MarkBody(BaseModel):
    """Ends in per cent of width and height, from the top left; an arrow points at its second end."""

    model_config = ConfigDict(extra="forbid")
    shape: MarkShape
    x_from: float = Field(ge=0, le=100, allow_inf_nan=False)
    y_from: float = Field(ge=0, le=100, allow_inf_nan=False)
    x_to: float = Field(ge=0, le=100, allow_inf_nan=False)
    y_to: float = Field(ge=0, le=100, allow_inf_nan=False)
    words: str = Field(default="", max_length=LONGEST_WORDS, pattern=PLAIN)

    def mark(self) -> Mark:
        return Mark(self.shape, self.x_from, self.y_from, self.x_to, self.y_to, self.words)


class PictureReply(BaseModel):
    uid: str
    version: int
    round_id: int | None
    stop_id: int | None
    row_uid: str
    point_id: int | None
    point_tag: str
    view_id: int | None
    finding_id: int | None
    kind: PictureKind
    width: int
    height: int
    frames: int = Field(description="pictures in the file that came; the first is kept")
    sent_hash: str = Field(description="SHA-256 of the bytes as they were sent")
    taken_at: datetime | None
    time_from: TimeFrom | None = Field(description="whose clock that is from")
    received_at: datetime
    by: str
    file_name: str
    code: str = Field(description="the code in its name that placed it")
    matched: MatchedBy | None = Field(description="how it found its place; null: it has none yet")
    note: str
    marks: list[MarkBody]
    voice: bool = Field(description="a spoken note is with it")
    retired_at: datetime | None
    retired_reason: str

    @classmethod
    def of(cls, picture: Picture) -> "PictureReply":
        plain = {name: getattr(picture, name) for name in cls.model_fields if name not in ("marks", "voice")}
        marks = [MarkBody.model_validate(mark.as_dict()) for mark in picture.marks]
        return cls(**plain, marks=marks, voice=bool(picture.voice_as))


class PictureBody(BaseModel):
    """What is not sent stays. Of ``row_uid``, ``stop_id`` and ``finding_id`` at most one has a value; all
    null take the picture from its place."""

    model_config = ConfigDict(extra="forbid")
    row_uid: str | None = Field(default=None, max_length=64, pattern=PLAIN)
    stop_id: int | None = Field(default=None, ge=1, le=2**53)
    finding_id: int | None = Field(default=None, ge=1, le=2**53)
    kind: PictureKind | None = None
    note: str | None = Field(default=None, max_length=LONGEST_NOTE)
    marks: list[MarkBody] | None = Field(default=None, max_length=MOST_MARKS)

    def wish(self) -> PictureWish:
        place = None
        if self.model_fields_set & {"row_uid", "stop_id", "finding_id"}:
            told = (("row", self.row_uid), ("stop", self.stop_id), ("finding", self.finding_id))
            place = next((f"{noun} {value}" for noun, value in told if value), "")
        marks = None if self.marks is None else tuple(mark.mark() for mark in self.marks)
        return PictureWish(place=place, kind=self.kind, note=self.note, marks=marks)


class RetireBody(BaseModel):
    model_config = ConfigDict(extra="forbid")
    reason: str = Field(min_length=1, max_length=LONGEST_REASON, pattern=PLAIN)


class PhrasesBody(BaseModel):
    model_config = ConfigDict(extra="forbid")
    lines: list[Annotated[str, Field(max_length=LONGEST_PHRASE, pattern=PLAIN)]] = Field(
        max_length=MOST_PHRASES, description="in the order in which they are offered"
    )


class PhrasesReply(BaseModel):
    client_id: int
    lines: list[str]
    version: int

    @classmethod
    def of(cls, phrases: Phrases) -> "PhrasesReply":
        return cls(client_id=phrases.client_id, lines=list(phrases.lines), version=phrases.version)


def _reply(response: Response, picture: Picture) -> PictureReply:
    tag(response, picture.version)
    return PictureReply.of(picture)


# ---- of a round ---------------------------------------------------------------------------


@router.put("/rounds/{round_id}/pictures/{uid}", status_code=201, openapi_extra=_PICTURE_BODY)
def put_picture(
    around: Around,
    asker: Asker,
    response: Response,
    round_id: Id,
    uid: Uid,
    body: RawBody,
    kind: PictureKind = PictureKind.THERMAL,
    row_uid: Annotated[str, Query(max_length=64, pattern=PLAIN)] = "",
    stop_id: Annotated[int | None, Query(ge=1, le=2**53)] = None,
    taken_at: Annotated[AwareDatetime | None, Query(description="by the device that took it")] = None,
    name: Annotated[str, Query(max_length=LONGEST_FILE_NAME)] = "",
    skew_s: Annotated[
        Annotated[float, Field(ge=-4e9, le=4e9, allow_inf_nan=False)] | None,
        BeforeValidator(lambda told: None if told == "" else told),
        Query(description="how far its clock was ahead [s]; empty where nobody measured it"),
    ] = None,
) -> PictureReply:
    """Keep a JPEG, PNG or WebP under the sender's own id; safe to repeat.

    It is drawn anew: position, maker notes and whatever else was written into the file are not kept.
    Without ``row_uid`` and ``stop_id`` its place is found by a code in its name, else by its time.
    """
    sent = Sent(
        content=body,
        file_name=name,
        uid=uid,
        kind=kind,
        row_uid=row_uid,
        stop_id=stop_id,
        taken_at=taken_at,
        skew_s=skew_s,
    )
    brought = bring_picture(around.store, asker, round_id, sent, shelf=around.pictures, now=around.now())
    return _reply(response, brought.picture)


@router.put("/rounds/{round_id}/pictures/{uid}/voice", status_code=201, openapi_extra=_VOICE_BODY)
def put_voice(
    around: Around, asker: Asker, response: Response, round_id: Id, uid: Uid, body: RawBody
) -> PictureReply:
    """Keep a spoken note with a picture: WebM, Ogg or MP4, at most 2 MiB; safe to repeat."""
    picture = keep_voice(
        around.store, asker, uid, content=body, shelf=around.pictures, round_id=round_id, now=around.now()
    )
    return _reply(response, picture)


@router.get("/rounds/{round_id}/pictures")
def list_of_round(around: Around, asker: Asker, round_id: Id) -> list[PictureReply]:
    """Pictures of a round that stand, in the order in which they were taken."""
    return [PictureReply.of(one) for one in list_round_pictures(around.store, asker, round_id).pictures]


@router.get("/points/{point_id}/pictures")
def list_of_point(around: Around, asker: Asker, point_id: Id) -> list[PictureReply]:
    """Pictures of a point and its like parts, latest visit first."""
    visits = list_point_pictures(around.store, asker, point_id).visits
    return [PictureReply.of(one) for visit in visits for one in visit.pictures]


# ---- one picture --------------------------------------------------------------------------


@router.get("/pictures/{uid}")
def read_picture(around: Around, asker: Asker, response: Response, uid: Uid) -> PictureReply:
    """What is known of one picture; its ETag is the version to edit."""
    return _reply(response, see_picture(around.store, asker, uid).picture)


@router.get("/pictures/{uid}/file", response_class=Response, responses={200: {"content": _PICTURE}})
def read_file(around: Around, asker: Asker, uid: Uid) -> Response:
    """The picture in full size."""
    _, content, kind = see_file(around.store, asker, uid, shelf=around.pictures, what="stored_as")
    return Response(content, media_type=MEDIA[kind], headers=INERT_FOR_AN_HOUR)


@router.get(
    "/pictures/{uid}/preview",
    response_class=Response,
    responses={200: {"content": {"image/jpeg": _BINARY}}},
)
def read_preview(around: Around, asker: Asker, uid: Uid) -> Response:
    """The picture with at most 1,024 pixels on its longer side."""
    _, content, kind = see_file(around.store, asker, uid, shelf=around.pictures, what="preview_as")
    return Response(content, media_type=MEDIA[kind], headers=INERT_FOR_AN_HOUR)


@router.get("/pictures/{uid}/voice", response_class=Response, responses={200: {"content": _VOICE}})
def read_voice(around: Around, asker: Asker, uid: Uid) -> Response:
    """The spoken note as it came."""
    _, content, kind = see_file(around.store, asker, uid, shelf=around.pictures, what="voice_as")
    kept = {"Content-Disposition": f'attachment; filename="note-{uid}.{kind}"'}
    return Response(content, media_type=MEDIA[kind], headers=INERT_FOR_AN_HOUR | kept)


@router.patch("/pictures/{uid}")
def change(
    around: Around, asker: Asker, response: Response, uid: Uid, version: EditedVersion, body: PictureBody
) -> PictureReply:
    """Place it by hand, name its kind, write its note, draw on its copy; its pixels never change."""
    picture = change_picture(around.store, asker, uid, body.wish(), version=version, now=around.now())
    return _reply(response, picture)


@router.post("/pictures/{uid}/retirement")
def retire(
    around: Around, asker: Asker, response: Response, uid: Uid, version: EditedVersion, body: RetireBody
) -> PictureReply:
    """Take it out of every page but its own; it stays on record."""
    picture = retire_picture(around.store, asker, uid, reason=body.reason, version=version, now=around.now())
    return _reply(response, picture)


# ---- phrases ------------------------------------------------------------------------------


@router.get("/clients/{client_id}/phrases")
def read_phrases(around: Around, asker: Asker, response: Response, client_id: Id) -> PhrasesReply:
    """Common phrases to be picked into the notes of pictures."""
    found = see_phrases(around.store, asker, client_id)
    tag(response, found.version)
    return PhrasesReply.of(found)


@router.put("/clients/{client_id}/phrases")
def put_phrases(
    around: Around, asker: Asker, response: Response, client_id: Id, version: EditedVersion, body: PhrasesBody
) -> PhrasesReply:
    """Put other phrases in their place; notes already written stay as they are."""
    found = set_phrases(around.store, asker, client_id, tuple(body.lines), version=version, now=around.now())
    tag(response, found.version)
    return PhrasesReply.of(found)
