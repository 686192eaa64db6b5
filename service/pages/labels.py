"""Labels of equipment: chosen, printed on A4, and what scanning one opens."""

from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Path, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import ImmutableMultiDict, QueryParams

from service.charts.label_sheet import Label, label_sheet
from service.domain.label_sheets import GRIDS, LabelGrid, grid_problems, on_sheets
from service.domain.labels import Labelled
from service.domain.people import Actor
from service.errors import Invalid, NotFound, Problem
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form
from service.pages.rounds import Lists, ids_of
from service.pages.templating import redirect, render
from service.usecases.labels.find import find_label
from service.usecases.labels.make import Wanted, make_labels, read_choice
from service.usecases.surroundings import Surroundings

router = APIRouter()
MEASURES = ("side_mm", "top_mm", "across_mm", "down_mm")
#: what of the form goes on into the address of the sheets
LAYOUT = ("grid", "start", "outlined", *MEASURES)


def grid_words(columns: int, rows: int) -> str:
    """3 by 8: 24 a sheet, 70 by 37 mm."""
    grid = LabelGrid(columns, rows)
    return f"{columns} by {rows}: {grid.a_sheet} a sheet, {grid.width_mm:.0f} by {grid.height_mm:.0f} mm"


CHOICES = [(f"{columns}x{rows}", grid_words(columns, rows)) for columns, rows in GRIDS]


def grid_typed(form: Form) -> tuple[LabelGrid, int]:
    """The grid and the place at which to begin.

    Raises
    ------
    Invalid
        Everything that is wrong with them.
    """
    columns, _, rows = (form.text("grid") or CHOICES[0][0]).partition("x")
    numbers = {name: form.number(name) or 0.0 for name in MEASURES}
    start = form.whole("start") or 1
    size = (int(columns), int(rows)) if columns.isdecimal() and rows.isdecimal() else (0, 0)
    grid = LabelGrid(*size, *(numbers[name] for name in MEASURES))
    form.problems += grid_problems(grid)
    if not form.problems and not 1 <= start <= grid.a_sheet:
        message = f"A sheet has the places 1 to {grid.a_sheet}."
        form.problems.append(Problem("form", "start", str(start), message, "Count row by row."))
    form.done()
    return grid, start


def wanted_of(lists: ImmutableMultiDict[str, Any]) -> Wanted:
    """Whose labels: what is ticked, else the whole of what was chosen."""
    one = {name: next(iter(ids_of(lists, name)), None) for name in ("site", "area", "route")}
    return Wanted(one["site"], one["area"], one["route"], ids_of(lists, "equipment"))


@router.get("/labels")
def choose(request: Request, around: Around, actor: SignedIn) -> Response:
    """What can be chosen; with ``site``, ``area``, ``route`` or ``equipment`` that is opened."""
    wanted = wanted_of(request.query_params)
    return _choose(request, around, actor, wanted, typed=dict(request.query_params), problems=())


def _choose(
    request: Request,
    around: Surroundings,
    actor: Actor,
    wanted: Wanted,
    *,
    typed: dict[str, str],
    problems: Any,
) -> Response:
    choice = read_choice(around.store, actor, wanted)
    return render(
        request,
        "labels/index.html",
        status_code=422 if problems else 200,
        place="equipment",
        choice=choice,
        wanted=wanted,
        sites=choice.sites,
        routes=[(route.id, route.name) for route in choice.routes],
        grids=CHOICES,
        areas=_by_area(choice.equipment),
        typed=typed,
        problems=problems,
    )


def _by_area(equipment: tuple[Labelled, ...]) -> list[tuple[str, list[Labelled]]]:
    areas: dict[tuple[str, str], list[Labelled]] = {}
    for one in equipment:
        areas.setdefault((one.site, one.area), []).append(one)
    return [(", ".join(where), several) for where, several in areas.items()]


@router.post("/labels")
def make(request: Request, around: Around, actor: SignedIn, lists: Lists) -> Response:
    """Give a code to what has none, then lead to the sheets: an address that can be printed again."""
    wanted, form = wanted_of(lists), Form(lists)
    try:
        grid_typed(form)
        make_labels(around.store, actor, wanted, now=around.now())
    except Invalid as error:
        return _choose(request, around, actor, wanted, typed=form.typed, problems=error.problems)
    asked = [(name, str(value)) for name, value in _named(wanted) if value is not None]
    asked += [("equipment", str(one)) for one in wanted.equipment_ids]
    asked += [(name, form.text(name)) for name in LAYOUT if form.text(name)]
    return redirect(f"/labels/sheets?{urlencode(asked)}")


def _named(wanted: Wanted) -> tuple[tuple[str, int | None], ...]:
    if wanted.equipment_ids:
        return ()
    return ("site", wanted.site_id), ("area", wanted.area_id), ("route", wanted.route_id)


@router.get("/labels/sheets")
def sheets(request: Request, around: Around, actor: SignedIn) -> Response:
    """Labels of what has a code already, as they are printed."""
    asked: QueryParams = request.query_params
    wanted, form = wanted_of(asked), Form(dict(asked))
    try:
        grid, start = grid_typed(form)
    except Invalid as error:
        return _choose(request, around, actor, wanted, typed=form.typed, problems=error.problems)
    equipment = [one for one in read_choice(around.store, actor, wanted).equipment if one.code]
    labels = [_label(one, address_of(request, around, one.code)) for one in equipment]
    drawn = [
        label_sheet(sheet, grid, outlined=form.ticked("outlined"), invented=around.demo)
        for sheet in on_sheets(labels, grid, start=start)
    ]
    return render(
        request, "labels/sheets.html", place="equipment", sheets=drawn, count=len(labels), asked=str(asked)
    )


def _label(one: Labelled, address: str) -> Label:
    return Label(one.tag, one.name, f"{one.site}, {one.area}", one.code, address)


def address_of(request: Request, around: Surroundings, code: str) -> str:
    """Where a label leads: this service by the name under which it is being asked."""
    scheme = "https" if around.secure_cookies else request.url.scheme
    return f"{scheme}://{request.url.netloc}/at/{code.replace('-', '')}"


def stop_in_field(round_id: int, stop_id: int) -> str:
    """The stop of a round in the capture app."""
    return f"/field/#/rounds/{round_id}/stops/{stop_id}"


@router.get("/at/{code}")
def open_label(
    request: Request, around: Around, actor: SignedIn, code: Annotated[str, Path(max_length=40)]
) -> Response:
    """The stop of a round under way, else the equipment; a code that nothing has says what to do."""
    try:
        found = find_label(around.store, actor, code, now=around.now())
    except NotFound:
        return render(request, "labels/unknown.html", status_code=404, place="equipment", code=code)
    if found.under_way is not None:
        return RedirectResponse(stop_in_field(*found.under_way), status_code=303)
    return RedirectResponse(f"/equipment/{found.equipment.equipment_id}", status_code=303)
