"""Signed sheets of a round: scans sent, listed by stop, put right, given out as files."""

from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, File, Path, Request, UploadFile
from fastapi import Form as FormField
from fastapi.responses import Response

from service.domain.people import Actor
from service.domain.scans import SheetScan
from service.errors import Invalid
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.rounds import Id
from service.pages.templating import redirect, render
from service.pages.view import counted, sentence_case
from service.security.kept_files import INERT
from service.usecases.rounds import sheet_scans
from service.usecases.rounds.sheet_scans import SentFile
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/rounds/{round_id}/scans")
Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
TAKEN = "image/jpeg,image/png,image/webp,application/pdf"


def size_words(size_bytes: int) -> str:
    """340 kB, 2.4 MB: as file managers tell it, in powers of ten."""
    return f"{size_bytes / 1e6:.1f} MB" if size_bytes >= 1e6 else f"{max(1, round(size_bytes / 1e3))} kB"


@router.get("")
def see(request: Request, around: Around, actor: SignedIn, round_id: Id) -> Response:
    return _page(request, around, actor, round_id, problems=())


def _page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    round_id: int,
    *,
    problems: Any,
    typed: dict[str, str] | None = None,
) -> Response:
    page = sheet_scans.read_scans(around.store, actor, round_id)
    return render(
        request,
        "rounds/scans.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        round=page.round,
        choices=[(one.stop.id, f"{one.stop.position}. {one.title}") for one in page.stops],
        size_words=size_words,
        taken=TAKEN,
        problems=problems,
        typed=typed or {},
    )


@router.post("")
def bring(
    request: Request,
    around: Around,
    actor: SignedIn,
    round_id: Id,
    files: Annotated[list[UploadFile] | None, File()] = None,
    code: Annotated[str, FormField(max_length=40)] = "",
) -> Response:
    sent = [SentFile(one.filename or "", one.file.read()) for one in files or [] if one.filename]
    try:
        kept = sheet_scans.bring_scans(
            around.store, actor, round_id, files=around.files, sent=sent, typed_code=code, now=around.now()
        )
    except Invalid as error:
        return _page(request, around, actor, round_id, problems=error.problems, typed={"code": code})
    return redirect(f"/rounds/{round_id}/scans", say=_said(kept))


def _said(kept: tuple[SheetScan, ...]) -> str:
    apart = sum(scan.stop_id is None for scan in kept)
    told = f"{sentence_case(counted(len(kept), 'signed sheet'))} kept as sent."
    return f"{told} {apart} without a sheet code in the name: choose the stop." if apart else told


@router.get("/{uid}")
def file(around: Around, actor: SignedIn, round_id: Id, uid: Uid) -> Response:
    scan, content = sheet_scans.see_scan(around.store, actor, round_id, uid, files=around.files)
    headers = {"Content-Disposition": f'attachment; filename="sheet-{scan.uid}.{scan.kind.value}"'}
    return Response(content, media_type=scan.kind.media_type, headers=headers | INERT)


@router.post("/{uid}/stop")
def put(around: Around, actor: SignedIn, form: Posted, round_id: Id, uid: Uid) -> Response:
    stop_id = form.whole("stop_id")
    form.done()
    sheet_scans.put_scan(around.store, actor, round_id, uid, stop_id=stop_id, now=around.now())
    return redirect(f"/rounds/{round_id}/scans", say="Put there.")


@router.post("/{uid}/take-back")
def take_back(
    request: Request, around: Around, actor: SignedIn, form: Posted, round_id: Id, uid: Uid
) -> Response:
    try:
        sheet_scans.take_scan_back(
            around.store, actor, round_id, uid, reason=form.text("reason"), now=around.now()
        )
    except Invalid as error:
        # the box of this scan, among those of all others
        told = [replace(problem, field=problem.field + uid) for problem in error.problems]
        return _page(request, around, actor, round_id, problems=told)
    return redirect(f"/rounds/{round_id}/scans", say="Taken back. Its line and its file stay on record.")
