"""Findings: open one, see what happened to it, and make its moves."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from service.domain.findings import FindingFile
from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.words import FindingState, Found
from service.errors import Invalid, NotFound
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.picture_words import all_shown
from service.pages.templating import redirect, render
from service.pages.view import CELSIUS, sentence_case
from service.usecases.findings import move_finding as moves
from service.usecases.findings.open_finding import FindingFields, open_off_round, open_on_point
from service.usecases.findings.people_to_own import people_to_own
from service.usecases.findings.repair_fields import RepairFields
from service.usecases.findings.subject import see_subject
from service.usecases.pictures.see import list_finding_pictures
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/findings")


def _fields(form: Form) -> FindingFields:
    return FindingFields(
        title=form.text("title"),
        owner_id=form.whole("owner_id"),
        due_on=form.day("due_on"),
        work_order=form.text("work_order"),
        cause=form.text("cause"),
        root_cause=form.text("root_cause"),
        interim_measure=form.text("interim_measure"),
        cost=form.number("cost"),
        consequence=form.text("consequence"),
    )


@router.get("/new")
def new(
    request: Request,
    around: Around,
    actor: SignedIn,
    point: Annotated[int | None, Query(ge=1, le=2**53)] = None,
) -> Response:
    return _new_page(request, around, actor, point=point, typed={}, problems=())


def _new_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    *,
    point: int | None,
    typed: dict[str, str],
    problems: Any,
) -> Response:
    subject = see_subject(around.store, actor, point_id=point)
    return render(
        request, "findings/new.html", status_code=422 if problems else 200, place="desk", subject=subject, point=point,
        typed=typed, problems=problems, people=people_to_own(around.store, actor),
    )  # fmt: skip


@router.post("/new")
def create(request: Request, around: Around, actor: SignedIn, form: Posted) -> Response:
    point, now = form.whole("point"), around.now()
    try:
        fields = _fields(form)
        temperature, site_id = form.in_unit("temperature_c", CELSIUS), form.whole("site_id")
        form.done()
        if point is not None:
            file = open_on_point(around.store, actor, point_id=point, fields=fields, now=now)
        else:
            if site_id is None:
                raise NotFound("Say at which site.")
            file = open_off_round(
                around.store, actor, site_id=site_id, place=form.text("place"), picture=form.text("picture"),
                temperature_c=temperature, fields=fields, now=now,
            )  # fmt: skip
    except Invalid as error:
        return _new_page(request, around, actor, point=point, typed=form.typed, problems=error.problems)
    return redirect(f"/findings/{file.finding.id}", say="The finding is open.")


@router.get("/{finding_id}")
def see(request: Request, around: Around, actor: SignedIn, finding_id: int) -> Response:
    file = moves.see_finding(around.store, actor, finding_id=finding_id)
    return _finding_page(request, around, actor, file=file, typed={}, problems=())


def _finding_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    *,
    file: FindingFile,
    typed: dict[str, str],
    problems: Any,
) -> Response:
    seen = list_finding_pictures(around.store, actor, file.finding.id)
    return render(
        request, "findings/finding.html", pictures=all_shown(seen.pictures), may_bring_pictures=seen.may_bring, status_code=422 if problems else 200, place="desk", file=file,
        finding=file.finding, typed=typed, problems=problems, now=around.now(), happened=happened(file), may_mend=may(actor, Verb.MEND),
        zone=file.finding.time_zone, may_tell=may(actor, Verb.OPEN_FINDING), may_accept=may(actor, Verb.ACCEPT_RISK),
        people=people_to_own(around.store, actor), found_words=[(one.value, sentence_case(one)) for one in Found],
    )  # fmt: skip


def happened(file: FindingFile) -> list[tuple[datetime, str, str, str]]:
    """Moves and tellings in one line of time: when, who, what in bold, what follows it."""
    moves = []
    for place, move in enumerate(file.moves):
        opened = place == 0 and move.to_state == FindingState.OPEN.value
        what = "Opened" if opened else sentence_case(move.to_state)
        gap = " " if move.note.startswith("for ") else ": "
        moves.append((move.at, move.by, what, f"{gap}{move.note}" if move.note else ""))
    for told in file.tellings:
        answer = f", who answered: {told.answer}" if told.answer else ""
        moves.append((told.told_at, told.by, "Told", f" {told.told_whom}{answer}"))
    return sorted(moves, key=lambda line: line[0])


@router.post("/{finding_id}/{move}")
def make_move(
    request: Request, around: Around, actor: SignedIn, form: Posted, finding_id: int, move: str
) -> Response:
    if move not in SAID:
        raise NotFound()
    try:
        _moved(around, actor, form, finding_id, move, around.now())
    except Invalid as error:
        file = moves.see_finding(around.store, actor, finding_id=finding_id)
        return _finding_page(request, around, actor, file=file, typed=form.typed, problems=error.problems)
    return redirect(f"/findings/{finding_id}", say=" ".join((SAID[move], *form.chosen)))


SAID = {
    "edit": "Kept.",
    "plan": "The repair is planned.",
    "repair": "The repair is recorded. The next round reads this point again.",
    "set-aside": "Set aside until its review.",
    "close-corrected": "Closed: no reading says Act now any more.",
    "take-up": "Taken up again.",
    "told": "Kept: who was told, when and what they answered.",
    "accept-risk": "The risk is accepted in your name.",
}


def _moved(
    around: Surroundings, actor: Actor, form: Form, finding_id: int, move: str, now: datetime
) -> FindingFile:
    store, version = around.store, form.version()
    if move in ("repair", "told"):
        return _timed(around, actor, form, finding_id, move, now)
    if move == "edit":
        fields = _fields(form)
        form.done()
        return moves.edit_finding(
            store, actor, finding_id=finding_id, version=version, fields=fields, now=now
        )
    if move == "plan":
        day = form.day("planned_for")
        form.done()
        return moves.plan_repair(
            store, actor, finding_id=finding_id, version=version, planned_for=day,
            work_order=form.text("work_order"), now=now,
        )  # fmt: skip
    if move == "set-aside":
        review = form.day("review_on")
        form.done()
        return moves.set_aside(
            store, actor, finding_id=finding_id, version=version, reason=form.text("reason"), review_on=review,
            now=now,
        )  # fmt: skip
    if move == "close-corrected":
        return moves.close_corrected(
            store, actor, finding_id=finding_id, version=version, note=form.text("note"), now=now
        )
    if move == "take-up":
        return moves.take_up_again(store, actor, finding_id=finding_id, version=version, now=now)
    return moves.accept_risk(
        store, actor, finding_id=finding_id, version=version, note=form.text("note"), now=now
    )


def _timed(
    around: Surroundings, actor: Actor, form: Form, finding_id: int, move: str, now: datetime
) -> FindingFile:
    """Moves with a time in them: it is typed on the clock of the finding's site."""
    zone = moves.see_finding(around.store, actor, finding_id=finding_id).finding.time_zone
    if move == "repair":
        repair = _repair(form, zone, now)
        form.done()
        return moves.record_repair(
            around.store, actor, finding_id=finding_id, version=form.version(), repair=repair, now=now
        )
    told_at = form.moment("told_at", zone) or now
    form.done()
    return moves.tell(
        around.store, actor, finding_id=finding_id, told_whom=form.text("told_whom"), told_at=told_at,
        answer=form.text("answer"), now=now,
    )  # fmt: skip


def _repair(form: Form, zone: str, now: datetime) -> RepairFields:
    return RepairFields(
        repaired_at=form.moment("repaired_at", zone) or now,
        by=form.text("by"),
        cause=form.text("cause"),
        as_found=form.text("as_found"),
        as_left=form.text("as_left"),
        torque_found_nm=form.number("torque_found_nm"),
        torque_left_nm=form.number("torque_left_nm"),
        micro_ohm_found=form.number("micro_ohm_found"),
        micro_ohm_left=form.number("micro_ohm_left"),
        replaced=form.ticked("replaced"),
        found=form.text("found") or None,
        cost=form.number("repair_cost"),
    )
