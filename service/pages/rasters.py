"""Temperature rasters on pages: brought to a reading, looked at, drawn on, taken as its temperature."""

from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, File, Path, Request, UploadFile
from fastapi.responses import PlainTextResponse, Response

from service.charts.raster_picture import raster_png, shrunk_by
from service.charts.raster_scale import scale_bar
from service.domain.people import Actor
from service.domain.rasters import Raster, RegionShape, RegionWish, looks_like_kelvin
from service.errors import Invalid, Problem
from service.pages import raster_words as said
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.raster_look import SCALES, SIDES, Look
from service.pages.templating import redirect, render
from service.pages.view import CELSIUS, celsius, celsius_word, own_value, own_value_or_none
from service.usecases.rasters.bring import bring_raster
from service.usecases.rasters.draw import draw_region, take_region_back
from service.usecases.rasters.see import list_rasters, see_file, see_grid, see_raster, try_region
from service.usecases.rasters.take import take_temperature
from service.usecases.surroundings import Surroundings

router = APIRouter()

Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
RegionId = Annotated[int, Path(ge=1, le=2**53)]
#: problems of a file that are listed one by one
MOST_LISTED = 40
MEDIA = {"csv": "text/csv; charset=utf-8", "tif": "image/tiff"}


# ---- of a reading -------------------------------------------------------------------------


@router.get("/readings/{uid}/rasters")
def of_reading(request: Request, around: Around, actor: SignedIn, uid: Uid) -> Response:
    return _of_reading(request, around, actor, uid, problems=())


def _of_reading(request: Request, around: Surroundings, actor: Actor, uid: str, *, problems: Any) -> Response:
    seen = list_rasters(around.store, actor, uid)
    return render(
        request,
        "rasters/index.html",
        status_code=422 if problems else 200,
        place="equipment",
        crumbs=said.crumbs(seen.place),
        reading=seen.reading,
        point=seen.place,
        rasters=said.rasters_part(seen),
        problems=problems,
    )


@router.post("/readings/{uid}/rasters")
def bring(
    request: Request,
    around: Around,
    actor: SignedIn,
    uid: Uid,
    file: Annotated[UploadFile | None, File()] = None,
) -> Response:
    content = file.file.read() if file is not None else b""
    name = (file.filename or "") if file is not None else ""
    try:
        raster = bring_raster(
            around.store,
            actor,
            uid,
            files=around.files,
            content=content,
            file_name=name,
            now=around.now(),
        )
    except Invalid as error:
        return _of_reading(request, around, actor, uid, problems=_of_file(error))
    return redirect(f"/rasters/{raster.uid}", say="The raster is kept with its reading.")


def _of_file(error: Invalid) -> list[Problem]:
    """Problems within a file with their places in it; the first leads to the box it was chosen in."""
    told = [
        Problem(
            "" if p.where == "file" else ", ".join(part for part in (p.where, p.field) if part),
            "" if number else "file",
            p.found,
            p.message,
            p.remedy,
        )
        for number, p in enumerate(error.problems[:MOST_LISTED])
    ]
    more = error.total - len(told)
    if more > 0:
        told.append(Problem("", "", "", f"{more} more of this kind are not listed.", "Mend these first."))
    return told


# ---- one raster ---------------------------------------------------------------------------


@router.get("/rasters/{uid}")
def show(request: Request, around: Around, actor: SignedIn, uid: Uid) -> Response:
    return _show(request, around, actor, uid, asked=Form(dict(request.query_params)))


def _show(
    request: Request,
    around: Surroundings,
    actor: Actor,
    uid: str,
    *,
    asked: Form,
    typed: dict[str, str] | None = None,
    problems: tuple[Problem, ...] | list[Problem] = (),
) -> Response:
    seen = see_raster(around.store, actor, uid)
    raster = seen.raster
    look = Look(asked, raster)
    over = said.chosen(seen.regions, asked.text("over"))
    changing = said.chosen(seen.regions, (typed or {}).get("replaces", "") or asked.text("change"))
    problems = [*problems, *asked.problems]
    return render(
        request,
        "rasters/raster.html",
        status_code=422 if problems else 200,
        place="equipment",
        seen=seen,
        raster=raster,
        reading=seen.reading,
        point=seen.place,
        title=said.title(seen, over),
        crumbs=said.crumbs(seen.place),
        size=said.size_of(raster),
        shrunk=shrunk_by(raster.rows, raster.columns),
        kelvin=looks_like_kelvin(raster, seen.reading.temperature_c),
        look=look,
        picture=f"/rasters/{uid}/picture.png?{urlencode(look.address)}",
        bar=scale_bar(
            look.shown,
            own_value(look.low_c, CELSIUS),
            own_value(look.high_c, CELSIUS),
            name="scale-colours",
            line=own_value_or_none(look.line_c, CELSIUS),
            unit=celsius_word(),
        ),
        scales=SCALES,
        sides=SIDES,
        shapes=said.shapes(seen),
        lines=said.figure_lines(seen, over),
        over=over,
        changing=changing,
        boxes=said.typed_boxes(typed or {}, raster, changing),
        take_from=said.regions_to_take(seen),
        taken={"region": said.meant(seen)} | (typed or {}),
        problems=problems,
    )


@router.get("/rasters/{uid}/picture.png")
def picture(request: Request, around: Around, actor: SignedIn, uid: Uid) -> Response:
    raster, grid_c = see_grid(around.store, actor, uid, files=around.files)
    look = Look(Form(dict(request.query_params)), raster)
    drawn = raster_png(grid_c, scale=look.scale, low_c=look.low_c, high_c=look.high_c, **look.beyond)
    return Response(drawn, media_type="image/png")


@router.get("/rasters/{uid}/file")
def file_as_it_came(around: Around, actor: SignedIn, uid: Uid) -> Response:
    raster, content = see_file(around.store, actor, uid, files=around.files)
    return file_answer(raster, content)


def file_answer(raster: Raster, content: bytes) -> Response:
    """The file for keeping, never for showing: its name is ours, its kind is what it was read as."""
    kind = raster.stored_as.rsplit(".", 1)[1]
    headers = {"Content-Disposition": f'attachment; filename="raster-{raster.uid}.{kind}"'}
    return Response(content, media_type=MEDIA[kind], headers=headers)


# ---- drawn on -----------------------------------------------------------------------------


def _wish(form: Form) -> RegionWish:
    """The region a form asks for; boxes that are wrong are told together."""
    shape = RegionShape.SPOT if form.text("shape") == RegionShape.SPOT else RegionShape.BOX
    row, column, radius = form.whole("row"), form.whole("column"), None
    height = width = 0
    wanted = {"row": row, "column": column}
    if shape is RegionShape.BOX:
        wanted |= {"rows": form.whole("rows"), "columns": form.whole("columns")}
        height, width = wanted["rows"] or 0, wanted["columns"] or 0
    else:
        radius = form.number("radius")
    for name, value in wanted.items():
        if value is None and not any(problem.field == name for problem in form.problems):
            form.problems.append(
                Problem("form", name, "", "This is empty.", "Type a whole number of pixels.")
            )
    form.done()
    top, left = row or 0, column or 0
    return RegionWish(form.text("name"), shape, top, left, top + height, left + width, radius)


def _at_boxes(problems: tuple[Problem, ...]) -> list[Problem]:
    return [
        Problem("form", said.BOX_OF.get(p.field, p.field), p.found, p.message, p.remedy) for p in problems
    ]


@router.get("/rasters/{uid}/figures")
def figures(request: Request, around: Around, actor: SignedIn, uid: Uid) -> Response:
    """What a region would say, as a sentence for the page; nothing is stored."""
    form = Form(dict(request.query_params))
    try:
        found = try_region(around.store, actor, uid, _wish(form), files=around.files)
    except Invalid as error:
        told = " ".join(f"{problem.message} {problem.remedy}" for problem in error.problems)
        return PlainTextResponse(told)
    return PlainTextResponse(said.in_words(found))


@router.post("/rasters/{uid}/regions")
def draw(request: Request, around: Around, actor: SignedIn, uid: Uid, form: Posted) -> Response:
    replaces = form.text("replaces")
    try:
        region = draw_region(
            around.store,
            actor,
            uid,
            _wish(form),
            files=around.files,
            replaces=int(replaces)
            if replaces.isascii() and replaces.isdigit() and len(replaces) < 16
            else None,
            now=around.now(),
        )
    except Invalid as error:
        asked = Form(dict(request.query_params))
        told = _at_boxes(error.problems)
        return _show(request, around, actor, uid, asked=asked, typed=form.typed, problems=told)
    return redirect(_back(request, uid), say=f"{region.name} is stored with its figures.")


@router.post("/rasters/{uid}/regions/{region_id}/take-back")
def take_back(request: Request, around: Around, actor: SignedIn, uid: Uid, region_id: RegionId) -> Response:
    take_region_back(around.store, actor, uid, region_id, now=around.now())
    return redirect(_back(request, uid), say="Taken back; it stays on record.")


@router.post("/rasters/{uid}/take")
def take(request: Request, around: Around, actor: SignedIn, uid: Uid, form: Posted) -> Response:
    """Correct the reading to what a region says."""
    region_id = form.whole("region")
    if region_id is None:
        form.problems.append(Problem("form", "region", "", "No region is chosen.", "Choose the part itself."))
    try:
        form.done()
        reading = take_temperature(
            around.store,
            actor,
            uid,
            region_id or 0,
            revision=form.version(),
            reason=form.text("reason"),
            now=around.now(),
        )
    except Invalid as error:
        problems = [Problem("form", p.field, p.found, p.message, p.remedy) for p in error.problems]
        asked = Form(dict(request.query_params))
        return _show(request, around, actor, uid, asked=asked, typed=form.typed, problems=problems)
    return redirect(_back(request, uid), say=f"The reading says {celsius(reading.temperature_c)} now.")


def _back(request: Request, uid: str) -> str:
    """The same page, looked at in the same way."""
    kept = {
        name: request.query_params[name]
        for name in ("scale", "from", "to", "line", "side", "over", "typed_in")
        if request.query_params.get(name)
    }
    return f"/rasters/{uid}" + (f"?{urlencode(kept)}" if kept else "")
