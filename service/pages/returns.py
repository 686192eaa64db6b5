"""Bring a round's readings in: a filled file with its preview, or typed stop by stop."""

from typing import Annotated, Any

from fastapi import APIRouter, File, Path, Request, UploadFile
from fastapi import Form as FormField
from fastapi.responses import Response

from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.readings import UploadResult
from service.domain.round_columns import BY_NAME
from service.errors import Invalid, Problem
from service.intake.content_hash import content_hash_of
from service.intake.raw_rows import RawRows, Ways, rows_of_records, rows_of_tables
from service.intake.tables import read_tables
from service.pages import stop_boxes
from service.pages.asking import Around, SignedIn
from service.pages.check_words import OCCASIONS, check_fields, check_line, doubts, said
from service.pages.forms import Form, Posted
from service.pages.returned_form import problems_of, records_of
from service.pages.templating import redirect, render
from service.usecases.rounds import return_pages
from service.usecases.rounds.decide_double import decide_double, list_doubles
from service.usecases.rounds.instrument_checks import check_on_round
from service.usecases.rounds.list_readings import see_upload
from service.usecases.rounds.preview import preview_upload
from service.usecases.rounds.upload import upload_round
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/rounds/{round_id}/return")

Id = Annotated[int, Path(ge=1, le=2**53)]
FileUid = Annotated[str, Path(pattern=r"^[A-Za-z0-9_-]{8,64}$")]
SIGNS = [("", "as the file shows it"), (".", "point: 36.7"), (",", "comma: 36,7")]
DEGREES = [("C", "°C"), ("F", "°F")]
#: problems and warnings listed on a page; the rest is a count
MOST_LISTED = 200
#: columns as their titles name them in the file, for lists of problems and changes
TITLES = {name: column.header for name, column in BY_NAME.items()} | {
    "not_assessable": "Reason letter",
    "boxes": "Boxes of its kind",
}


def ways_of(form: Form) -> tuple[Ways, str, str]:
    """How the numbers of a file are written, as chosen beside it."""
    decimal = form.text("decimal") if form.text("decimal") in (".", ",") else ""
    degrees = "F" if form.text("degrees") == "F" else "C"
    return Ways(decimal, f"°{degrees}"), decimal, degrees


def _rows(content: bytes, ways: Ways) -> RawRows:
    return rows_of_tables(read_tables(content), ways)


@router.get("")
def index(request: Request, around: Around, actor: SignedIn, round_id: Id) -> Response:
    return _index(request, around, actor, round_id, problems=())


def _index(
    request: Request,
    around: Surroundings,
    actor: Actor,
    round_id: int,
    *,
    problems: Any,
    typed: dict[str, str] | None = None,
) -> Response:
    page = return_pages.read_return_page(around.store, actor, round_id=round_id, now=around.now())
    return render(
        request,
        "returns/index.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        round=page.round,
        problems=problems,
        signs=SIGNS,
        degrees=DEGREES,
        doubts=doubts(page.checks),
        occasions=OCCASIONS,
        check_line=check_line,
        typed=typed or {},
    )


@router.post("/checks")
def note_check(request: Request, around: Around, actor: SignedIn, round_id: Id, form: Posted) -> Response:
    """A check of the instrument against a reference, by whoever walks the round."""
    page, now = (
        return_pages.read_return_page(around.store, actor, round_id=round_id, now=around.now()),
        around.now(),
    )
    try:
        fields, chosen = check_fields(form, page.time_zone, now), form.whole("instrument_id")
        form.done()
        check = check_on_round(around.store, actor, round_id, instrument_id=chosen, fields=fields, now=now)
    except Invalid as error:
        return _index(request, around, actor, round_id, problems=error.problems, typed=form.typed)
    return redirect(f"/rounds/{round_id}/return", say=said(check, form))


@router.post("")
def choose_file(
    request: Request,
    around: Around,
    actor: SignedIn,
    round_id: Id,
    file: Annotated[UploadFile | None, File()] = None,
    decimal: Annotated[str, FormField()] = "",
    degrees: Annotated[str, FormField()] = "C",
) -> Response:
    """Look at a chosen file; it is kept a day, so that storing it needs no second choosing."""
    content = file.file.read() if file is not None else b""
    name = (file.filename or "") if file is not None else ""
    form = Form({"decimal": decimal, "degrees": degrees})
    ways, sign, unit = ways_of(form)
    try:
        if not content:
            raise Invalid(
                [
                    Problem(
                        "form", "file", "", "No file was chosen, or it is empty.", "Choose the filled file."
                    )
                ]
            )
        _rows(content, ways)
    except Invalid as error:
        return _index(request, around, actor, round_id, problems=_of_file(error.problems))
    uid = return_pages.keep_file(
        around.store, actor, round_id=round_id, file_name=name, content=content, now=around.now()
    )
    return redirect(f"/rounds/{round_id}/return/files/{uid}?decimal={sign}&degrees={unit}")


def _of_file(problems: tuple[Problem, ...]) -> list[Problem]:
    """Problems of a file that cannot be read are told at the box it was chosen in."""
    return [
        Problem(p.where if p.where != "file" else "form", "file", p.found, p.message, p.remedy)
        for p in problems
    ]


@router.get("/files/{uid}")
def preview(request: Request, around: Around, actor: SignedIn, round_id: Id, uid: FileUid) -> Response:
    return _preview(request, around, actor, round_id, uid, form=Form(dict(request.query_params)))


def _preview(
    request: Request, around: Surroundings, actor: Actor, round_id: int, uid: str, *, form: Form
) -> Response:
    ways, decimal, degrees = ways_of(form)
    name, content = return_pages.kept_file(around.store, actor, uid, now=around.now())
    seen = preview_upload(
        around.store,
        actor,
        round_id=round_id,
        rows=_rows(content, ways),
        content_hash=content_hash_of(decimal, degrees, content),
        now=around.now(),
    )
    return render(
        request,
        "returns/preview.html",
        status_code=200,
        place="rounds",
        seen=seen,
        round_id=round_id,
        uid=uid,
        file_name=name,
        decimal=decimal,
        degrees_chosen=degrees,
        signs=SIGNS,
        degrees=DEGREES,
        most=MOST_LISTED,
        titles=TITLES,
    )


@router.post("/files/{uid}")
def store_file(
    request: Request, around: Around, actor: SignedIn, round_id: Id, uid: FileUid, form: Posted
) -> Response:
    ways, decimal, degrees = ways_of(form)
    name, content = return_pages.kept_file(around.store, actor, uid, now=around.now())
    try:
        result = upload_round(
            around.store,
            actor,
            round_id=round_id,
            rows=_rows(content, ways),
            content_hash=content_hash_of(decimal, degrees, content),
            key=None,
            channel="file",
            now=around.now(),
            file_name=name,
        )
    except Invalid:
        return _preview(request, around, actor, round_id, uid, form=form)
    return redirect(f"/rounds/{round_id}/return/uploads/{result.upload_id}")


@router.get("/uploads/{upload_id}")
def done(request: Request, around: Around, actor: SignedIn, round_id: Id, upload_id: Id) -> Response:
    result = see_upload(around.store, actor, round_id=round_id, upload_id=upload_id)
    return render(
        request,
        "returns/done.html",
        place="rounds",
        result=result,
        typed={},
        may_tell=may(actor, Verb.OPEN_FINDING),
        may_decide=may(actor, Verb.KEEP_REGISTER),
    )


@router.get("/stops/{stop_id}")
def stop(request: Request, around: Around, actor: SignedIn, round_id: Id, stop_id: Id) -> Response:
    page = return_pages.read_stop_page(
        around.store, actor, round_id=round_id, stop_id=stop_id, now=around.now()
    )
    return _stop(request, page, typed=stop_boxes.filled_boxes(page), problems=(), warnings=())


def _stop(
    request: Request,
    page: return_pages.StopPage,
    *,
    typed: dict[str, str],
    problems: Any,
    warnings: Any,
) -> Response:
    told = {problem.field for problem in (*problems, *warnings)}
    return render(
        request,
        "returns/stop.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        round=page.round,
        stop=page.stop,
        typed=typed,
        problems=problems,
        warnings=warnings,
        boxes_for=stop_boxes,
        told=told,
        begin="looked" if warnings else stop_boxes.first_to_type(page, typed, told),
    )


@router.post("/stops/{stop_id}")
def type_stop(
    request: Request, around: Around, actor: SignedIn, round_id: Id, stop_id: Id, form: Posted
) -> Response:
    """Store what was typed; what looks odd is asked about once, and never refused."""
    page = return_pages.read_stop_page(
        around.store, actor, round_id=round_id, stop_id=stop_id, now=around.now()
    )
    typed = stop_boxes.filled_boxes(page) | form.typed
    try:
        records = records_of(page, form.typed)
    except Invalid as error:
        return _stop(request, page, typed=typed, problems=error.problems, warnings=())
    if not records:
        return redirect(_next(page), say="Nothing new was typed here.")
    rows = rows_of_records(records, Ways(), strict=False)
    name = content_hash_of("page", str(stop_id), repr(records), actor.device, str(actor.person_id))
    try:
        if not form.ticked("looked"):
            seen = preview_upload(
                around.store, actor, round_id=round_id, rows=rows, content_hash=name, now=around.now()
            )
            if seen.problems:
                raise Invalid(seen.problems, total=seen.problem_count)
            odd = [
                warning for warning in seen.warnings if warning.field != "taken_at" or warning.where != "file"
            ]
            if odd:
                return _stop(
                    request,
                    page,
                    typed=typed,
                    problems=(),
                    warnings=problems_of(odd, records, page, form.typed),
                )
        result = upload_round(
            around.store,
            actor,
            round_id=round_id,
            rows=rows,
            content_hash=name,
            key=None,
            channel="page",
            now=around.now(),
        )
    except Invalid as error:
        told = problems_of(error.problems, records, page, form.typed)
        return _stop(request, page, typed=typed, problems=told, warnings=())
    return redirect(_after(page, result), say=_said(result))


def _after(page: return_pages.StopPage, result: UploadResult) -> str:
    """An Act now is asked about at once; otherwise the next stop follows."""
    if result.act_now:
        return f"/rounds/{page.round.id}/return/uploads/{result.upload_id}"
    return _next(page)


def _next(page: return_pages.StopPage) -> str:
    return f"/rounds/{page.round.id}/return" + (f"/stops/{page.after}" if page.after else "")


def _said(result: UploadResult) -> str:
    count = result.rows_new + result.rows_corrected
    levels = ", ".join(f"{word} {number}" for word, number in result.levels.items())
    return f"{count} {'reading' if count == 1 else 'readings'} kept. {levels}".strip()


@router.get("/doubles")
def doubles(request: Request, around: Around, actor: SignedIn, round_id: Id) -> Response:
    return _doubles(request, around, actor, round_id, problems=())


def _doubles(
    request: Request, around: Surroundings, actor: Actor, round_id: int, *, problems: Any
) -> Response:
    round_, several = list_doubles(around.store, actor, round_id=round_id)
    return render(
        request,
        "returns/doubles.html",
        status_code=422 if problems else 200,
        place="desk",
        round=round_,
        doubles=several,
        problems=problems,
        may_decide=may(actor, Verb.KEEP_REGISTER),
    )


@router.post("/doubles")
def decide(request: Request, around: Around, actor: SignedIn, round_id: Id, form: Posted) -> Response:
    try:
        decide_double(
            around.store,
            actor,
            round_id=round_id,
            row_uid=form.text("row_uid"),
            source=form.text("source"),
            now=around.now(),
        )
    except Invalid as error:
        return _doubles(request, around, actor, round_id, problems=error.problems)
    return redirect(f"/rounds/{round_id}/return/doubles", say="Decided. Both readings stay stored.")
