"""Evaluate again: new numbers for readings that were taken, looked at before they hold, and taken back."""

from datetime import UTC, datetime, time
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response

from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.reevaluation import QUANTITIES, Asked, NewValue, Reevaluated
from service.domain.reevaluation_targets import TargetFacts
from service.domain.words import ReevaluationTarget, SettingSource
from service.errors import Invalid, Problem
from service.pages import reevaluation_words as said
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.templating import redirect, render
from service.usecases.reevaluations.reevaluate import preview_reevaluation, reevaluate, undo_reevaluation
from service.usecases.reevaluations.see import see_all, see_one, see_target
from service.usecases.surroundings import Surroundings

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**53)]
#: readings of the table of moves on a page
MOST_MOVES = 60
PAGE = 30


@router.get("/reevaluate")
def ask(
    request: Request,
    around: Around,
    actor: SignedIn,
    target: ReevaluationTarget,
    target_id: Annotated[int, Query(alias="id", ge=1, le=2**53)],
) -> Response:
    facts = see_target(around.store, actor, target=target, target_id=target_id, now=around.now())
    return _form(request, facts, typed={}, problems=())


def _form(
    request: Request, facts: TargetFacts, *, typed: dict[str, str], problems: tuple[Problem, ...]
) -> Response:
    return render(
        request,
        "reevaluations/ask.html",
        status_code=422 if problems else 200,
        place="equipment",
        facts=facts,
        title=said.form_title(facts),
        quantities=list(QUANTITIES.values()),
        standings=[(one.value, said.STANDINGS[one]) for one in SettingSource],
        kinds=[(kind.value, view.sentence_case(str(kind))) for kind in facts.kinds],
        coatings=[(coating, coating) for coating in facts.coatings],
        typed=typed,
        problems=problems,
    )


def _target(form: Form) -> tuple[ReevaluationTarget, int]:
    """What the form is about.

    Raises
    ------
    Invalid
        It was tampered with.
    """
    try:
        target, target_id = ReevaluationTarget(form.text("target")), int(form.text("id"))
    except ValueError as error:
        raise Invalid([_no_target(form)]) from error
    if not 1 <= target_id <= 2**53:
        raise Invalid([_no_target(form)])
    return target, target_id


def _no_target(form: Form) -> Problem:
    found = f"{form.text('target')} {form.text('id')}"[:60]
    return Problem("form", "target", found, "It is not said what to evaluate again.", "Start from its page.")


def _asked(form: Form, facts: TargetFacts) -> Asked:
    changes = {}
    for name, quantity in QUANTITIES.items():
        value = form.in_unit(name, quantity.unit)
        half = None
        if quantity.setting:
            half = form.in_unit(f"{name}_half_width", said.half_unit_of(quantity.unit))
        if value is None:
            if half is not None:
                form.problems.append(
                    Problem("form", name, "", "A half-width without its number.", "Type the number too.")
                )
            continue
        changes[name] = NewValue(
            value, half, _standing(form.text(f"{name}_standing")), form.text(f"{name}_how")[:200]
        )
    since = form.day("since")
    kind = next((one for one in facts.kinds if one.value == form.text("kind")), None)
    coating = next((one for one in facts.coatings if one == form.text("coating")), "")
    form.done()
    return Asked(
        target=facts.target,
        target_id=facts.target_id,
        changes=changes,
        criteria_id=_set(form, facts),
        kind=kind if facts.of_many else None,
        coating=coating if facts.of_many else "",
        since=None if since is None else _midnight(since, facts.zone),
        from_now_on=facts.lasts and form.ticked("from_now_on"),
    )


def _midnight(day: Any, zone: str) -> datetime:
    return datetime.combine(day, time(), ZoneInfo(zone)).astimezone(UTC)


def _standing(word: str) -> SettingSource:
    return SettingSource(word) if word in {one.value for one in SettingSource} else SettingSource.MEASURED


def _set(form: Form, facts: TargetFacts) -> int | None:
    return next((set_id for set_id, _name in facts.sets if str(set_id) == form.text("criteria_id")), None)


@router.post("/reevaluate/preview")
def preview(request: Request, around: Around, actor: SignedIn, form: Posted) -> Response:
    target, target_id = _target(form)
    facts = see_target(around.store, actor, target=target, target_id=target_id, now=around.now())
    try:
        asked = _asked(form, facts)
        found = preview_reevaluation(around.store, actor, asked=asked, now=around.now())
    except Invalid as error:
        return _form(request, facts, typed=form.typed, problems=error.problems)
    return _preview(request, facts, asked, found, typed=form.typed)


def _preview(
    request: Request,
    facts: TargetFacts,
    asked: Asked,
    found: Reevaluated,
    *,
    typed: dict[str, str],
    problems: tuple[Problem, ...] = (),
) -> Response:
    return render(
        request,
        "reevaluations/preview.html",
        status_code=422 if problems else 200,
        place="equipment",
        facts=facts,
        title=said.preview_title(found),
        changes=said.changes_of(asked.to_dict(), dict(facts.sets)),
        narrowed=said.narrowed(asked, facts.zone),
        found=found,
        tally=said.tally(found),
        moved=[said.move(one) for one in found.moved[:MOST_MOVES]],
        moved_count=len(found.moved),
        standings=found.standings[:MOST_MOVES],
        hidden=sorted((name, value) for name, value in typed.items() if name not in ("reason", "go")),
        typed=typed,
        problems=problems,
    )


@router.post("/reevaluate")
def commit(request: Request, around: Around, actor: SignedIn, form: Posted) -> Response:
    target, target_id = _target(form)
    facts = see_target(around.store, actor, target=target, target_id=target_id, now=around.now())
    if form.text("go") == "back":
        return _form(request, facts, typed=form.typed, problems=())
    try:
        asked = _asked(form, facts)
    except Invalid as error:
        return _form(request, facts, typed=form.typed, problems=error.problems)
    try:
        done = reevaluate(around.store, actor, asked=asked, reason=form.text("reason"), now=around.now())
    except Invalid as error:
        if not any(problem.field == "reason" for problem in error.problems):
            return _form(request, facts, typed=form.typed, problems=error.problems)
        found = preview_reevaluation(around.store, actor, asked=asked, now=around.now())
        return _preview(request, facts, asked, found, typed=form.typed, problems=error.problems)
    return redirect(f"/reevaluations/{done.reevaluation_id}", say=said.done(done))


# ---- what was done ---------------------------------------------------------------------------


@router.get("/reevaluations")
def every(
    request: Request,
    around: Around,
    actor: SignedIn,
    before: Annotated[int | None, Query(ge=1, le=2**53)] = None,
) -> Response:
    kept, names = see_all(around.store, actor, before=before, limit=PAGE)
    return render(
        request,
        "reevaluations/index.html",
        place="equipment",
        title=said.list_title(kept),
        lines=[said.line(one, *names[one.target, one.target_id]) for one in kept],
        older=f"/reevaluations?before={kept[-1].id}" if len(kept) == PAGE else "",
    )


@router.get("/reevaluations/{reevaluation_id}")
def one(request: Request, around: Around, actor: SignedIn, reevaluation_id: Id) -> Response:
    return _one(request, around, actor, reevaluation_id, typed={}, problems=())


def _one(
    request: Request,
    around: Surroundings,
    actor: Actor,
    reevaluation_id: int,
    *,
    typed: dict[str, str],
    problems: tuple[Problem, ...],
) -> Response:
    seen = see_one(around.store, actor, reevaluation_id)
    return render(
        request,
        "reevaluations/one.html",
        status_code=422 if problems else 200,
        place="equipment",
        kept=seen.kept,
        title=said.one_title(seen.kept),
        about=seen.title,
        href=seen.href,
        changes=said.changes_of(dict(seen.kept.changes), {}),
        moved=[said.move(move) for move in seen.moved[:MOST_MOVES]],
        moved_count=len(seen.moved),
        may_take_back=may(actor, Verb.KEEP_REGISTER) and seen.kept.undone_by_id is None,
        typed=typed,
        problems=problems,
    )


@router.post("/reevaluations/{reevaluation_id}/take-back")
def take_back(
    request: Request, around: Around, actor: SignedIn, reevaluation_id: Id, form: Posted
) -> Response:
    see_one(around.store, actor, reevaluation_id)
    try:
        done = undo_reevaluation(
            around.store,
            actor,
            reevaluation_id=reevaluation_id,
            reason=form.text("reason"),
            now=around.now(),
        )
    except Invalid as error:
        return _one(request, around, actor, reevaluation_id, typed=form.typed, problems=error.problems)
    return redirect(
        f"/reevaluations/{done.reevaluation_id}", say="Taken back: the figures are as they were before."
    )
