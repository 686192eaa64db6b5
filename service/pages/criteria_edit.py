"""Editing a set of criteria in the browser, one part at a time; every problem links to its box."""

from collections.abc import Mapping
from datetime import date
from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from service.domain.bands import VOLTAGES, Confidence, Measure
from service.domain.criteria_differences import COLUMN_NAMES, differences
from service.domain.criteria_kept import KeptCriteria
from service.domain.criteria_numbers import NUMBER_GROUPS, CriteriaNumber
from service.domain.people import Actor
from service.domain.words import Level, PointKind, ReferenceKind
from service.errors import Conflict, Invalid, Problem, Stale
from service.pages import criteria_form as forms
from service.pages import criteria_words as words
from service.pages.asking import Around, SignedInForOthers
from service.pages.criteria import set_page
from service.pages.criteria_form import PART_NAMES, Part
from service.pages.forms import Form, PostedForOthers
from service.pages.templating import redirect, render
from service.pages.view import sentence_case
from service.usecases.condition.criteria_sets import see_set
from service.usecases.condition.edit_criteria import edit_set, require_keeper
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/set-up/criteria")
Id = Annotated[int, Path(ge=1, le=2**53)]


@router.get("/{criteria_id}/edit/{part}")
def show_part(
    request: Request, around: Around, actor: SignedInForOthers, criteria_id: Id, part: Part
) -> Response:
    return _page(request, around, actor, criteria_id, part)


@router.post("/{criteria_id}/edit/{part}")
def take_part(
    request: Request,
    around: Around,
    actor: SignedInForOthers,
    form: PostedForOthers,
    criteria_id: Id,
    part: Part,
) -> Response:
    kept = _to_edit(around, actor, criteria_id)
    typed = forms.read_part(kept.criteria.to_dict(), part, form.typed)
    valid_from = form.day("valid_from") if part is Part.ABOUT else None
    try:
        form.done()
        edited = edit_set(
            around.store, actor, criteria_id, edits=form.version(), body=typed.body, valid_from=valid_from,
            now=around.now(),
        )  # fmt: skip
    except Stale as error:
        problems = _meanwhile(_to_edit(around, actor, criteria_id), part, form)
        version = error.current_version
    except Invalid as error:
        problems = error.problems if form.problems else typed.told(error.problems)
        version = form.version()
    else:
        return redirect(set_page(edited.id), say=_said(kept, edited))
    boxes = form.typed | {"version": str(version)}
    return _page(request, around, actor, criteria_id, part, boxes=boxes, problems=problems)


def _said(before: KeptCriteria, after: KeptCriteria) -> str:
    if after.id == before.id:
        return "Nothing was changed." if after == before else "The set is kept as edited."
    number = after.criteria.version
    return f"Version {number} is kept. What was judged keeps the version it was judged by; choose this one where it is to hold."


def _to_edit(around: Surroundings, actor: Actor, criteria_id: int) -> KeptCriteria:
    """The set, if this person may edit it at all.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        A shipped set, or not its newest version.
    """
    kept = see_set(around.store, actor, criteria_id, now=around.now()).kept
    require_keeper(actor, kept.client_id)
    if kept.shipped:
        raise Conflict("This set came with the service and stays as it is.", remedy="Copy it, edit the copy.")
    if not kept.newest:
        raise Conflict("There is a newer version of this set.", remedy="Edit that one.")
    return kept


def _meanwhile(now_kept: KeptCriteria, part: Part, form: Form) -> tuple[Problem, ...]:
    """Somebody was faster: what stands there now where it differs from what was typed."""
    typed = forms.read_part(now_kept.criteria.to_dict(), part, form.typed).body
    try:
        mine = type(now_kept.criteria).from_dict(typed)
    except Invalid:
        told: list[Problem] = []
    else:
        told = [
            Problem(
                where=f"{one.where}, {one.what}",
                field="",
                found=words.difference_words(one, one.before),
                message="Somebody kept this set meanwhile; this is what it says now.",
                remedy="Leave yours or type theirs, then keep it.",
            )
            for one in differences(now_kept.criteria, mine)
        ]
    whole = Problem("The set", "", "", "Somebody kept this set meanwhile.", "Look through it, then keep it.")
    return tuple(told) or (whole,)


def _page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    criteria_id: int,
    part: Part,
    *,
    boxes: Mapping[str, str] | None = None,
    problems: tuple[Problem, ...] = (),
) -> Response:
    kept = _to_edit(around, actor, criteria_id)
    if boxes is None:
        boxes = forms.boxes_of_part(kept.criteria.to_dict(), part)
        boxes |= {"valid_from": kept.valid_from.isoformat(), "version": str(kept.edits)}
    return render(
        request,
        "set_up/criteria_edit.html",
        status_code=422 if problems else 200,
        place="setup",
        kept=kept,
        name=words.set_name(kept),
        part=part,
        part_name=PART_NAMES[part],
        parts=PART_NAMES,
        boxes=boxes,
        lists=_lists(boxes, part),
        column_names=COLUMN_NAMES,
        units=_units(kept, boxes),
        legends=_legends(boxes),
        number_groups=[
            (group.title, [(one, _range(one)) for one in group.numbers]) for group in NUMBER_GROUPS
        ],
        next_version=kept.criteria.version + 1,
        levels=[(str(int(level)), level.word) for level in Level],
        level_names=[(str(int(level)), level.word) for level in Level if level],
        confidences=[(one.value, one.words) for one in Confidence],
        kinds=[(kind.value, kind.value) for kind in PointKind],
        measures=[(one.value, one.value) for one in Measure],
        references=[(one.value, one.value) for one in ReferenceKind],
        voltages=[(one, one) for one in VOLTAGES],
        off=kept.valid_from == date.max,
        problems=problems,
    )


def _range(one: CriteriaNumber) -> str:
    """What may be entered: 40 to 100 %."""
    scale = 100 if one.unit == "%" else 1
    return f"{one.low * scale:g} to {one.high * scale:g}{f' {one.unit}' if one.unit else ''}"


def _legends(boxes: Mapping[str, str]) -> list[str]:
    """What each template on the form is for."""
    legends = []
    for n in range(forms.filled_lines(boxes, "templates", "kind")):
        names = ("kind", "component", "measure")
        told = [boxes.get(f"templates.{n}.{name}", "") for name in names]
        legends.append(sentence_case(", ".join(word for word in told if word not in ("", Measure.RISE))))
    return [*legends, "One more"]


def _units(kept: KeptCriteria, boxes: Mapping[str, str]) -> dict[str, str]:
    """The unit of each table of bands on the form."""
    units = {name: getattr(kept.criteria, name).unit.value for name in COLUMN_NAMES}
    for n in range(forms.filled_lines(boxes, "templates", "kind") + forms.SPARE_ENTRIES):
        prefix = f"templates.{n}"
        measure, reference = boxes.get(f"{prefix}.measure", ""), boxes.get(f"{prefix}.reference", "")
        units[prefix] = forms.unit_of(measure, reference)
    return units


def _lists(boxes: Mapping[str, str], part: Part) -> dict[str, int]:
    """By list how many lines the form shows: those that are there, and some to fill in."""
    prefixes: list[str] = []
    shown: dict[str, int] = {}
    if part is Part.COLUMNS:
        shown["air_by_kind"] = forms.filled_lines(boxes, "air_by_kind", "kind") + forms.SPARE_ENTRIES
        prefixes = [*COLUMN_NAMES, *(f"air_by_kind.{n}" for n in range(shown["air_by_kind"]))]
    elif part is Part.KINDS:
        shown["templates"] = forms.filled_lines(boxes, "templates", "kind") + forms.SPARE_ENTRIES
        prefixes = [f"templates.{n}" for n in range(shown["templates"])]
    elif part is Part.LIMITS:
        shown["limits"] = forms.filled_lines(boxes, "limits", "part") + forms.SPARE_EDGES
    for prefix in prefixes:
        shown[prefix] = max(forms.filled_lines(boxes, f"{prefix}.bands", "value"), 1) + forms.SPARE_EDGES
    return shown
