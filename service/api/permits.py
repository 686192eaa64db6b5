"""Permits of rounds: asked, granted, closed."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Path, Response
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker, EditedVersion, tag
from service.domain.rounds import Permit
from service.domain.words import PermitState
from service.usecases.rounds import permits
from service.usecases.rounds.browse import read_round

router = APIRouter(tags=["permits"])
Id = Annotated[int, Path(ge=1, le=2**53)]
BodyId = Annotated[int, Field(ge=1, le=2**53)]
Text = Annotated[str, Field(max_length=500)]


class PermitBody(BaseModel):
    """As the issuer wrote it; while it is only asked for, all of it may be empty."""

    model_config = ConfigDict(extra="forbid")

    number: Text = ""
    issuer: Text = ""
    covers: Text = Field(default="", description="the covers named on the permit")
    valid_from: AwareDatetime | None = None
    valid_to: AwareDatetime | None = None
    escort: Text = ""
    stand_off: Text = ""
    stop_ids: list[BodyId] = Field(max_length=200, description="stops that stand under it")

    def fields(self) -> permits.PermitFields:
        return permits.PermitFields(**self.model_dump(exclude={"stop_ids", "site_id"}))


class NewPermitBody(PermitBody):
    site_id: BodyId


class PermitReply(BaseModel):
    id: int
    round_id: int
    site_id: int
    state: PermitState
    number: str
    issuer: str
    covers: str
    valid_from: datetime | None
    valid_to: datetime | None
    escort: str
    stand_off: str
    asked_at: datetime
    asked_by: str
    granted_at: datetime | None
    granted_by: str
    closed_at: datetime | None
    closed_by: str
    version: int

    @classmethod
    def of(cls, permit: Permit) -> "PermitReply":
        return cls.model_validate(permit, from_attributes=True)


def _reply(response: Response, permit: Permit) -> PermitReply:
    tag(response, permit.version)
    return PermitReply.of(permit)


@router.get("/rounds/{round_id}/permits")
def list_permits(around: Around, asker: Asker, round_id: Id) -> list[PermitReply]:
    """All permits of a round, in the order in which they were asked for."""
    page = read_round(around.store, asker, round_id, now=around.now())
    return [PermitReply.of(permit) for permit in page.permits]


@router.post("/rounds/{round_id}/permits", status_code=201)
def ask_permit(
    around: Around, asker: Asker, response: Response, round_id: Id, body: NewPermitBody
) -> PermitReply:
    """Note that a permit was asked for."""
    permit = permits.ask_permit(
        around.store,
        asker,
        round_id,
        site_id=body.site_id,
        stop_ids=body.stop_ids,
        fields=body.fields(),
        now=around.now(),
    )
    return _reply(response, permit)


@router.put("/permits/{permit_id}")
def edit_permit(
    around: Around, asker: Asker, response: Response, permit_id: Id, version: EditedVersion, body: PermitBody
) -> PermitReply:
    """Type what the permit says, and which stops stand under it."""
    permit = permits.edit_permit(
        around.store,
        asker,
        permit_id,
        body.fields(),
        stop_ids=body.stop_ids,
        version=version,
        now=around.now(),
    )
    return _reply(response, permit)


@router.post("/permits/{permit_id}/grant")
def grant_permit(
    around: Around, asker: Asker, response: Response, permit_id: Id, version: EditedVersion
) -> PermitReply:
    """Note that the site granted it: number, issuer, from and to are typed by then."""
    permit = permits.grant_permit(around.store, asker, permit_id, version=version, now=around.now())
    return _reply(response, permit)


@router.post("/permits/{permit_id}/close")
def close_permit(
    around: Around, asker: Asker, response: Response, permit_id: Id, version: EditedVersion
) -> PermitReply:
    """Note that it was handed back."""
    permit = permits.close_permit(around.store, asker, permit_id, version=version, now=around.now())
    return _reply(response, permit)
