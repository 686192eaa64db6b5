"""What a device takes along: the rounds to choose from, and the pack of one."""

from typing import Annotated, Any

from fastapi import APIRouter, Path, Request, Response

from service.api.asking import Around, Asker
from service.api.pack_replies import FieldRoundReply, PackReply
from service.usecases.field.pack import read_pack
from service.usecases.field.rounds import list_field_rounds

router = APIRouter(tags=["field"])
Id = Annotated[int, Path(ge=1, le=2**53)]
_SAME: dict[int | str, dict[str, Any]] = {304: {"description": "Nothing has changed since that tag."}}


@router.get("/field/rounds")
def list_rounds(around: Around, asker: Asker) -> list[FieldRoundReply]:
    """Issued and returned rounds that the asker may take along, by day."""
    return [FieldRoundReply.of(line) for line in list_field_rounds(around.store, asker)]


@router.get("/rounds/{round_id}/pack", response_model=PackReply, responses=_SAME)
def read_round_pack(request: Request, around: Around, asker: Asker, round_id: Id) -> Response:
    """Everything that walking the round needs without a signal; send the ETag back to ask for news."""
    reply = PackReply.of(read_pack(around.store, asker, round_id, now=around.now()))
    headers = {"ETag": f'"{reply.etag}"', "Cache-Control": "private, no-cache"}
    sent = request.headers.get("if-none-match", "")
    if headers["ETag"] in {one.strip().removeprefix("W/") for one in sent.split(",")}:
        return Response(status_code=304, headers=headers)
    return Response(reply.model_dump_json(by_alias=True), media_type="application/json", headers=headers)
