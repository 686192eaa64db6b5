"""What is held aside: one send whole, taken in or set aside; and what the walk of a round brought."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from service.domain.field_records import SendKind
from service.domain.people import Actor
from service.errors import Invalid, NotFound, Problem
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.held_words import body_lines, clock_line, held_title, stay, walked_lead
from service.pages.templating import redirect, render
from service.usecases.field import held
from service.usecases.field.walked import see_walked
from service.usecases.surroundings import Surroundings

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**53)]
SAID = {"take-in": "It is taken in.", "set-aside": "It is set aside, and stays to be seen."}


@router.get("/held/{held_id}")
def see(request: Request, around: Around, actor: SignedIn, held_id: Id) -> Response:
    return _page(request, around, actor, held_id, problems=(), typed={})


def _page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    held_id: int,
    *,
    problems: Any,
    typed: dict[str, str],
) -> Response:
    page = held.see_held(around.store, actor, held_id)
    return render(
        request,
        "field/held.html",
        status_code=422 if problems else 200,
        place="desk",
        page=page,
        held=page.held,
        title=held_title(page.held),
        lines=body_lines(page.held),
        targets=[(target.round_id, target.words) for target in page.targets],
        of_reading=page.held.kind is SendKind.READING,
        of_telling=page.held.kind is SendKind.TELLING,
        problems=problems,
        typed=typed,
    )


@router.post("/held/{held_id}/{step}")
def decide(
    request: Request, around: Around, actor: SignedIn, form: Posted, held_id: Id, step: str
) -> Response:
    """Take it in or set it aside; decided once."""
    if step not in SAID:
        raise NotFound()
    try:
        _decided(around, actor, form, held_id, step)
    except Invalid as error:
        return _page(request, around, actor, held_id, problems=error.problems, typed=form.typed)
    return redirect(f"/held/{held_id}", say=SAID[step])


def _decided(around: Surroundings, actor: Actor, form: Form, held_id: int, step: str) -> None:
    now = around.now()
    round_id, finding_id = form.whole("round_id"), form.whole("finding_id")
    form.done()
    if step == "set-aside":
        with _at_its_box():
            held.set_held_aside(around.store, actor, held_id, reason=form.text("why_aside"), now=now)
        return
    reason = form.text("reason")
    held.take_held_in(
        around.store, actor, held_id, reason=reason, round_id=round_id, finding_id=finding_id, now=now
    )


@contextmanager
def _at_its_box() -> Iterator[None]:
    """The page has two boxes for a reason; a problem is told at the one that was sent."""
    try:
        yield
    except Invalid as error:
        raise Invalid([replace(one, field="why_aside") for one in error.problems]) from error


@router.get("/rounds/{round_id}/walked")
def walked(request: Request, around: Around, actor: SignedIn, round_id: Id) -> Response:
    """What devices sent from the walk of a round beside its readings."""
    return walked_page(request, around, actor, round_id)


def walked_page(
    request: Request, around: Surroundings, actor: Actor, round_id: int, *, problems: Sequence[Problem] = ()
) -> Response:
    """The page of a walk, also with what was wrong with a form on it."""
    page = see_walked(around.store, actor, round_id)
    return render(
        request,
        "field/walked.html",
        status_code=422 if problems else 200,
        problems=problems,
        place="rounds",
        page=page,
        round=page.round,
        lead=walked_lead(page),
        clock_line=clock_line,
        stay=stay,
    )
