"""Questions sent back over JSON: an engineer asks about a row, who walked the round answers."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Path, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker, EditedVersion, tag
from service.api.problems import PROBLEMS
from service.domain.questions import LONGEST, RoundQuestion
from service.usecases.rounds import questions

router = APIRouter(tags=["questions sent back"], responses=PROBLEMS)
Id = Annotated[int, Path(ge=1, le=2**53)]
Text = Annotated[str, Field(min_length=1, max_length=LONGEST)]


class QuestionReply(BaseModel):
    id: int
    row_uid: str
    stop_id: int
    point_id: int
    point_tag: str
    point_title: str
    question: str
    asked_at: datetime
    asked_by: str
    answer: str
    answered_at: datetime | None = Field(description="null: open")
    answered_by: str
    version: int

    @classmethod
    def of(cls, question: RoundQuestion) -> "QuestionReply":
        return cls.model_validate(question, from_attributes=True)


class AskBody(BaseModel):
    model_config = ConfigDict(extra="forbid")
    row_uid: Annotated[str, Field(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
    question: Text


class AnswerBody(BaseModel):
    model_config = ConfigDict(extra="forbid")
    answer: Text


@router.get("/rounds/{round_id}/questions")
def list_questions(around: Around, asker: Asker, round_id: Id) -> list[QuestionReply]:
    """Questions about points of a round, open and answered."""
    found = questions.list_questions(around.store, asker, round_id)
    return [QuestionReply.of(question) for question in found]


@router.post("/rounds/{round_id}/questions", status_code=201)
def ask(around: Around, asker: Asker, response: Response, round_id: Id, body: AskBody) -> QuestionReply:
    """Ask those who walked the round about one point."""
    asked = questions.ask(
        around.store, asker, round_id, row_uid=body.row_uid, text=body.question, now=around.now()
    )
    tag(response, asked.version)
    return QuestionReply.of(asked)


@router.put("/rounds/{round_id}/questions/{question_id}")
def answer(
    around: Around,
    asker: Asker,
    response: Response,
    round_id: Id,
    question_id: Id,
    version: EditedVersion,
    body: AnswerBody,
) -> QuestionReply:
    """Answer a question; the version is that of the list (``If-Match: "1"`` for one never answered)."""
    answered = questions.answer(
        around.store, asker, round_id, question_id, text=body.answer, version=version, now=around.now()
    )
    tag(response, answered.version)
    return QuestionReply.of(answered)
