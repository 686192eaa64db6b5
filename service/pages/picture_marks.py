"""What is drawn on the copy of a picture, and the note that is spoken to it."""

from typing import Annotated

from fastapi import APIRouter, File, Path, Request, UploadFile
from fastapi.responses import Response

from service.domain.pictures import ENDS, Mark, MarkShape
from service.errors import Invalid, NotFound, Problem
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.pictures import Uid, picture_page
from service.pages.templating import redirect
from service.usecases.pictures.change import PictureWish, change_picture, keep_voice
from service.usecases.pictures.see import see_picture

router = APIRouter(prefix="/pictures/{uid}")

Place = Annotated[int, Path(ge=0, le=2**31)]


def _mark(form: Form) -> Mark:
    """The mark a form asks for; boxes that are wrong are told together."""
    shape = form.text("shape")
    ends = {name: form.number(name) for name in ENDS}
    if shape == MarkShape.WORDS:
        ends |= {"x_to": ends["x_from"], "y_to": ends["y_from"]}
    told = {problem.field for problem in form.problems}
    form.problems += [
        Problem("form", name, "", "This is empty.", "Type per cent of the picture, 0 to 100.")
        for name, value in ends.items()
        if value is None and name not in told
    ]
    form.done()
    x_from, y_from, x_to, y_to = (ends[name] or 0.0 for name in ENDS)
    known = MarkShape(shape) if shape in set(MarkShape) else MarkShape.ARROW
    return Mark(known, x_from, y_from, x_to, y_to, form.text("words"))


@router.post("/marks")
def draw(request: Request, around: Around, actor: SignedIn, uid: Uid, form: Posted) -> Response:
    try:
        mark = _mark(form)
        marks = (*see_picture(around.store, actor, uid).picture.marks, mark)
        change_picture(
            around.store, actor, uid, PictureWish(marks=marks), version=form.version(), now=around.now()
        )
    except Invalid as error:
        return picture_page(request, around, actor, uid, typed=form.typed, problems=error.problems)
    return redirect(f"/pictures/{uid}/look", say="Drawn on the copy.")


@router.post("/marks/{place}/take-back")
def take_back(around: Around, actor: SignedIn, uid: Uid, place: Place, form: Posted) -> Response:
    marks = see_picture(around.store, actor, uid).picture.marks
    if place >= len(marks):
        raise NotFound()
    left = (*marks[:place], *marks[place + 1 :])
    change_picture(
        around.store, actor, uid, PictureWish(marks=left), version=form.version(), now=around.now()
    )
    return redirect(f"/pictures/{uid}/look", say="Taken back.")


@router.post("/voice")
def speak(
    request: Request,
    around: Around,
    actor: SignedIn,
    uid: Uid,
    file: Annotated[UploadFile | None, File()] = None,
) -> Response:
    content = file.file.read() if file is not None else b""
    try:
        keep_voice(
            around.store, actor, uid, content=content, shelf=around.pictures, round_id=None, now=around.now()
        )
    except Invalid as error:
        told = [Problem("", "file", p.found, p.message, p.remedy) for p in error.problems]
        return picture_page(request, around, actor, uid, typed={}, problems=told)
    return redirect(f"/pictures/{uid}/look", say="The spoken note is kept.")
