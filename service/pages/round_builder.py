"""The builder of a round: its timetable, the order of its stops, who walks, what else would fit."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from markupsafe import Markup
from starlette.responses import Response

from service.charts.timetable import stop_bar, timetable_key, timetable_svg
from service.domain.people import Actor
from service.domain.run_requests import run_words
from service.domain.walking_parties import Walker
from service.domain.words import RoundState
from service.errors import Invalid, NotFound
from service.pages import round_words
from service.pages.asking import Around, SignedIn
from service.pages.check_words import check_line
from service.pages.exposure_words import SUN_RULE, exposure_words, tell_first
from service.pages.forms import Posted
from service.pages.rounds import Id, Lists, ids_of, minute_typed
from service.pages.run_words import run_state
from service.pages.templating import redirect, render
from service.usecases.findings.list_findings import list_untold
from service.usecases.rounds import edit
from service.usecases.rounds.browse import BuilderPage, read_builder
from service.usecases.rounds.choices import equipment_of_tag
from service.usecases.rounds.edit import RoundDetails
from service.usecases.rounds.exposure import read_exposure
from service.usecases.rounds.timetable import TimedStop, reorder_round_for_load
from service.usecases.surroundings import Surroundings

router = APIRouter()
STEPS = {"up": -1, "down": 1}


@dataclass(frozen=True, slots=True)
class StopItem:
    """One stop in the list beside the drawing."""

    stop: TimedStop
    words: str
    off_words: str
    bar: Markup


@router.get("/rounds/{round_id}/build")
def build(request: Request, around: Around, actor: SignedIn, round_id: Id) -> HTMLResponse:
    return _builder(request, around, actor, round_id, typed={}, problems=())


def _builder(
    request: Request,
    around: Surroundings,
    actor: Actor,
    round_id: int,
    *,
    typed: dict[str, str],
    problems: Any,
) -> HTMLResponse:
    seen = read_builder(around.store, actor, round_id, now=around.now())
    page, day = seen.page, seen.page.day
    exposure = read_exposure(around.store, actor, round_id, now=around.now())
    table = round_words.as_timetable(day)
    editable = page.may_plan and page.round.state is RoundState.DRAFT
    items = [
        StopItem(
            stop,
            round_words.stop_words(stop),
            round_words.off_hours_words(stop),
            stop_bar(round_words.as_drawn(stop), start_min=table.start_min, end_min=table.end_min),
        )
        for stop in day.stops
    ]
    return render(
        request,
        "rounds/build.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        round=page.round,
        title=round_words.round_title(page),
        lead=round_words.builder_lead(day),
        facts=round_words.six_facts(day),
        items=items,
        drawing=timetable_svg(table),
        key=timetable_key(),
        beside=[(one, round_words.beside_words(one)) for one in seen.beside],
        editable=editable,
        walkers=_people(seen),
        instruments=[(one.id, f"{one.name} ({one.serial})") for one in seen.instruments],
        shut=[stop for stop in day.stops if stop.closed],
        check_line=check_line,
        run_state=run_state,
        run_words=run_words,
        exposure=exposure_words(exposure, told=page.warnings),
        sun_rule=SUN_RULE,
        tell_first=tell_first(list_untold(around.store, actor, site_ids=page.sites)) if page.running else (),
        waits_for="this round",
        overdue=page.instrument is not None and page.instrument.calibration_overdue(page.round.planned_on),
        typed=typed,
        problems=problems,
    )


def _people(seen: BuilderPage) -> list[tuple[int, str]]:
    chosen = [walker for walker in (seen.page.person, seen.page.second) if walker is not None]
    people = {walker.id: walker for walker in (*chosen, *seen.walkers)}
    day = seen.page.round.planned_on
    return [(walker.id, _person_words(walker, day)) for walker in people.values()]


def _person_words(walker: Walker, day: date) -> str:
    """A. Quill, qualified, no certificate valid on that day."""
    told = [walker.name]
    if walker.qualified:
        told.append("qualified")
    if walker.expired_on(day):
        told.append("no certificate valid on that day")
    elif walker.may_sign(day):
        told.append("may sign")
    return ", ".join(told)


@router.post("/rounds/{round_id}/order")
def order(
    request: Request, around: Around, actor: SignedIn, form: Posted, lists: Lists, round_id: Id
) -> Response:
    try:
        edit.reorder_stops(
            around.store,
            actor,
            round_id,
            ids_of(lists, "stop"),
            version=form.version(),
            now=around.now(),
        )
    except Invalid as error:
        return _builder(request, around, actor, round_id, typed=form.typed, problems=error.problems)
    return redirect(f"/rounds/{round_id}/build", say="The order is kept.")


@router.post("/rounds/{round_id}/reorder-for-load")
def for_load(around: Around, actor: SignedIn, form: Posted, round_id: Id) -> Response:
    reorder_round_for_load(around.store, actor, round_id, version=form.version(), now=around.now())
    return redirect(f"/rounds/{round_id}/build", say="Re-ordered for load.")


@router.post("/rounds/{round_id}/stops")
def add(
    request: Request, around: Around, actor: SignedIn, form: Posted, lists: Lists, round_id: Id
) -> Response:
    try:
        picked = ids_of(lists, "equipment")
        if not picked:
            picked = (equipment_of_tag(around.store, actor, round_id, form.text("tag")),)
        edit.add_stops(around.store, actor, round_id, picked, version=form.version(), now=around.now())
    except Invalid as error:
        return _builder(request, around, actor, round_id, typed=form.typed, problems=error.problems)
    return redirect(f"/rounds/{round_id}/build", say="Added behind the stops of its site.")


@router.post("/rounds/{round_id}/stops/{stop_id}/{step}")
def change_stop(
    around: Around, actor: SignedIn, form: Posted, round_id: Id, stop_id: Id, step: str
) -> Response:
    at: dict[str, Any] = {"version": form.version(), "now": around.now()}
    if step in STEPS:
        edit.move_stop(around.store, actor, round_id, stop_id, by=STEPS[step], **at)
    elif step == "remove":
        edit.remove_stop(around.store, actor, round_id, stop_id, **at)
        return redirect(f"/rounds/{round_id}/build", say="Taken out. What is due there stays due.")
    else:
        raise NotFound()
    return redirect(f"/rounds/{round_id}/build")


@router.post("/rounds/{round_id}/details")
def details(request: Request, around: Around, actor: SignedIn, form: Posted, round_id: Id) -> Response:
    try:
        day, start = form.day("planned_on"), minute_typed(form, "start")
        person, second = form.whole("person_id"), form.whole("second_person_id")
        instrument = form.whole("instrument_id")
        form.done()
        round_ = read_builder(around.store, actor, round_id, now=around.now()).page.round
        edit.edit_round(
            around.store,
            actor,
            round_id,
            RoundDetails(
                name=form.text("name"),
                planned_on=day or round_.planned_on,
                start_min=round_.start_min if start is None else start,
                person_id=person,
                second_person_id=second,
                instrument_id=instrument,
                weather=form.text("weather"),
                note=form.text("note"),
            ),
            version=form.version(),
            now=around.now(),
        )
    except Invalid as error:
        return _builder(request, around, actor, round_id, typed=form.typed, problems=error.problems)
    return redirect(f"/rounds/{round_id}/build", say="Kept.")
