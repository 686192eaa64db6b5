"""Phrases for the notes of pictures, under Set-up: a list per client, one line each."""

from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.errors import Invalid, Problem
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.templating import redirect, render
from service.usecases.pictures.phrases import list_phrases, set_phrases
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/set-up/phrases")

ClientId = Annotated[int, Path(ge=1, le=2**53)]


@router.get("")
def show(request: Request, around: Around, actor: SignedIn) -> Response:
    return _page(request, around, actor, typed={}, client_id=0, problems=())


def _page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    *,
    typed: dict[str, str],
    client_id: int,
    problems: tuple[Problem, ...],
) -> Response:
    return render(
        request,
        "set_up/phrases.html",
        status_code=422 if problems else 200,
        place="setup",
        lists=list_phrases(around.store, actor),
        may_edit=may(actor, Verb.KEEP_REGISTER),
        typed=typed,
        wrong=client_id,
        problems=problems,
    )


@router.post("/{client_id}")
def take(request: Request, around: Around, actor: SignedIn, client_id: ClientId, form: Posted) -> Response:
    lines = tuple(form.text("lines").splitlines())
    try:
        set_phrases(around.store, actor, client_id, lines, version=form.version(), now=around.now())
    except Invalid as error:
        return _page(request, around, actor, typed=form.typed, client_id=client_id, problems=error.problems)
    return redirect("/set-up/phrases", say="Kept: the phrases are offered from now on.")
