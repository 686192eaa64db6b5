"""Rounds: the month, a new round, one round with its moves, the next stop, files."""

from datetime import date, timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query, Request
from fastapi.responses import HTMLResponse
from starlette.datastructures import FormData, ImmutableMultiDict
from starlette.responses import Response

from service.domain.cautions import approach
from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.reports import could_have_missed
from service.domain.rounds import OPEN_FOR_READINGS, stand_off_text
from service.domain.run_requests import run_words
from service.errors import Invalid, NotFound, Problem
from service.pages import round_words
from service.pages.asking import Around, SignedIn, SignedInForOthers
from service.pages.check_words import check_line, doubts
from service.pages.exposure_words import SUN_RULE, exposure_words, sun_words, tell_first
from service.pages.forms import Form, Posted
from service.pages.round_readings import missed_words
from service.pages.sheet_paper import on_paper
from service.pages.templating import redirect, render
from service.pages.view import minute_of_day
from service.reports.round_file import round_file_csv, round_file_xlsx
from service.usecases.findings.list_findings import list_untold
from service.usecases.readings.of_round import see_points_of_round
from service.usecases.rounds import browse
from service.usecases.rounds.choices import read_choices
from service.usecases.rounds.exposure import read_exposure
from service.usecases.rounds.issue import issue_round
from service.usecases.rounds.plan import RoundWish, plan_round
from service.usecases.rounds.round_file import read_round_file
from service.usecases.rounds.sheets import read_sheets
from service.usecases.rounds.withdraw import withdraw_round
from service.usecases.surroundings import Surroundings

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**53)]
SiteQuery = Annotated[int | None, Query(ge=1, le=2**53)]
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


async def form_lists(request: Request) -> FormData:
    """The boxes of a form that may come more than once."""
    return await request.form()


Lists = Annotated[FormData, Depends(form_lists)]


def ids_of(lists: ImmutableMultiDict[str, Any], name: str) -> tuple[int, ...]:
    """Every id sent under a name; what is none is left out, the use case then misses it."""
    texts = [text for text in lists.getlist(name) if isinstance(text, str)]
    return tuple(int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 16)


def minute_typed(form: Form, name: str) -> int | None:
    """A time of the day as minutes; None (and a problem) when it is none."""
    raw = form.text(name)
    hours, _, rest = raw.partition(":")
    short = hours.isascii() and rest.isascii() and len(hours) <= 2 and len(rest) == 2
    if short and hours.isdigit() and rest.isdigit() and int(hours) < 24 and int(rest) < 60:
        return int(hours) * 60 + int(rest)
    form.problems.append(
        Problem("form", name, raw[:20], "This is not a time of the day.", "Type it as 07:00.")
    )
    return None


# ---- the month -----------------------------------------------------------------------------


@router.get("/rounds")
def month(
    request: Request,
    around: Around,
    actor: SignedIn,
    month: Annotated[str, Query(max_length=20)] = "",
    due: SiteQuery = None,
) -> HTMLResponse:
    try:
        day = date.fromisoformat(f"{month}-01") if month else around.now().date()
        problems = []
    except ValueError:
        day = around.now().date()
        problems = [Problem("address", "month", month, "This is not a month.", "Type it as 2026-12.")]
    return _month_page(request, around, actor, day=day, problems=problems, due_at=due)


def _month_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    *,
    day: date,
    problems: Any,
    code: str = "",
    due_at: int | None = None,
) -> HTMLResponse:
    now = around.now()
    page = browse.read_month(around.store, actor, day, due_at=due_at, now=now)
    return render(
        request,
        "rounds/month.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        title=round_words.month_title(page),
        lead=round_words.month_lead(page),
        before=round_words.next_month(page.month, by=-1) if page.month.year > 2000 else None,
        after=round_words.next_month(page.month, by=1) if page.month.year < 2100 else None,
        this_month=now.date().replace(day=1),
        tell_first=tell_first(list_untold(around.store, actor)),
        waits_for="the next round",
        problems=problems,
        code=code,
        mine=[
            line
            for line in page.rounds
            if actor.person_id in (line.round.person_id, line.round.second_person_id)
        ],
    )


@router.get("/rounds/sheet")
def sheet(
    request: Request,
    around: Around,
    actor: SignedIn,
    code: Annotated[str, Query(max_length=40)] = "",
    do: Annotated[str, Query(max_length=10)] = "",
) -> Response:
    """The stop of a sheet; with ``do=type`` its boxes, where the round takes readings of this person."""
    try:
        round_, stop = browse.find_sheet(around.store, actor, code)
    except Invalid as error:
        problems = error.problems
    except NotFound:
        problems = (
            Problem(
                "form",
                "code",
                code[:20],
                "No sheet in your sight has this code.",
                "Read it again from the sheet.",
            ),
        )
    else:
        if do == "type" and round_.state in OPEN_FOR_READINGS and may(actor, Verb.BRING_READINGS):
            return redirect(f"/rounds/{round_.id}/return/stops/{stop.id}")
        return redirect(f"/rounds/{round_.id}/go?stop={stop.id}")
    return _month_page(request, around, actor, day=around.now().date(), problems=problems, code=code)


# ---- a new round ---------------------------------------------------------------------------


@router.get("/rounds/new")
def new(
    request: Request,
    around: Around,
    actor: SignedIn,
    site: SiteQuery = None,
    route: SiteQuery = None,
    due: SiteQuery = None,
) -> HTMLResponse:
    typed = {"route_id": str(route or ""), "name": ""}
    return _new_page(
        request, around, actor, site=site, ticked=((due,) if due else ()), typed=typed, problems=()
    )


def _new_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    *,
    site: int | None,
    ticked: tuple[int, ...],
    typed: dict[str, str],
    problems: Any,
    picked: tuple[int, ...] = (),
) -> HTMLResponse:
    choices = read_choices(around.store, actor, site_id=site, now=around.now())
    return render(
        request,
        "rounds/new.html",
        status_code=422 if problems else 200,
        place="rounds",
        choices=choices,
        typed=typed,
        ticked=ticked,
        picked=picked,
        problems=problems,
        tomorrow=around.now().date() + timedelta(days=1),
    )


@router.post("/rounds/new")
def create(request: Request, around: Around, actor: SignedIn, form: Posted, lists: Lists) -> Response:
    due, picked = ids_of(lists, "due"), ids_of(lists, "equipment")
    try:
        day, start, route = form.day("planned_on"), minute_typed(form, "start"), form.whole("route_id")
        if day is None and not form.problems:
            form.problems.append(Problem("form", "planned_on", "", "A round needs its day.", "Type it."))
        form.done()
        assert day is not None
        assert start is not None
        wish = RoundWish(
            name=form.text("name"),
            planned_on=day,
            start_min=start,
            route_id=route,
            due_site_ids=due,
            equipment_ids=picked,
        )
        round_ = plan_round(around.store, actor, wish, now=around.now())
    except Invalid as error:
        site = form.text("site")
        return _new_page(
            request,
            around,
            actor,
            site=int(site) if site.isascii() and site.isdigit() and len(site) < 16 else None,
            ticked=due,
            picked=picked,
            typed=form.typed,
            problems=error.problems,
        )
    return redirect(f"/rounds/{round_.id}/build", say="The draft is made. Look at its timetable.")


# ---- one round -----------------------------------------------------------------------------


@router.get("/rounds/{round_id}")
def see(request: Request, around: Around, actor: SignedIn, round_id: Id) -> HTMLResponse:
    return round_page(request, around, actor, round_id, typed={}, problems=())


def round_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    round_id: int,
    *,
    typed: dict[str, str],
    problems: Any,
) -> HTMLResponse:
    """The page of a round, also with what was wrong with a form on it."""
    page = browse.read_round(around.store, actor, round_id, now=around.now())
    points = see_points_of_round(around.store, actor, round_id=round_id) if page.rows else ()
    exposure = read_exposure(around.store, actor, round_id, now=around.now())
    return render(
        request,
        "rounds/round.html",
        readings=[point for point in points if point.reading_uid],
        missed=missed_words(could_have_missed(points)),
        again_href=f"/reevaluate?target=round&id={round_id}" if may(actor, Verb.KEEP_REGISTER) else "",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        round=page.round,
        title=round_words.round_title(page),
        lead=round_words.round_lead(page),
        facts=round_words.six_facts(page.day),
        stop_words=round_words.stop_words,
        off_words=round_words.off_hours_words,
        run_words=run_words,
        doubts=doubts,
        check_line=check_line,
        exposure=exposure_words(exposure, told=page.warnings),
        sun_rule=SUN_RULE,
        tell_first=tell_first(list_untold(around.store, actor, site_ids=page.sites)) if page.running else (),
        waits_for="this round",
        zones={stop.facts.site_id: stop.facts.time_zone for stop in page.day.stops},
        typed=typed,
        problems=problems,
    )


@router.post("/rounds/{round_id}/issue")
def issue(request: Request, around: Around, actor: SignedIn, form: Posted, round_id: Id) -> Response:
    try:
        issued = issue_round(
            around.store,
            actor,
            round_id,
            version=form.version(),
            now=around.now(),
            calibration_reason=form.text("calibration_reason"),
        )
    except Invalid as error:
        return round_page(request, around, actor, round_id, typed=form.typed, problems=error.problems)
    told = " ".join(("Issued.", *issued.warnings))
    return redirect(f"/rounds/{round_id}", say=told)


@router.post("/rounds/{round_id}/withdraw")
def withdraw(request: Request, around: Around, actor: SignedIn, form: Posted, round_id: Id) -> Response:
    try:
        withdraw_round(
            around.store,
            actor,
            round_id,
            reason=form.text("reason"),
            version=form.version(),
            now=around.now(),
        )
    except Invalid as error:
        return round_page(request, around, actor, round_id, typed=form.typed, problems=error.problems)
    return redirect(f"/rounds/{round_id}", say="Withdrawn. What was due on it stays due.")


@router.get("/rounds/{round_id}/go")
def go(
    request: Request, around: Around, actor: SignedIn, round_id: Id, stop: SiteQuery = None
) -> HTMLResponse:
    seen = browse.read_go_to(around.store, actor, round_id, stop_id=stop, now=around.now())
    here = seen.here
    exposure = read_exposure(around.store, actor, round_id, now=around.now())
    rows, done = seen.page.progress.get(here.stop.id, (0, 0))
    return render(
        request,
        "rounds/go.html",
        place="rounds",
        go=seen,
        here=here,
        round=seen.page.round,
        title=round_words.go_title(seen),
        approach=approach(here.facts.access, {point.kind for point in seen.points}),
        stand_off=stand_off_text(here.facts.stand_off, here.permit),
        off_words=round_words.off_hours_words(here),
        distances=exposure.distances.get(here.stop.id, ()),
        in_sun=[sun_words(one) for one in exposure.outdoor if one.stop.stop.id == here.stop.id],
        arrive=minute_of_day(here.time.start_min),
        rows=rows,
        done=done,
        of=len(seen.page.day.stops),
    )


@router.get("/rounds/{round_id}/sheets")
def sheets(request: Request, around: Around, actor: SignedInForOthers, round_id: Id) -> HTMLResponse:
    seen = read_sheets(around.store, actor, round_id, now=around.now())
    return render(
        request,
        "rounds/sheets.html",
        place="rounds",
        seen=seen,
        sheets=on_paper(seen.stops),
        round=seen.round,
        off_words=round_words.off_hours_words,
    )


@router.get("/rounds/{round_id}/file.csv")
def file_csv(around: Around, actor: SignedIn, round_id: Id) -> Response:
    file = read_round_file(around.store, actor, round_id, now=around.now())
    return attached(round_file_csv(file), "text/csv; charset=utf-8", f"{file.code}.csv")


@router.get("/rounds/{round_id}/file.xlsx")
def file_xlsx(around: Around, actor: SignedIn, round_id: Id) -> Response:
    file = read_round_file(around.store, actor, round_id, now=around.now())
    return attached(round_file_xlsx(file), XLSX, f"{file.code}.xlsx")


def attached(content: bytes, media_type: str, name: str) -> Response:
    """A file to be kept, under a name that every system takes."""
    plain = "".join(
        letter if letter.isascii() and (letter.isalnum() or letter in "-.") else "_" for letter in name
    )
    return Response(
        content, media_type=media_type, headers={"Content-Disposition": f'attachment; filename="{plain}"'}
    )
