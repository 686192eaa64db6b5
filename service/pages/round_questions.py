"""Questions sent back: asked from what came back, answered on a page of their own."""

from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.rounds import OPEN_FOR_READINGS
from service.errors import Invalid
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.rounds import Id
from service.pages.templating import redirect, render
from service.usecases.readings.of_round import see_points_of_round
from service.usecases.rounds import browse, questions
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/rounds/{round_id}/questions")
QuestionId = Annotated[int, Path(ge=1, le=2**53)]


@router.get("")
def see(request: Request, around: Around, actor: SignedIn, round_id: Id) -> Response:
    return _page(request, around, actor, round_id, problems=())


def _page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    round_id: int,
    *,
    problems: Any,
    typed: dict[str, str] | None = None,
) -> Response:
    asked = questions.list_questions(around.store, actor, round_id)
    page = browse.read_round(around.store, actor, round_id, now=around.now())
    points = {one.point_id: one for one in see_points_of_round(around.store, actor, round_id=round_id)}
    running = page.round.state in OPEN_FOR_READINGS
    return render(
        request,
        "rounds/questions.html",
        status_code=422 if problems else 200,
        place="rounds",
        round=page.round,
        asked=asked,
        points=points,
        open=sum(one.open for one in asked),
        may_answer=running and may(actor, Verb.BRING_READINGS),
        problems=problems,
        typed=typed or {},
    )


@router.post("")
def ask(request: Request, around: Around, actor: SignedIn, form: Posted, round_id: Id) -> Response:
    try:
        questions.ask(
            around.store,
            actor,
            round_id,
            row_uid=form.text("row_uid"),
            text=form.text("question"),
            now=around.now(),
        )
    except Invalid as error:
        return _page(request, around, actor, round_id, problems=error.problems)
    say = "Sent back: it stands on the round and on the Desk of who walked it."
    return redirect(f"/rounds/{round_id}/reception#questions", say=say)


@router.post("/{question_id}")
def answer(
    request: Request, around: Around, actor: SignedIn, form: Posted, round_id: Id, question_id: QuestionId
) -> Response:
    try:
        questions.answer(
            around.store,
            actor,
            round_id,
            question_id,
            text=form.text("answer"),
            version=form.version(),
            now=around.now(),
        )
    except Invalid as error:
        told = [replace(problem, field=f"{problem.field}{question_id}") for problem in error.problems]
        typed = {f"answer{question_id}": form.text("answer")}
        return _page(request, around, actor, round_id, problems=told, typed=typed)
    return redirect(f"/rounds/{round_id}/questions", say="Answered.")
