"""Pictures of a round and of a finding on pages: many files at once, placed, the rest placed by hand."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, File, Path, Request, UploadFile
from fastapi.responses import Response

from service.domain.people import Actor
from service.domain.pictures import PictureKind
from service.errors import Invalid, Problem, TooLarge
from service.intake.limits import MOST_PICTURE_BYTES, MOST_PICTURES_AT_ONCE, MOST_PICTURES_BYTES
from service.pages import picture_words as said
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.templating import redirect, render
from service.usecases.pictures.bring import Sent, bring_picture, bring_to_finding, plain_name
from service.usecases.pictures.change import place_pictures
from service.usecases.pictures.see import list_finding_pictures, list_round_pictures
from service.usecases.surroundings import Surroundings

router = APIRouter()

Id = Annotated[int, Path(ge=1, le=2**53)]
Files = Annotated[list[UploadFile] | None, File()]
MIB = 1024 * 1024
LIMITS = (
    f"JPEG, PNG or WebP, each up to {MOST_PICTURE_BYTES // MIB} MiB and 40 million pixels; at most"
    f" {MOST_PICTURES_AT_ONCE} files and {MOST_PICTURES_BYTES // MIB} MiB at once."
)


@dataclass
class Outcome:
    """What became of the files of one form."""

    kept: int = 0
    again: int = 0
    placed: int = 0

    def words(self) -> str:
        """Nine pictures kept, seven of them in their place."""
        parts = [f"{view.sentence_case(view.counted_in_words(self.kept, 'picture'))} kept"]
        if self.kept and self.placed == self.kept:
            parts.append("in its place" if self.kept == 1 else "each in its place")
        elif self.kept:
            parts.append(f"{view.number_word(self.placed) if self.placed else 'none'} of them placed")
        if self.again:
            parts.append(f"{view.counted_in_words(self.again, 'file')} there already")
        return ", ".join(parts) + "."


def _chosen(thermal: Files, visible: Files) -> list[tuple[PictureKind, UploadFile]]:
    """The files of a form; a box in which none was chosen comes as one without a name.

    Raises
    ------
    TooLarge
        More than one form may bring.
    """
    both = ((PictureKind.THERMAL, thermal), (PictureKind.VISIBLE, visible))
    chosen = [(kind, file) for kind, files in both for file in files or () if file.filename or file.size]
    if len(chosen) > MOST_PICTURES_AT_ONCE:
        raise TooLarge(
            f"{len(chosen)} files were chosen; a form takes {MOST_PICTURES_AT_ONCE}.",
            remedy="Send them in several goes; what was sent already is not kept twice.",
        )
    return chosen


def _of_file(name: str, error: Invalid) -> list[Problem]:
    return [
        Problem(name or "a file without a name", "", p.found, p.message, p.remedy) for p in error.problems
    ]


# ---- of a round ---------------------------------------------------------------------------


@router.get("/rounds/{round_id}/pictures")
def index(request: Request, around: Around, actor: SignedIn, round_id: Id) -> Response:
    return _index(request, around, actor, round_id, refused=())


def _index(
    request: Request,
    around: Surroundings,
    actor: Actor,
    round_id: int,
    *,
    refused: list[Problem] | tuple[Problem, ...],
    outcome: str = "",
    status_code: int = 200,
    problems: tuple[Problem, ...] = (),
) -> Response:
    seen = list_round_pictures(around.store, actor, round_id)
    lost = [picture for picture in seen.pictures if not picture.placed]
    return render(
        request,
        "pictures/of_round.html",
        status_code=status_code,
        place="rounds",
        seen=seen,
        round=seen.round,
        title=said.round_title(seen),
        window=said.window_words(seen),
        limits=LIMITS,
        parts=said.by_stop(seen),
        lost=said.all_shown(lost[: said.MOST_ASKED]),
        more_lost=len(lost[said.MOST_ASKED :]),
        choices=said.choices(seen.places),
        refused=refused,
        outcome=outcome,
        problems=problems,
    )


@router.post("/rounds/{round_id}/pictures")
def bring(
    request: Request,
    around: Around,
    actor: SignedIn,
    round_id: Id,
    thermal: Files = None,
    visible: Files = None,
) -> Response:
    """Each file by itself: what is wrong with one keeps no other out."""
    chosen = _chosen(thermal, visible)
    list_round_pictures(around.store, actor, round_id)  # out of sight is told before anything else
    if not chosen:
        told = Problem("form", "thermal", "", "No file was chosen.", "Choose one or more pictures.")
        return _index(request, around, actor, round_id, refused=(), status_code=422, problems=(told,))
    outcome, refused = Outcome(), list[Problem]()
    for kind, file in chosen:
        sent = Sent(file.file.read(), file_name=file.filename or "", kind=kind)
        try:
            brought = bring_picture(
                around.store, actor, round_id, sent, shelf=around.pictures, now=around.now()
            )
        except Invalid as error:
            refused += _of_file(plain_name(sent.file_name), error)
            continue
        outcome.again += brought.again
        outcome.kept += not brought.again
        outcome.placed += not brought.again and brought.picture.placed
    if not refused:
        return redirect(f"/rounds/{round_id}/pictures", say=outcome.words())
    status = 200 if outcome.kept or outcome.again else 422
    words = outcome.words() if status == 200 else ""
    return _index(request, around, actor, round_id, refused=refused, outcome=words, status_code=status)


@router.post("/rounds/{round_id}/pictures/places")
def place(request: Request, around: Around, actor: SignedIn, round_id: Id, form: Posted) -> Response:
    """A choice per picture; those left without one stay in the list."""
    wanted = {
        name.removeprefix("place-"): (value, _version(form.text(f"version-{name.removeprefix('place-')}")))
        for name, value in form.typed.items()
        if name.startswith("place-") and value
    }
    try:
        moved = place_pictures(around.store, actor, round_id, wanted, now=around.now())
    except Invalid as error:
        return _index(request, around, actor, round_id, refused=(), status_code=422, problems=error.problems)
    return redirect(
        f"/rounds/{round_id}/pictures",
        say=f"{view.sentence_case(view.counted_in_words(moved, 'picture'))} placed.",
    )


def _version(raw: str) -> int:
    return int(raw) if raw.isascii() and raw.isdigit() and len(raw) < 16 else 0


# ---- of a finding -------------------------------------------------------------------------


@router.get("/findings/{finding_id}/pictures")
def of_finding(request: Request, around: Around, actor: SignedIn, finding_id: Id) -> Response:
    return _of_finding(request, around, actor, finding_id, refused=())


def _of_finding(
    request: Request,
    around: Surroundings,
    actor: Actor,
    finding_id: int,
    *,
    refused: list[Problem] | tuple[Problem, ...],
) -> Response:
    seen = list_finding_pictures(around.store, actor, finding_id)
    return render(
        request,
        "pictures/of_finding_page.html",
        status_code=422 if refused else 200,
        place="desk",
        seen=seen,
        pictures=said.all_shown(seen.pictures),
        limits=LIMITS,
        refused=refused,
    )


@router.post("/findings/{finding_id}/pictures")
def bring_to(
    request: Request,
    around: Around,
    actor: SignedIn,
    finding_id: Id,
    thermal: Files = None,
    visible: Files = None,
) -> Response:
    list_finding_pictures(around.store, actor, finding_id)
    refused = list[Problem]()
    chosen = _chosen(thermal, visible)
    for kind, file in chosen:
        sent = Sent(file.file.read(), file_name=file.filename or "", kind=kind)
        try:
            bring_to_finding(around.store, actor, finding_id, sent, shelf=around.pictures, now=around.now())
        except Invalid as error:
            refused += _of_file(plain_name(sent.file_name), error)
    if not chosen:
        refused = [Problem("", "thermal", "", "No file was chosen.", "Choose one or more pictures.")]
    if refused:
        return _of_finding(request, around, actor, finding_id, refused=refused)
    return redirect(f"/findings/{finding_id}", say="Kept with the finding.")
