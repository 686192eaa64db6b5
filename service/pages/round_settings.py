"""What holds for a whole round: the form on its page."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from service.domain.round_settings import ROUND_QUANTITIES
from service.errors import Invalid
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.rounds import Id, round_page
from service.pages.templating import redirect
from service.usecases.rounds.hold import set_round_settings

router = APIRouter()


def typed_settings(form: Form) -> dict[str, dict[str, object]]:
    """The boxes of every quantity; an empty one takes it back."""
    return {
        name: {
            "value": view.unboxed(form.text(name), quantity.unit),
            "half_width": view.unboxed(form.text(f"{name}_half_width"), quantity.half_width_unit),
            "standing": form.text(f"{name}_standing"),
            "how": form.text(f"{name}_how"),
        }
        for name, quantity in ROUND_QUANTITIES.items()
    }


@router.post("/rounds/{round_id}/settings")
def take_settings(request: Request, around: Around, actor: SignedIn, form: Posted, round_id: Id) -> Response:
    try:
        held = set_round_settings(
            around.store, actor, round_id, typed_settings(form), version=form.version(), now=around.now()
        )
    except Invalid as error:
        return round_page(request, around, actor, round_id, typed=form.typed, problems=error.problems)
    told = "Kept: it holds for readings of this round that say nothing themselves."
    if held.readings:
        count = view.counted(held.readings, "reading")
        told += f" {view.sentence_case(count)} already in: kept with what they were judged by."
    return redirect(f"/rounds/{round_id}#holds", say=told)
