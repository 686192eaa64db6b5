"""One walk of a plan, and where one stop could go: everything that a hand changes."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from service.charts.timetable import stop_bar, timetable_key, timetable_svg
from service.domain.people import Actor
from service.errors import Invalid
from service.pages import plan_words
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.rounds import Id, Lists, ids_of, minute_typed
from service.pages.templating import redirect, render
from service.usecases.plans import change, draw_up, see, walk_party
from service.usecases.plans.change import Edit, Placing
from service.usecases.plans.lose import look_at_loss
from service.usecases.plans.make_rounds import make_rounds
from service.usecases.plans.offers import read_places
from service.usecases.plans.reserve import moving_to_reserve, reserving
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/rounds/plans/{plan_id}")
Key = Annotated[str, Path(pattern=r"^\d{4}-\d{2}-\d{2}\.\d{1,15}$")]
STEPS = {"up": -1, "down": 1}


@router.get("/walks/{key}")
def walk(
    request: Request,
    around: Around,
    actor: SignedIn,
    plan_id: Id,
    key: Key,
    version: Annotated[int | None, Query(ge=1, le=2**53)] = None,
) -> HTMLResponse:
    return _walk_page(request, around, actor, plan_id, key, number=version)


def _walk_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    plan_id: int,
    key: str,
    *,
    number: int | None = None,
    typed: dict[str, str] | None = None,
    problems: Any = (),
) -> HTMLResponse:
    page = see.read_plan(around.store, actor, plan_id, number=number)
    one = page.walk(key)
    table = plan_words.as_timetable(one, page.facts)
    company = walk_party.company_for(around.store, actor, plan_id) if page.editable else ()
    return render(
        request,
        "plans/walk.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        plan=page.plan,
        walk=one,
        title=plan_words.walk_title(page, one),
        lead=plan_words.walk_lead(one),
        items=[
            (
                stop,
                page.facts[stop.equipment_id],
                plan_words.stop_words(stop, page.facts[stop.equipment_id]),
                stop_bar(drawn, start_min=table.start_min, end_min=table.end_min),
            )
            for stop, drawn in zip(one.stops, table.stops, strict=True)
        ],
        drawing=timetable_svg(table),
        key=timetable_key(),
        company=[(person.id, person.name) for person in company if person.id != one.person_id],
        made=page.rounds.get(one.key),
        reserved=next((plan_words.reserve_words(day) for day in page.reserves if day.walk.key == key), ""),
        spoiled=[spoiled for spoiled in page.spoiled if spoiled.walk.key == key],
        typed=typed or {},
        problems=problems,
    )


@router.get("/place/{equipment_id}")
def place(request: Request, around: Around, actor: SignedIn, plan_id: Id, equipment_id: Id) -> HTMLResponse:
    return _place_page(request, around, actor, plan_id, equipment_id)


def _place_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    plan_id: int,
    equipment_id: int,
    *,
    typed: dict[str, str] | None = None,
    problems: Any = (),
) -> HTMLResponse:
    found = read_places(around.store, actor, plan_id, equipment_id, now=around.now())
    return render(
        request,
        "plans/place.html",
        status_code=422 if problems else 200,
        place="rounds",
        found=found,
        page=found.page,
        plan=found.page.plan,
        facts=found.visit.facts,
        why_not=plan_words.why_refused,
        typed=typed or {},
        problems=problems,
    )


def _do(around: Surroundings, actor: Actor, plan_id: int, edit: Edit, form: Form, now: datetime) -> None:
    change.change_plan(around.store, actor, plan_id, edit, version=form.version(), now=now)


@router.post("/place/{equipment_id}")
def put(
    request: Request, around: Around, actor: SignedIn, form: Posted, plan_id: Id, equipment_id: Id
) -> Response:
    """Put the stop on a walk: at its cheapest place, at a place typed, or pinned to a time."""
    key = form.text("walk")
    try:
        pinned = minute_typed(form, "pinned") if form.text("pinned") else None
        position = form.whole("position")
        form.done()
        wish = Placing(
            equipment_id,
            key,
            place=position,
            pinned_min=None if pinned is None else float(pinned),
            anyway=form.text("anyway"),
        )
        _do(around, actor, plan_id, change.placing(wish), form, around.now())
    except Invalid as error:
        return _place_page(
            request, around, actor, plan_id, equipment_id, typed=form.typed, problems=error.problems
        )
    return redirect(f"/rounds/plans/{plan_id}/walks/{key}", say="It is on the walk, held by hand.")


@router.post("/exclude/{equipment_id}")
def exclude(
    request: Request, around: Around, actor: SignedIn, form: Posted, plan_id: Id, equipment_id: Id
) -> Response:
    try:
        _do(around, actor, plan_id, change.excluding(equipment_id, form.text("reason")), form, around.now())
    except Invalid as error:
        return _place_page(
            request, around, actor, plan_id, equipment_id, typed=form.typed, problems=error.problems
        )
    return redirect(f"/rounds/plans/{plan_id}", say="Kept.")


@router.post("/walks/{key}/order")
def order(
    request: Request, around: Around, actor: SignedIn, form: Posted, lists: Lists, plan_id: Id, key: Key
) -> Response:
    return _change_walk(
        request, around, actor, form, plan_id, key, change.ordering(key, ids_of(lists, "stop"))
    )


@router.post("/walks/{key}/{step}/{equipment_id}")
def step(
    request: Request,
    around: Around,
    actor: SignedIn,
    form: Posted,
    plan_id: Id,
    key: Key,
    step: Annotated[str, Path(pattern="^(up|down)$")],
    equipment_id: Id,
) -> Response:
    edit = change.stepping(key, equipment_id, by=STEPS[step])
    return _change_walk(request, around, actor, form, plan_id, key, edit)


@router.post("/walks/{key}/freeze")
def freeze(
    request: Request, around: Around, actor: SignedIn, form: Posted, plan_id: Id, key: Key
) -> Response:
    edit = change.freezing(key, frozen=form.ticked("frozen"))
    return _change_walk(request, around, actor, form, plan_id, key, edit)


@router.post("/walks/{key}/reserve")
def reserve(
    request: Request, around: Around, actor: SignedIn, form: Posted, plan_id: Id, key: Key
) -> Response:
    """Keep the day free for outdoor readings, or give it up."""
    edit = reserving(key, kept=form.ticked("kept"))
    return _change_walk(request, around, actor, form, plan_id, key, edit)


@router.post("/walks/{key}/to-reserve")
def to_reserve(
    request: Request, around: Around, actor: SignedIn, form: Posted, plan_id: Id, key: Key
) -> Response:
    """Put the outdoor stops on the reserve day, since the weather spoils this one."""
    return _change_walk(request, around, actor, form, plan_id, key, moving_to_reserve(key))


@router.get("/walks/{key}/lose")
def look_at_lose(request: Request, around: Around, actor: SignedIn, plan_id: Id, key: Key) -> HTMLResponse:
    return _lose_page(request, around, actor, plan_id, key)


def _lose_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    plan_id: int,
    key: str,
    *,
    typed: dict[str, str] | None = None,
    problems: Any = (),
) -> HTMLResponse:
    look = look_at_loss(around.store, actor, plan_id, key, now=around.now())
    return render(
        request,
        "plans/lose.html",
        status_code=422 if problems else 200,
        place="rounds",
        look=look,
        plan=look.page.plan,
        walk=look.walk,
        title=plan_words.lost_title(look),
        typed=typed or {},
        problems=problems,
    )


@router.post("/walks/{key}/lose")
def lose(request: Request, around: Around, actor: SignedIn, form: Posted, plan_id: Id, key: Key) -> Response:
    """Lose the day, and have its stops find a place in the way that was chosen."""
    try:
        _do(around, actor, plan_id, change.losing(key, form.text("reason")), form, around.now())
    except Invalid as error:
        return _lose_page(request, around, actor, plan_id, key, typed=form.typed, problems=error.problems)
    how = form.text("how")
    if how in draw_up.WAYS:
        version = see.read_plan(around.store, actor, plan_id).plan.version
        draw_up.ask_for_drawing(
            around.store, actor, plan_id, draw_up.WAYS[how], version=version, now=around.now()
        )
    return redirect(f"/rounds/plans/{plan_id}", say="The day is lost. What was on it stays due.")


@router.post("/walks/{key}/details")
def details(
    request: Request, around: Around, actor: SignedIn, form: Posted, plan_id: Id, key: Key
) -> Response:
    try:
        start, end = minute_typed(form, "start"), minute_typed(form, "end")
        second = form.whole("second_id")
        form.done()
        assert start is not None
        assert end is not None
        wish = change.WalkDetails(
            start_min=start,
            end_min=end,
            second_id=second,
            forecast=form.text("forecast"),
            indoors_only=form.ticked("indoors_only"),
        )
        walk_party.detail_walk(
            around.store, actor, plan_id, key, wish, version=form.version(), now=around.now()
        )
    except Invalid as error:
        return _walk_page(request, around, actor, plan_id, key, typed=form.typed, problems=error.problems)
    return redirect(f"/rounds/plans/{plan_id}/walks/{key}", say="Kept.")


def _change_walk(
    request: Request,
    around: Surroundings,
    actor: Actor,
    form: Form,
    plan_id: int,
    key: str,
    edit: Edit,
) -> Response:
    try:
        _do(around, actor, plan_id, edit, form, around.now())
    except Invalid as error:
        return _walk_page(request, around, actor, plan_id, key, typed=form.typed, problems=error.problems)
    return redirect(f"/rounds/plans/{plan_id}/walks/{key}", say="Kept.")


@router.post("/rounds")
def rounds(around: Around, actor: SignedIn, form: Posted, plan_id: Id) -> Response:
    made = make_rounds(around.store, actor, plan_id, version=form.version(), now=around.now())
    return redirect(f"/rounds/plans/{plan_id}", say=plan_words.made_words(made))
