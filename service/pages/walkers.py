"""Who walks when, who is absent and which site is closed, under Rounds."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.planning import WalkingHours, WalkPart
from service.domain.public_holidays import public_holidays
from service.errors import Invalid, Problem
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.templating import redirect, render
from service.pages.view import number_word, sentence_case
from service.usecases.plans import walkers
from service.usecases.plans.walkers import WalkersPage
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/rounds/people")
Id = Annotated[int, Path(ge=1, le=2**53)]
PLACE = "/rounds/people"
PARTS = (
    (WalkPart.READS.value, "Reads"),
    (WalkPart.GOES_ALONG.value, "Goes along"),
    (WalkPart.NONE.value, "Does not walk"),
)
NEXT_HOLIDAYS = timedelta(days=365)


@router.get("")
def list_people(request: Request, around: Around, actor: SignedIn) -> Response:
    return _list_page(request, around, actor, typed={}, problems=())


@router.post("/closures")
def add_closure(request: Request, around: Around, actor: SignedIn, form: Posted) -> Response:
    try:
        site_id = form.whole("site_id")
        from_on, to_on = _span(form)
        walkers.add_closure(
            around.store,
            actor,
            site_id or 0,
            from_on=from_on,
            to_on=to_on,
            reason=form.text("reason"),
            now=around.now(),
        )
    except Invalid as error:
        return _list_page(request, around, actor, typed=form.typed, problems=error.problems)
    return redirect(PLACE, say="Noted.")


@router.post("/closures/{closure_id}/remove")
def remove_closure(around: Around, actor: SignedIn, closure_id: Id) -> Response:
    walkers.remove_closure(around.store, actor, closure_id, now=around.now())
    return redirect(PLACE, say="Taken away.")


@router.post("/absences/{absence_id}/remove")
def remove_absence(around: Around, actor: SignedIn, absence_id: Id) -> Response:
    gone = walkers.remove_absence(around.store, actor, absence_id, now=around.now())
    return redirect(f"{PLACE}/{gone.person_id}", say="Taken away.")


@router.get("/{person_id}")
def see(request: Request, around: Around, actor: SignedIn, person_id: Id) -> Response:
    return _person_page(request, around, actor, person_id)


@router.post("/{person_id}/hours")
def set_hours(request: Request, around: Around, actor: SignedIn, form: Posted, person_id: Id) -> Response:
    try:
        wanted = _wanted(form, person_id)
        form.done()
        walkers.set_walking_hours(around.store, actor, wanted, version=form.version(), now=around.now())
    except Invalid as error:
        return _person_page(request, around, actor, person_id, typed=form.typed, problems=error.problems)
    return redirect(f"{PLACE}/{person_id}", say="Kept.")


@router.post("/{person_id}/absences")
def add_absence(request: Request, around: Around, actor: SignedIn, form: Posted, person_id: Id) -> Response:
    try:
        from_on, to_on = _span(form)
        walkers.add_absence(
            around.store,
            actor,
            person_id,
            from_on=from_on,
            to_on=to_on,
            note=form.text("note"),
            now=around.now(),
        )
    except Invalid as error:
        return _person_page(request, around, actor, person_id, absence=form.typed, problems=error.problems)
    return redirect(f"{PLACE}/{person_id}", say="Noted.")


def _span(form: Form) -> tuple[date, date]:
    """The days from and to; a single day needs its first only."""
    from_on = form.day("from_on")
    to_on = form.day("to_on") or from_on
    if from_on is None and not form.problems:
        form.problems.append(Problem("form", "from_on", "nothing", "From which day?", "Choose the day."))
    form.done()
    assert from_on is not None
    assert to_on is not None
    return from_on, to_on


def _wanted(form: Form, person_id: int) -> WalkingHours:
    part = form.text("part")
    if part not in set(WalkPart):
        form.problems.append(
            Problem("form", "part", part[:40], "This is no part in a walk.", "Choose one of the three.")
        )
    return WalkingHours(
        person_id=person_id,
        part=WalkPart(part) if part in set(WalkPart) else WalkPart.NONE,
        hours=form.text("hours"),
        start_place=form.text("start_place"),
        start_latitude=form.number("start_latitude"),
        start_longitude=form.number("start_longitude"),
        holidays_of=form.text("holidays_of"),
    )


def _list_page(
    request: Request, around: Surroundings, actor: Actor, *, typed: Mapping[str, str], problems: Any
) -> Response:
    page = walkers.read_walkers(around.store, actor, today=around.now().date())
    return render(
        request,
        "rounds/people.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        title=people_title(page),
        sites=[(site.id, site.name) for site in page.sites],
        closed=[(site, closure) for site in page.sites for closure in site.closures],
        parts=dict(PARTS),
        may_plan=may(actor, Verb.KEEP_REGISTER),
        typed=typed,
        problems=problems,
    )


def _person_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    person_id: int,
    *,
    typed: Mapping[str, str] | None = None,
    absence: Mapping[str, str] | None = None,
    problems: Any = (),
) -> Response:
    today = around.now().date()
    line = walkers.read_walker(around.store, actor, person_id, today=today)
    holidays = public_holidays(line.hours.holidays_of, first=today, last=today + NEXT_HOLIDAYS)
    return render(
        request,
        "rounds/person.html",
        status_code=422 if problems else 200,
        place="rounds",
        line=line,
        someone=line.person,
        holidays=holidays,
        parts=PARTS,
        part_word=dict(PARTS)[line.hours.part.value],
        may_plan=may(actor, Verb.KEEP_REGISTER),
        typed=typed or _typed(line.hours),
        absence=absence or {},
        problems=problems,
    )


def _typed(hours: WalkingHours) -> dict[str, str]:
    """The hours as their boxes show them."""
    names = ("part", "hours", "start_place", "start_latitude", "start_longitude", "holidays_of")
    values = {name: getattr(hours, name) for name in names}
    return {name: "" if value is None else str(value) for name, value in values.items()}


def people_title(page: WalkersPage) -> str:
    """How many read and how many go along, in one sentence."""
    parts = [line.hours.part for line in page.walkers]
    reads, along = parts.count(WalkPart.READS), parts.count(WalkPart.GOES_ALONG)
    if not reads and not along:
        return "Nobody walks rounds yet"
    words = _people(reads, "reads", "read") if reads else "nobody reads"
    return sentence_case(f"{words}, {_people(along, 'goes along', 'go along')}" if along else words)


def _people(count: int, one: str, many: str) -> str:
    return f"one person {one}" if count == 1 else f"{number_word(count)} people {many}"
