"""Machines of a round that run in turn: whom it was asked of to have them run, and the answer."""

from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Path, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker, EditedVersion, tag
from service.domain.run_requests import RunRequest
from service.domain.words import RunRequestState
from service.usecases.rounds import run_requests

router = APIRouter(tags=["permits"])
Id = Annotated[int, Path(ge=1, le=2**53)]
BodyId = Annotated[int, Field(ge=1, le=2**53)]
Text = Annotated[str, Field(max_length=500)]


class NewRunRequestsBody(BaseModel):
    """Machines of the round that the site was asked to have run on its day."""

    model_config = ConfigDict(extra="forbid")

    equipment_ids: list[BodyId] = Field(min_length=1, max_length=200)
    asked_of: Text = Field(default="", description="whom, as the site calls them")


class AnswerBody(BaseModel):
    """What the site said; a refusal says why, and when the machine would run."""

    model_config = ConfigDict(extra="forbid")

    agreed: bool
    answer: Text = ""


class RunRequestReply(BaseModel):
    id: int
    round_id: int
    equipment_id: int
    site_id: int
    day: date
    state: RunRequestState
    asked_of: str
    asked_at: datetime
    asked_by: str
    answer: str
    answered_at: datetime | None
    answered_by: str
    version: int

    @classmethod
    def of(cls, one: RunRequest) -> "RunRequestReply":
        return cls.model_validate(one, from_attributes=True)


@router.get("/rounds/{round_id}/run-requests")
def list_run_requests(around: Around, asker: Asker, round_id: Id) -> list[RunRequestReply]:
    """Every request of a round in the order in which they were noted; of one machine the last counts."""
    found = run_requests.list_run_requests(around.store, asker, round_id)
    return [RunRequestReply.of(one) for one in found]


@router.post("/rounds/{round_id}/run-requests", status_code=201)
def ask_to_run(around: Around, asker: Asker, round_id: Id, body: NewRunRequestsBody) -> list[RunRequestReply]:
    """Note that the site was asked to have machines run on the round's day."""
    noted = run_requests.ask_to_run(
        around.store, asker, round_id, body.equipment_ids, asked_of=body.asked_of, now=around.now()
    )
    return [RunRequestReply.of(one) for one in noted]


@router.post("/run-requests/{request_id}/answer")
def answer_run_request(
    around: Around, asker: Asker, response: Response, request_id: Id, version: EditedVersion, body: AnswerBody
) -> RunRequestReply:
    """Note what the site answered."""
    noted = run_requests.answer_run_request(
        around.store,
        asker,
        request_id,
        agreed=body.agreed,
        answer=body.answer,
        version=version,
        now=around.now(),
    )
    tag(response, noted.version)
    return RunRequestReply.of(noted)
