"""Signed sheets over JSON: a scan is sent as it is, listed, given out again, put to a stop, taken back."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker, RawBody
from service.api.problems import PROBLEMS
from service.domain.scans import LONGEST_FILE_NAME, LONGEST_REASON, Matched, ScanKind, SheetScan
from service.security.kept_files import INERT
from service.usecases.rounds import sheet_scans
from service.usecases.rounds.sheet_scans import SentFile

router = APIRouter(tags=["signed sheets"], responses=PROBLEMS)
_FILE: dict[str, Any] = {
    kind.media_type: {"schema": {"type": "string", "format": "binary"}} for kind in ScanKind
}
Id = Annotated[int, Path(ge=1, le=2**53)]
Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
_BINARY = {"schema": {"type": "string", "format": "binary"}}
_FILE_BODY: dict[str, Any] = {
    "requestBody": {"required": True, "content": {kind.media_type: _BINARY for kind in ScanKind}}
}


class ScanReply(BaseModel):
    uid: str
    stop_id: int | None = Field(description="null: of the whole round")
    matched: Matched
    file_name: str
    kind: ScanKind
    content_hash: str = Field(description="SHA-256 of the file as it came")
    size_bytes: int
    received_at: datetime
    by: str
    taken_back_at: datetime | None
    taken_back_reason: str

    @classmethod
    def of(cls, scan: SheetScan) -> "ScanReply":
        return cls.model_validate(scan, from_attributes=True)


class PlaceBody(BaseModel):
    model_config = ConfigDict(extra="forbid")
    stop_id: Annotated[int, Field(ge=1, le=2**53)] | None = Field(description="null: the whole round")


class TakeBackBody(BaseModel):
    model_config = ConfigDict(extra="forbid")
    reason: Annotated[str, Field(min_length=1, max_length=LONGEST_REASON)]


@router.get("/rounds/{round_id}/scans")
def list_scans(around: Around, asker: Asker, round_id: Id) -> list[ScanReply]:
    """Scans of a round that stand, those of the whole round last."""
    page = sheet_scans.read_scans(around.store, asker, round_id)
    scans = [scan for stop in page.stops for scan in stop.scans]
    return [ScanReply.of(scan) for scan in (*scans, *page.of_round)]


@router.post("/rounds/{round_id}/scans", status_code=201, openapi_extra=_FILE_BODY)
def bring_scan(
    around: Around,
    asker: Asker,
    round_id: Id,
    body: RawBody,
    file_name: Annotated[str, Query(max_length=LONGEST_FILE_NAME)] = "",
    code: Annotated[str, Query(max_length=40, description="sheet code; else the one in the name")] = "",
) -> ScanReply:
    """Keep one JPEG, PNG, WebP or PDF unchanged; the same file again is the same scan."""
    (scan,) = sheet_scans.bring_scans(
        around.store,
        asker,
        round_id,
        files=around.files,
        sent=[SentFile(file_name, body)],
        typed_code=code,
        now=around.now(),
    )
    return ScanReply.of(scan)


@router.get("/rounds/{round_id}/scans/{uid}", response_class=Response, responses={200: {"content": _FILE}})
def read_file(around: Around, asker: Asker, round_id: Id, uid: Uid) -> Response:
    """The file byte for byte as it came, to be kept, not shown."""
    return scan_file(*sheet_scans.see_scan(around.store, asker, round_id, uid, files=around.files))


def scan_file(scan: SheetScan, content: bytes) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="sheet-{scan.uid}.{scan.kind.value}"'}
    return Response(content, media_type=scan.kind.media_type, headers=headers | INERT)


@router.put("/rounds/{round_id}/scans/{uid}/stop")
def put_scan(around: Around, asker: Asker, round_id: Id, uid: Uid, body: PlaceBody) -> ScanReply:
    """Say to which stop a scan belongs."""
    scan = sheet_scans.put_scan(around.store, asker, round_id, uid, stop_id=body.stop_id, now=around.now())
    return ScanReply.of(scan)


@router.post("/rounds/{round_id}/scans/{uid}/take-back")
def take_back(around: Around, asker: Asker, round_id: Id, uid: Uid, body: TakeBackBody) -> ScanReply:
    """Take a scan off the round; its line and its file stay on record."""
    scan = sheet_scans.take_scan_back(
        around.store, asker, round_id, uid, reason=body.reason, now=around.now()
    )
    return ScanReply.of(scan)
