"""Pictures on pages: given out as files, looked at one by one, of a point through its visits, compared."""

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response

from service.domain.people import Actor
from service.domain.pictures import MEDIA, PictureKind, note_with
from service.errors import Invalid, Problem
from service.pages import picture_words as said
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.templating import redirect, render
from service.security.kept_files import INERT_FOR_AN_HOUR
from service.usecases.pictures.change import PictureWish, change_picture, retire_picture
from service.usecases.pictures.see import PictureVisit, list_point_pictures, see_file, see_picture
from service.usecases.surroundings import Surroundings

router = APIRouter()

Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
PointId = Annotated[int, Path(ge=1, le=2**53)]
VisitKey = Annotated[str, Query(max_length=20)]


# ---- files --------------------------------------------------------------------------------


@router.get("/pictures/{uid}")
def picture(around: Around, actor: SignedIn, uid: Uid) -> Response:
    _, content, kind = see_file(around.store, actor, uid, shelf=around.pictures, what="stored_as")
    return Response(content, media_type=MEDIA[kind], headers=INERT_FOR_AN_HOUR)


@router.get("/pictures/{uid}/preview")
def preview(around: Around, actor: SignedIn, uid: Uid) -> Response:
    _, content, kind = see_file(around.store, actor, uid, shelf=around.pictures, what="preview_as")
    return Response(content, media_type=MEDIA[kind], headers=INERT_FOR_AN_HOUR)


@router.get("/pictures/{uid}/voice")
def voice(around: Around, actor: SignedIn, uid: Uid) -> Response:
    _, content, kind = see_file(around.store, actor, uid, shelf=around.pictures, what="voice_as")
    kept = {"Content-Disposition": f'attachment; filename="note-{uid}.{kind}"'}
    return Response(content, media_type=MEDIA[kind], headers=INERT_FOR_AN_HOUR | kept)


# ---- one picture --------------------------------------------------------------------------


@router.get("/pictures/{uid}/look")
def look(request: Request, around: Around, actor: SignedIn, uid: Uid) -> Response:
    return picture_page(request, around, actor, uid, typed={}, problems=())


def picture_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    uid: str,
    *,
    typed: dict[str, str],
    problems: tuple[Problem, ...] | list[Problem],
) -> Response:
    """The page of one picture, also with what was wrong with a form on it."""
    seen = see_picture(around.store, actor, uid)
    return render(
        request,
        "pictures/picture.html",
        status_code=422 if problems else 200,
        place="equipment",
        seen=seen,
        picture=seen.picture,
        shown=said.shown(seen.picture),
        marked=request.query_params.get("marks") != "off",
        choices=said.choices(seen.places),
        here=typed.get("place", said.current_place(seen.picture)),
        kinds=said.KINDS,
        typed=typed,
        problems=problems,
    )


@router.post("/pictures/{uid}/details")
def describe(request: Request, around: Around, actor: SignedIn, uid: Uid, form: Posted) -> Response:
    kind = form.text("kind")
    wish = PictureWish(
        place=form.text("place") if "place" in form.typed else None,
        kind=PictureKind(kind) if kind in set(PictureKind) else None,
        note=note_with(form.text("note"), form.text("phrase")),
    )
    try:
        change_picture(around.store, actor, uid, wish, version=form.version(), now=around.now())
    except Invalid as error:
        return picture_page(request, around, actor, uid, typed=form.typed, problems=error.problems)
    return redirect(f"/pictures/{uid}/look", say="Kept.")


@router.post("/pictures/{uid}/retire")
def retire(request: Request, around: Around, actor: SignedIn, uid: Uid, form: Posted) -> Response:
    try:
        retire_picture(
            around.store, actor, uid, reason=form.text("reason"), version=form.version(), now=around.now()
        )
    except Invalid as error:
        return picture_page(request, around, actor, uid, typed=form.typed, problems=error.problems)
    return redirect(f"/pictures/{uid}/look", say="Taken out; it stays on record here.")


# ---- of a point ---------------------------------------------------------------------------


@router.get("/points/{point_id}/pictures")
def gallery(request: Request, around: Around, actor: SignedIn, point_id: PointId) -> Response:
    seen = list_point_pictures(around.store, actor, point_id)
    zone = seen.place.zone
    return render(
        request,
        "pictures/gallery.html",
        place="equipment",
        seen=seen,
        title=said.point_title(seen),
        crumbs=said.point_crumbs(seen),
        visits=[
            (visit, said.visit_words(visit, zone), said.all_shown(visit.pictures)) for visit in seen.visits
        ],
    )


@router.get("/points/{point_id}/pictures/compare")
def compare(
    request: Request,
    around: Around,
    actor: SignedIn,
    point_id: PointId,
    left: VisitKey = "",
    right: VisitKey = "",
) -> Response:
    seen = list_point_pictures(around.store, actor, point_id)
    zone = seen.place.zone
    chosen = [said.chosen_visit(seen, left, 1), said.chosen_visit(seen, right, 0)]
    sides = [
        (name, visit, said.visit_words(visit, zone), said.pair_of(visit, point_id))
        for name, visit in zip(("left", "right"), chosen, strict=True)
        if visit is not None
    ]
    return render(
        request,
        "pictures/compare.html",
        place="equipment",
        seen=seen,
        crumbs=said.point_crumbs(seen),
        sides=sides,
        options=[(visit.key, said.visit_words(visit, zone)) for visit in seen.visits],
        title=_compared(sides, zone),
    )


def _compared(sides: Sequence[tuple[str, PictureVisit, str, object]], zone: str) -> str:
    if len(sides) < 2:
        return "Two visits with pictures are needed to compare"
    first, second = (view.day(visit.at, zone) for _, visit, _, _ in sides)
    return f"{first} beside {second}"
