"""Plans of months: the list, a new one, one plan with its walks, what it leaves out, what would be."""

from datetime import date
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse
from markupsafe import Markup
from starlette.responses import Response

from service.charts.month_walks import WalkStop, WalkStrip, walk_strip
from service.charts.week_bars import week_bar
from service.domain.forecasts import Forecast
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.plan_weeks import monday_of, weeks_of
from service.domain.plans import Walk
from service.domain.reserve_days import is_kept
from service.domain.rounds import needs_permit
from service.errors import Invalid, Problem
from service.pages import left_out_words, plan_words, round_words
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.rounds import Id, Lists, ids_of
from service.pages.templating import redirect, render
from service.pages.view import month
from service.usecases.plans import draw_up, see
from service.usecases.plans.change import change_plan
from service.usecases.plans.forecasts import take_forecast_back, type_forecast
from service.usecases.plans.level_weeks import levelling_weeks
from service.usecases.plans.risks import MOST_ROWS, read_risks
from service.usecases.plans.see import PlanPage
from service.usecases.plans.start import PlanWish, start_plan
from service.usecases.plans.step import redo, undo
from service.usecases.plans.what_if import Kind
from service.usecases.rounds.choices import read_choices
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/rounds/plans")
#: hours that every strip of a month shows at least [min of the day]
EARLIEST, LATEST = 420.0, 990.0
KINDS = (
    (Kind.HOURS.value, "so many hours more or fewer"),
    (Kind.QUALIFIED.value, "a qualified person on every walk"),
    (Kind.SHUT.value, "a site closed for some days"),
)


@router.get("")
def list_plans(request: Request, around: Around, actor: SignedIn) -> HTMLResponse:
    found = sorted(see.list_plans(around.store, actor), key=lambda plan: (plan.month_on, plan.id))
    return render(request, "plans/list.html", place="rounds", plans=found[::-1])


@router.get("/new")
def new(
    request: Request,
    around: Around,
    actor: SignedIn,
    month: Annotated[str, Query(max_length=20)] = "",
) -> HTMLResponse:
    after = round_words.next_month(around.now().date().replace(day=1), by=1)
    return _new_page(request, around, actor, typed={"month": month or f"{after:%Y-%m}"}, problems=())


def _new_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    *,
    typed: dict[str, str],
    problems: Any,
    ticked: tuple[int, ...] | None = None,
) -> HTMLResponse:
    require(actor, Verb.KEEP_REGISTER)
    choices = read_choices(around.store, actor, site_id=None, now=around.now())
    return render(
        request,
        "plans/new.html",
        status_code=422 if problems else 200,
        place="rounds",
        choices=choices,
        typed=typed,
        ticked=ticked,
        problems=problems,
    )


@router.post("/new")
def create(request: Request, around: Around, actor: SignedIn, form: Posted, lists: Lists) -> Response:
    ticked = ids_of(lists, "site")
    try:
        on = _month(form)
        form.done()
        assert on is not None
        name = form.text("name") or f"Rounds of {month(on)}"
        plan = start_plan(around.store, actor, PlanWish(name, on, ticked), now=around.now())
    except Invalid as error:
        return _new_page(request, around, actor, typed=form.typed, problems=error.problems, ticked=ticked)
    return redirect(f"/rounds/plans/{plan.id}", say="Begun. The service is drawing it up.")


def _month(form: Form) -> date | None:
    raw = form.text("month")
    try:
        return date.fromisoformat(f"{raw}-01")
    except ValueError:
        form.problems.append(
            Problem("form", "month", raw[:20], "This is not a month.", "Type it as 2026-12.")
        )
        return None


@router.get("/{plan_id}")
def one(
    request: Request,
    around: Around,
    actor: SignedIn,
    plan_id: Id,
    version: Annotated[int | None, Query(ge=1, le=2**53)] = None,
) -> HTMLResponse:
    return plan_view(request, around, actor, plan_id, number=version)


def plan_view(
    request: Request,
    around: Surroundings,
    actor: Actor,
    plan_id: int,
    *,
    number: int | None = None,
    typed: dict[str, str] | None = None,
    problems: Any = (),
) -> HTMLResponse:
    """The page of a plan, also with what was wrong with a form on it."""
    page = see.read_plan(around.store, actor, plan_id, number=number, today=around.now().date())
    off = sorted(page.body.put_off, key=lambda left: (left.code, -left.worth, left.equipment_id))
    suffix = "" if page.is_current else f"?version={page.number}"
    return render(
        request,
        "plans/plan.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        plan=page.plan,
        title=plan_words.plan_title(page),
        lead=plan_words.plan_lead(page),
        facts=plan_words.plan_facts(page.sums, cover_minutes=page.body.cover_minutes),
        progress=plan_words.progress_words(page.plan),
        weeks=_weeks(page),
        hours=_hours(page),
        off=[
            (left_out_words.why_short(code), list(group))
            for code, group in groupby(off, lambda one: one.code)
        ],
        taken=plan_words.taken_words(page),
        walk_href=lambda walk: f"/rounds/plans/{plan_id}/walks/{walk.key}{suffix}",
        why_off=left_out_words.why_off,
        reserves={one.walk.key: plan_words.reserve_words(one) for one in page.reserves},
        kinds=KINDS,
        site_choices=[(site.id, site.name) for site in page.sites.values()],
        typed=typed or {},
        problems=problems,
    )


Drawn = tuple[Walk, str, list[str], Markup]


def _weeks(page: PlanPage) -> list[tuple[date, list[Drawn], list[tuple[Walk, str]]]]:
    """By week (its Monday): walks with who goes, where and their strip; then the free ones."""
    stops = [stop for walk in page.body.walks for stop in walk.stops]
    from_min = min([EARLIEST, *(stop.arrive_min for stop in stops)])
    to_min = max([LATEST, *(walk.back_min for walk in page.body.walks)])
    drawn: dict[date, list[Drawn]] = {}
    free: dict[date, list[tuple[Walk, str]]] = {}
    for walk in page.body.walks:
        monday = monday_of(walk.day)
        who = plan_words.walk_line(page, walk)
        if walk.stops or walk.lost or walk.frozen or is_kept(walk) or walk.key in page.rounds:
            strip = walk_strip(_strip(page, walk, from_min, to_min))
            drawn.setdefault(monday, []).append((walk, who, plan_words.walk_sites(page, walk), strip))
        else:
            free.setdefault(monday, []).append((walk, who))
    return [(week, drawn.get(week, []), free.get(week, [])) for week in sorted(drawn.keys() | free.keys())]


def _hours(page: PlanPage) -> dict[date, tuple[str, Markup]]:
    """By Monday: hours of the week in words, and its bar."""
    weeks = weeks_of(page.body)
    most = max((week.offered_min for week in weeks), default=0.0)
    told = {}
    for week in weeks:
        said = plan_words.week_words(week)
        bar = week_bar(week.planned_min, week.offered_min, week.kept_min, most_min=most, said=said)
        told[week.monday] = (said, bar)
    return told


def _strip(page: PlanPage, walk: Walk, from_min: float, to_min: float) -> WalkStrip:
    return WalkStrip(
        from_min=from_min,
        to_min=to_min,
        shift=(walk.start_min, walk.end_min),
        stops=[
            WalkStop(
                name=page.facts[stop.equipment_id].title,
                start_min=stop.start_min,
                end_min=stop.end_min,
                covered=needs_permit(page.facts[stop.equipment_id].access),
                must=stop.must,
            )
            for stop in walk.stops
            if stop.equipment_id in page.facts
        ],
        leave_min=walk.leave_min,
        back_min=walk.back_min,
    )


@router.get("/{plan_id}/compare")
def compare(
    request: Request,
    around: Around,
    actor: SignedIn,
    plan_id: Id,
    before: Annotated[int, Query(ge=1, le=2**53)],
    after: Annotated[int, Query(ge=1, le=2**53)],
) -> HTMLResponse:
    found = see.compare_versions(around.store, actor, plan_id, before, after, now=around.now())
    return render(
        request,
        "plans/compare.html",
        place="rounds",
        found=found,
        plan=found.before.plan,
        title=plan_words.compared_title(found),
        figures=plan_words.compared(found),
        names={version.number: version.what for version in found.before.versions},
        why_off={
            left.equipment_id: left_out_words.why_off(found.after, left) for left in found.after.body.left_out
        },
        walk_name=lambda key: plan_words.walk_named(found, key),
    )


@router.get("/{plan_id}/risk")
def risk(
    request: Request,
    around: Around,
    actor: SignedIn,
    plan_id: Id,
    version: Annotated[int | None, Query(ge=1, le=2**53)] = None,
) -> HTMLResponse:
    found = read_risks(around.store, actor, plan_id, number=version, now=around.now())
    told = found.risks
    return render(
        request,
        "plans/risk.html",
        place="rounds",
        plan=found.page.plan,
        title=plan_words.risk_title(told),
        unseen=[(risk, found.facts[risk.at.equipment_id]) for risk in told.unseen[:MOST_ROWS]],
        seen=[(risk, found.facts[risk.at.equipment_id]) for risk in told.seen[:MOST_ROWS]],
        more_unseen=max(len(told.unseen) - MOST_ROWS, 0),
    )


@router.post("/{plan_id}/draw")
def draw(request: Request, around: Around, actor: SignedIn, form: Posted, plan_id: Id) -> Response:
    """Draw up again: around what is held, from nothing, or filling free time only."""
    how = form.text("how")
    if how not in draw_up.WAYS:
        problem = Problem("form", "how", how[:20], "No such way.", "Choose one of the three.")
        return plan_view(request, around, actor, plan_id, problems=[problem])
    draw_up.ask_for_drawing(
        around.store, actor, plan_id, draw_up.WAYS[how], version=form.version(), now=around.now()
    )
    return redirect(f"/rounds/plans/{plan_id}", say="The service is drawing it up.")


@router.post("/{plan_id}/level")
def level(around: Around, actor: SignedIn, form: Posted, plan_id: Id) -> Response:
    """Level the weeks: nothing is dropped, nothing held is moved."""
    edit = levelling_weeks()
    change_plan(around.store, actor, plan_id, edit, version=form.version(), now=around.now())
    return redirect(f"/rounds/plans/{plan_id}", say="The weeks are as level as their walks let them be.")


@router.post("/{plan_id}/stop")
def stop(around: Around, actor: SignedIn, form: Posted, plan_id: Id) -> Response:
    draw_up.stop_drawing(around.store, actor, plan_id, version=form.version())
    return redirect(f"/rounds/plans/{plan_id}", say="Stopped. The plan is as it was.")


@router.post("/{plan_id}/undo")
def step_back(around: Around, actor: SignedIn, form: Posted, plan_id: Id) -> Response:
    undo(around.store, actor, plan_id, version=form.version(), now=around.now())
    return redirect(f"/rounds/plans/{plan_id}", say="One step back.")


@router.post("/{plan_id}/redo")
def step_on(around: Around, actor: SignedIn, form: Posted, plan_id: Id) -> Response:
    redo(around.store, actor, plan_id, version=form.version(), now=around.now())
    return redirect(f"/rounds/plans/{plan_id}", say="One step on.")


@router.post("/{plan_id}/forecast")
def forecast(request: Request, around: Around, actor: SignedIn, form: Posted, plan_id: Id) -> Response:
    """Keep the weather that is expected at a site on a day, or take it back."""
    try:
        site_id, day = form.whole("forecast_site"), form.day("forecast_day")
        wind, rain = form.number("wind_m_s"), form.number("rain_mm")
        form.done()
        if site_id is None or day is None:
            raise Invalid([Problem("form", "forecast_day", "", "Where, and on which day?", "Choose both.")])
        if form.ticked("remove"):
            take_forecast_back(around.store, actor, site_id, day, now=around.now())
        else:
            typed = Forecast(site_id, day, form.text("words"), wind, rain, form.ticked("unfit"))
            type_forecast(around.store, actor, typed, now=around.now())
    except Invalid as error:
        return plan_view(request, around, actor, plan_id, typed=form.typed, problems=error.problems)
    return redirect(f"/rounds/plans/{plan_id}", say="Kept. Draw the plan up again to plan around it.")


@router.post("/{plan_id}/what-if")
def what_if(request: Request, around: Around, actor: SignedIn, form: Posted, plan_id: Id) -> Response:
    try:
        change = {
            "kind": form.text("kind"),
            "hours": form.number("hours") or 0.0,
            "site_id": form.whole("site_id"),
            "from_on": form.text("from_on"),
            "to_on": form.text("to_on"),
        }
        form.done()
        draw_up.ask_what_if(around.store, actor, plan_id, change, version=form.version(), now=around.now())
    except Invalid as error:
        return plan_view(request, around, actor, plan_id, typed=form.typed, problems=error.problems)
    return redirect(f"/rounds/plans/{plan_id}", say="The service is working out what would be.")
