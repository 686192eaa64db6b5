"""The Desk: what waits for a decision, gravest and oldest first."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from service.domain.desk import DeskItem, Waiting
from service.pages.asking import Around, SignedIn
from service.pages.templating import render
from service.pages.view import counted, number_word, sentence_case
from service.usecases.findings.desk import Desk, see_desk

router = APIRouter()

STEP = {
    Waiting.TELL: "Say whom was told",
    Waiting.DECIDE: "Decide",
    Waiting.NOT_PROVEN: "Plan again",
    Waiting.TAKEN_BACK: "Close it",
    Waiting.OVERDUE: "Go on",
    Waiting.OFF_ROUND: "Decide",
    Waiting.HELD: "Take it in",
    Waiting.DOUBLE: "Choose",
    Waiting.READ_AGAIN: "See the repair",
    Waiting.NO_PERMIT: "See the round",
    Waiting.REVIEW: "Review",
    Waiting.QUESTION: "Answer",
    Waiting.CARRIED_OVER: "See the equipment",
    Waiting.SIGN_OFF: "See what came back",
}


def desk_title(desk: Desk) -> str:
    """The news of the Desk in one sentence."""
    if not desk.items:
        return "Nothing waits for you."
    untold = len(desk.of(Waiting.TELL))
    rest = len(desk.items) - untold + desk.more
    if not untold:
        verb = "waits" if rest == 1 else "wait"
        return f"{sentence_case(counted(rest, 'thing'))} {verb} for a decision."
    told = "point at Act now has" if untold == 1 else "points at Act now have"
    more = f" {sentence_case(number_word(rest))} more {'waits' if rest == 1 else 'wait'}." if rest else ""
    return f"{sentence_case(number_word(untold))} {told} nobody on record as told.{more}"


def address(item: DeskItem) -> str:
    """Where a decision on this item is made."""
    if item.held_id is not None:
        return f"/held/{item.held_id}"
    if item.finding_id is not None:
        return f"/findings/{item.finding_id}"
    if item.round_id is not None and item.waiting is Waiting.SIGN_OFF:
        return f"/rounds/{item.round_id}/reception"
    if item.round_id is not None and item.waiting is Waiting.QUESTION:
        return f"/rounds/{item.round_id}/questions"
    if item.round_id is not None and item.waiting is Waiting.DOUBLE:
        return f"/rounds/{item.round_id}/return/doubles"
    if item.round_id is not None:
        return f"/rounds/{item.round_id}"
    if item.equipment_id is not None:
        return f"/equipment/{item.equipment_id}"
    return f"/findings/new?point={item.point_id}"


@router.get("/desk")
def desk(request: Request, around: Around, actor: SignedIn) -> HTMLResponse:
    now = around.now()
    seen = see_desk(around.store, actor, now=now)
    groups = [
        (waiting, [(item, address(item), STEP[waiting]) for item in seen.of(waiting)])
        for waiting in dict.fromkeys(item.waiting for item in seen.items)
    ]
    return render(
        request, "desk/desk.html", place="desk", title=desk_title(seen), groups=groups, more=seen.more
    )  # fmt: skip
