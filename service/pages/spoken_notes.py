"""Spoken notes on pages: given out to be heard where they stand, taken back with a reason."""

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from service.errors import Invalid
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.held_sends import walked_page
from service.pages.rounds import Id
from service.pages.templating import redirect
from service.security.kept_files import INERT_FOR_AN_HOUR
from service.usecases.spoken_notes.keep import take_note_back
from service.usecases.spoken_notes.see import hear_note

router = APIRouter(prefix="/rounds/{round_id}/spoken-notes")
Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]


@router.get("/{uid}")
def file(around: Around, actor: SignedIn, round_id: Id, uid: Uid) -> Response:
    """An attachment, which a player on our page plays all the same."""
    note, content = hear_note(around.store, actor, round_id, uid, shelf=around.pictures)
    kept = {"Content-Disposition": f'attachment; filename="note-{note.uid}.{note.kind.value}"'}
    return Response(content, media_type=note.kind.media_type, headers=INERT_FOR_AN_HOUR | kept)


@router.post("/{uid}/take-back")
def take_back(
    request: Request, around: Around, actor: SignedIn, form: Posted, round_id: Id, uid: Uid
) -> Response:
    reason = form.text("reason")
    try:
        take_note_back(around.store, actor, round_id, uid, reason=reason, now=around.now())
    except Invalid as error:
        # the box of this note, among those of all others
        told = [replace(problem, field=problem.field + uid) for problem in error.problems]
        return walked_page(request, around, actor, round_id, problems=told)
    return redirect(f"/rounds/{round_id}/walked", say="Taken back. Its line and its file stay on record.")
