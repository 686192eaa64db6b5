"""The register from a file over JSON: look first, then all or nothing."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, Response, UploadFile
from pydantic import BaseModel

from service.api.asking import Around, Asker
from service.api.problems import PROBLEMS
from service.domain.cells import Sign
from service.usecases.register.export_register import empty_csv, empty_workbook, filled_workbook
from service.usecases.register.import_register import ImportReport, commit_import, preview_import

router = APIRouter(prefix="/imports", tags=["register"], responses=PROBLEMS)
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
DecimalSign = Annotated[
    Literal["as in the file", ".", ","],
    Form(description="decimal sign of numbers that are texts; the file must show it when none is given"),
]


class CountOut(BaseModel):
    new: int
    changed: int
    unchanged: int


class ChangeOut(BaseModel):
    noun: str
    key: list[str]
    field: str
    was: str
    becomes: str


class ProblemOut(BaseModel):
    where: str
    field: str
    found: str
    message: str
    remedy: str


class ImportOut(BaseModel):
    """What a file does, or would do; of the changed fields the first 200 are listed."""

    stored: bool
    file_hash: str
    rows: int
    sheets: list[str]
    decimal: str | None
    counts: dict[str, CountOut]
    changes: list[ChangeOut]
    problems: list[ProblemOut]
    problem_count: int


def _out(report: ImportReport) -> ImportOut:
    return ImportOut(
        stored=report.stored,
        file_hash=report.file_hash,
        rows=report.rows,
        sheets=list(report.sheets),
        decimal=report.decimal,
        counts={
            noun.plural: CountOut(new=c.new, changed=c.changed, unchanged=c.unchanged)
            for noun, c in report.counts.items()
        },
        changes=[
            ChangeOut(
                noun=change.noun,
                key=list(change.key),
                field=change.field,
                was=str(change.was),
                becomes=str(change.becomes),
            )
            for change in report.changes
        ],
        problems=[ProblemOut(**problem.as_dict()) for problem in report.problems],
        problem_count=report.problem_count,
    )


def _sign(decimal: str) -> Sign | None:
    return "." if decimal == "." else "," if decimal == "," else None


@router.post("/register/preview", operation_id="preview_register_import")
def preview(
    around: Around, actor: Asker, file: UploadFile, decimal: DecimalSign = "as in the file"
) -> ImportOut:
    """What a CSV or XLSX file would do to the register, with every problem; nothing is stored."""
    return _out(preview_import(around.store, actor, file.file.read(), decimal=_sign(decimal)))


@router.post("/register", operation_id="import_register")
def commit(
    around: Around, actor: Asker, file: UploadFile, decimal: DecimalSign = "as in the file"
) -> ImportOut:
    """Store what a file says: everything, or nothing of it. The same file again changes nothing."""
    report = commit_import(around.store, actor, file.file.read(), decimal=_sign(decimal), now=around.now())
    return _out(report)


def file_response(content: bytes, *, name: str, kind: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=kind, headers=headers)


_BYTES = {"schema": {"type": "string", "format": "binary"}}
_XLSX_REPLY: dict[int | str, dict[str, Any]] = {200: {"content": {XLSX: _BYTES}}}
_CSV_REPLY: dict[int | str, dict[str, Any]] = {200: {"content": {"text/csv": _BYTES}}}


@router.get("/register/template.xlsx", response_class=Response, responses=_XLSX_REPLY)
def template_workbook(actor: Asker) -> Response:
    """The empty workbook, one sheet per noun, every column explained."""
    return file_response(empty_workbook(actor), name="register-template.xlsx", kind=XLSX)


@router.get("/register/template.csv", response_class=Response, responses=_CSV_REPLY)
def template_csv(actor: Asker) -> Response:
    """The empty flat form, one row per point."""
    return file_response(empty_csv(actor), name="register-template.csv", kind="text/csv; charset=utf-8")


@router.get("/register/register.xlsx", response_class=Response, responses=_XLSX_REPLY)
def whole_register(around: Around, actor: Asker) -> Response:
    """The register in sight as it stands; imported again it changes nothing."""
    return file_response(filled_workbook(around.store, actor), name="register.xlsx", kind=XLSX)
