"""Points over JSON, with the versions of their common load."""

from datetime import datetime

from pydantic import BaseModel

from service.api.asking import Around, Asker
from service.api.register_router import ThingId, register_router
from service.domain.register import Noun
from service.usecases.register.browse import see_common_loads

router = register_router(Noun.POINT)


class CommonLoadOut(BaseModel):
    version: int
    amps: float | None
    source: str
    at: datetime
    reason: str


@router.get("/{thing_id}/common-loads", operation_id="list_common_loads")
def list_common_loads(around: Around, actor: Asker, thing_id: ThingId) -> list[CommonLoadOut]:
    """Versions of the load to which this point's rises are brought, the newest first."""
    return [
        CommonLoadOut.model_validate(load, from_attributes=True)
        for load in see_common_loads(around.store, actor, thing_id)
    ]
