"""What a device takes along: the rounds to choose from, and the pack of one."""

import gzip
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request, Response

from service.api.asking import Around, Asker
from service.api.pack_replies import FieldRoundReply, PackReply
from service.security.kept_files import has_already
from service.usecases.field.pack import read_pack
from service.usecases.field.rounds import list_field_rounds

router = APIRouter(tags=["field"])
Id = Annotated[int, Path(ge=1, le=2**53)]
#: a pack is a twentieth of its size when packed so, and goes out over weak signals
LEVEL = 6
_SAME: dict[int | str, dict[str, Any]] = {304: {"description": "Nothing has changed since that tag."}}


@router.get("/field/rounds")
def list_rounds(around: Around, asker: Asker) -> list[FieldRoundReply]:
    """Issued and returned rounds that the asker may take along, by day."""
    return [FieldRoundReply.of(line) for line in list_field_rounds(around.store, asker)]


@router.get("/rounds/{round_id}/pack", response_model=PackReply, responses=_SAME)
def read_round_pack(request: Request, around: Around, asker: Asker, round_id: Id) -> Response:
    """Everything that walking the round needs without a signal; send the ETag back to ask for news."""
    reply = PackReply.of(read_pack(around.store, asker, round_id, now=around.now()))
    # weak: the same pack goes out packed or not
    tag = f'W/"{reply.etag}"'
    headers = {"ETag": tag, "Cache-Control": "private, no-cache", "Vary": "Accept-Encoding"}
    if has_already(request.headers.get("if-none-match", ""), tag):
        return Response(status_code=304, headers=headers)
    content = reply.model_dump_json(by_alias=True).encode()
    if "gzip" in request.headers.get("accept-encoding", ""):
        content = gzip.compress(content, LEVEL)
        headers["Content-Encoding"] = "gzip"
    return Response(content, media_type="application/json", headers=headers)
