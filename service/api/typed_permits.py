"""Permits typed on the walk over JSON: as shown by the issuer, under the device's own id; they grant nothing."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.api.asking import Around, Asker
from service.api.field_records import FromDevice, Id, New, Uid
from service.api.field_schemas import Id as BodyId
from service.api.field_schemas import Moment, Named, SentBody
from service.api.problems import PROBLEMS
from service.domain.typed_permits import TypedPermit
from service.usecases.field.type_permit import PermitShown, list_typed_permits, type_permit

router = APIRouter(tags=["field"], responses=PROBLEMS)
OnSite = Annotated[Moment, Field(description="day and time; without an offset on the clock of the site")]


class PermitShownBody(SentBody):
    """What the paper in a technician's hand says."""

    stop_id: BodyId
    number: Named
    valid_from: OnSite
    valid_to: OnSite


class TypedPermitReply(BaseModel):
    uid: str
    round_id: int
    permit_id: int
    stop_id: int
    number: str
    valid_from: datetime
    valid_to: datetime
    stands: bool = Field(description="put on the permit; false: an engineer had typed or closed it")
    typed_at: datetime | None
    received_at: datetime
    by: str
    settled_at: datetime | None = Field(description="when an engineer kept, granted or closed the permit")
    settled_by: str

    @classmethod
    def of(cls, typed: TypedPermit) -> "TypedPermitReply":
        return cls.model_validate(typed, from_attributes=True)


@router.put("/rounds/{round_id}/typed-permits/{uid}", status_code=201, dependencies=[New])
def put_typed_permit(
    around: Around, actor: Asker, _device: FromDevice, round_id: Id, uid: Uid, body: PermitShownBody
) -> TypedPermitReply:
    """Keep a permit's number, from and to as read on the walk; they stand where no engineer typed others."""
    shown = PermitShown(uid=uid, **body.model_dump(exclude={"replaces"}))
    return TypedPermitReply.of(type_permit(around.store, actor, round_id, shown, now=around.now()))


@router.get("/rounds/{round_id}/typed-permits")
def read_typed_permits(around: Around, actor: Asker, round_id: Id) -> list[TypedPermitReply]:
    """What was typed of the permits of a round on its walk, the latest first."""
    return [TypedPermitReply.of(one) for one in list_typed_permits(around.store, actor, round_id)]
