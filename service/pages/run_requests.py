"""Machines of a round that run in turn: note whom they were asked of, and what was answered."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from service.domain.people import Actor
from service.domain.run_requests import run_words, still_to_ask
from service.errors import Invalid, Problem
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.rounds import Id, Lists, ids_of
from service.pages.run_words import running_title
from service.pages.templating import redirect, render
from service.usecases.rounds import run_requests
from service.usecases.rounds.browse import read_round
from service.usecases.surroundings import Surroundings

router = APIRouter()
ANSWERS = (("agreed", "It will run"), ("refused", "It will not run"))


@router.get("/rounds/{round_id}/running")
def show(request: Request, around: Around, actor: SignedIn, round_id: Id) -> HTMLResponse:
    return _page(request, around, actor, round_id, typed={}, problems=())


def _page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    round_id: int,
    *,
    typed: dict[str, str],
    problems: Any,
    ticked: tuple[int, ...] | None = None,
    answered: int | None = None,
) -> HTMLResponse:
    """``answered`` is the request whose form was sent, where it was not taken."""
    page = read_round(around.store, actor, round_id, now=around.now())
    day = page.round.planned_on
    waiting = {stop.facts.id for stop in page.in_turn if still_to_ask(stop.run_request, day)}
    return render(
        request,
        "rounds/running.html",
        status_code=422 if problems else 200,
        place="rounds",
        title=running_title(page),
        page=page,
        round=page.round,
        requests=run_requests.list_run_requests(around.store, actor, round_id),
        names={stop.facts.id: stop.facts.title for stop in page.in_turn},
        run_words=run_words,
        ticked=waiting if ticked is None else ticked,
        editable=page.may_plan and page.running,
        answers=ANSWERS,
        answered=answered,
        typed=typed,
        problems=problems,
    )


@router.post("/rounds/{round_id}/running")
def ask(
    request: Request, around: Around, actor: SignedIn, form: Posted, lists: Lists, round_id: Id
) -> Response:
    ticked = ids_of(lists, "equipment")
    try:
        noted = run_requests.ask_to_run(
            around.store, actor, round_id, ticked, asked_of=form.text("asked_of"), now=around.now()
        )
    except Invalid as error:
        return _page(
            request, around, actor, round_id, typed=form.typed, problems=error.problems, ticked=ticked
        )
    told = f"Noted: {view.counted(len(noted), 'machine')} asked for. Type the site’s answer when it comes."
    return redirect(f"/rounds/{round_id}/running", say=told)


@router.post("/run-requests/{request_id}/answer")
def answer(request: Request, around: Around, actor: SignedIn, form: Posted, request_id: Id) -> Response:
    asked = run_requests.read_run_request(around.store, actor, request_id)
    said = form.text("agreed")
    try:
        if said not in dict(ANSWERS):
            raise Invalid([Problem("form", "agreed", said, "Does it run or not?", "Choose one.")])
        run_requests.answer_run_request(
            around.store,
            actor,
            request_id,
            agreed=said == "agreed",
            answer=form.text("answer"),
            version=form.version(),
            now=around.now(),
        )
    except Invalid as error:
        return _page(
            request,
            around,
            actor,
            asked.round_id,
            typed=form.typed,
            problems=error.problems,
            answered=request_id,
        )
    return redirect(f"/rounds/{asked.round_id}/running", say="The answer is noted.")
