"""Bringing a register in by file: choose it, see what it would do, then say yes."""

from typing import Annotated

from fastapi import APIRouter, File, Form, Request, UploadFile
from starlette.responses import Response

from service.domain.cells import Sign
from service.domain.fields import typed_text
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.register import Noun
from service.domain.register_fields import field_of
from service.errors import Invalid, Problem
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.templating import redirect, render
from service.usecases.register.import_register import (
    ImportReport,
    commit_import,
    preview_import,
    stage_import,
    staged_import,
)

router = APIRouter(prefix="/register")
SIGNS = (("", "as the file shows"), (".", "a point: 0.95"), (",", "a comma: 0,95"))
MOST_LISTED = 300


def _sign(typed: str) -> Sign | None:
    return "." if typed == "." else "," if typed == "," else None


@router.get("/import")
def show_import(request: Request, actor: SignedIn) -> Response:
    require(actor, Verb.KEEP_REGISTER)
    return _choose_page(request)


def _choose_page(request: Request, problems: tuple[Problem, ...] = ()) -> Response:
    return render(
        request,
        "register/import.html",
        status_code=422 if problems else 200,
        place="equipment",
        signs=SIGNS,
        problems=problems,
    )


@router.post("/import")
def look_at_file(
    request: Request,
    around: Around,
    actor: SignedIn,
    file: Annotated[UploadFile | None, File()] = None,
    decimal: Annotated[str, Form(max_length=1)] = "",
) -> Response:
    """The dry run: what the file would do, or everything that is wrong with it."""
    content = file.file.read() if file is not None else b""
    if not content or file is None:
        require(actor, Verb.KEEP_REGISTER)
        missing = Problem("form", "file", "", "No file was chosen.", "Choose the filled-in template.")
        return _choose_page(request, (missing,))
    report = preview_import(around.store, actor, content, decimal=_sign(decimal))
    uid = ""
    if not report.problem_count and (report.new or report.changed):
        uid = stage_import(
            around.store, actor, file_name=file.filename or "", content=content, now=around.now()
        )
    return _report_page(request, report, file_name=file.filename or "the file", decimal=decimal, uid=uid)


def _report_page(
    request: Request, report: ImportReport, *, file_name: str, decimal: str, uid: str
) -> Response:
    return render(
        request,
        "register/import_report.html",
        status_code=422 if report.problem_count else 200,
        place="equipment",
        title=report_title(report),
        report=report,
        file_name=file_name,
        counts=[(noun, count) for noun, count in report.counts.items() if any(_three(count))],
        changes=[
            (
                change,
                field_of(change.noun, change.field).label,
                typed_text(change.was),
                typed_text(change.becomes),
            )
            for change in report.changes
        ],
        listed=report.problems[:MOST_LISTED],
        decimal=decimal,
        sign_words={".": "a point", ",": "a comma"},
        signs=SIGNS,
        uid=uid,
    )


def _three(count: object) -> tuple[int, ...]:
    return tuple(getattr(count, name) for name in ("new", "changed", "unchanged"))


def report_title(report: ImportReport) -> str:
    """What the file would do, in one sentence."""
    if report.problem_count == 1:
        return "One problem stands against this file; nothing was stored"
    if report.problem_count:
        return f"{report.problem_count} problems stand against this file; nothing was stored"
    if not report.new and not report.changed:
        return "This file changes nothing: the register says the same already"
    parts = []
    points = report.counts[Noun.POINT].new
    if report.new:
        parts.append(f"adds {report.new} entries" if report.new > 1 else "adds one entry")
    if report.changed:
        parts.append(f"changes {report.changed}")
    tail = f", {points} of them points" if points and points != report.new else ""
    return f"This file {' and '.join(parts)}{tail}"


@router.post("/import/commit")
def store_file(request: Request, around: Around, actor: SignedIn, form: Posted) -> Response:
    """Store the file that was looked at; it is looked at once more, since the register may have moved."""
    name, content = _staged(around, actor, form.text("uid"))
    decimal = form.text("decimal")
    try:
        report = commit_import(around.store, actor, content, decimal=_sign(decimal), now=around.now())
    except Invalid:
        again = preview_import(around.store, actor, content, decimal=_sign(decimal))
        return _report_page(request, again, file_name=name, decimal=decimal, uid="")
    said = f"Stored: {report.new} new, {report.changed} changed, {report.unchanged} as they were."
    return redirect("/equipment", say=said)


def _staged(around: Around, actor: Actor, uid: str) -> tuple[str, bytes]:
    return staged_import(around.store, actor, uid, now=around.now())
