"""Signing a round off: what was not read and why, doubles, the signature."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from service.domain.people import Actor
from service.domain.words import Reason
from service.errors import Invalid, Problem
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.rounds import Id
from service.pages.templating import redirect, render
from service.usecases.rounds.sign_off import read_sign_off, sign_off_round
from service.usecases.surroundings import Surroundings

router = APIRouter()
REASONS = tuple((reason.value, f"{reason.value}: {reason.word}") for reason in Reason)
FIELD = "reason-"


@router.get("/rounds/{round_id}/sign-off")
def see(request: Request, around: Around, actor: SignedIn, round_id: Id) -> HTMLResponse:
    return _page(request, around, actor, round_id, typed={}, problems=())


def _page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    round_id: int,
    *,
    typed: dict[str, str],
    problems: Any,
) -> HTMLResponse:
    page = read_sign_off(around.store, actor, round_id, now=around.now())
    return render(
        request,
        "rounds/sign_off.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        round=page.round,
        reasons=REASONS,
        typed=typed,
        problems=problems,
    )


@router.post("/rounds/{round_id}/sign-off")
def sign(request: Request, around: Around, actor: SignedIn, form: Posted, round_id: Id) -> Response:
    everywhere = form.text("reason_for_all")
    page = read_sign_off(around.store, actor, round_id, now=around.now())
    reasons: dict[str, Reason] = {}
    try:
        for point in page.not_read:
            letter = form.text(f"{FIELD}{point.row_uid}") or everywhere
            if letter in set(Reason):
                reasons[point.row_uid] = Reason(letter)
            elif letter:
                message = "This is none of the ten reasons."
                form.problems.append(
                    Problem("form", f"{FIELD}{point.row_uid}", letter[:10], message, "Choose one.")
                )
        form.done()
        sign_off_round(
            around.store, actor, round_id, reasons=reasons, version=form.version(), now=around.now()
        )
    except Invalid as error:
        return _page(request, around, actor, round_id, typed=form.typed, problems=error.problems)
    return redirect(f"/rounds/{round_id}", say="Signed off in your name.")
