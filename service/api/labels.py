"""Labels over JSON: codes given to equipment, and what a scanned code leads to."""

from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker
from service.api.problems import PROBLEMS
from service.domain.labels import Labelled
from service.usecases.labels.find import find_label
from service.usecases.labels.make import MOST, Wanted, make_labels

router = APIRouter(tags=["labels"], responses=PROBLEMS)
Id = Annotated[int, Field(ge=1, le=2**53)]


class LabelReply(BaseModel):
    equipment_id: int
    tag: str
    name: str
    site: str
    area: str
    code: str = Field(description="what follows /at/ on its label")

    @classmethod
    def of(cls, one: Labelled) -> "LabelReply":
        return cls.model_validate(one, from_attributes=True)


class FoundReply(LabelReply):
    round_id: int | None = Field(description="of the asker's round under way, if it is on one")
    stop_id: int | None


class LabelsBody(BaseModel):
    model_config = ConfigDict(extra="forbid")
    equipment_ids: Annotated[list[Id], Field(min_length=1, max_length=MOST)]


@router.post("/labels")
def make(around: Around, asker: Asker, body: LabelsBody) -> list[LabelReply]:
    """Give a code to equipment that has none; one that has a code keeps it for ever."""
    wanted = Wanted(equipment_ids=tuple(body.equipment_ids))
    return [LabelReply.of(one) for one in make_labels(around.store, asker, wanted, now=around.now())]


@router.get("/labels/{code}")
def find(around: Around, asker: Asker, code: Annotated[str, Path(max_length=40)]) -> FoundReply:
    """The equipment whose label says this, and the stop of the asker's round under way."""
    found = find_label(around.store, asker, code, now=around.now())
    round_id, stop_id = found.under_way or (None, None)
    told = LabelReply.of(found.equipment).model_dump()
    return FoundReply(**told, round_id=round_id, stop_id=stop_id)
