"""Instruments under Set-up: which there are, and whose calibration is due."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from service.domain.permissions import Verb, require
from service.domain.register import Instrument, Noun
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.templating import render
from service.usecases.register import browse

router = APIRouter(prefix="/set-up")


@router.get("/instruments")
def show_instruments(request: Request, around: Around, actor: SignedIn) -> Response:
    require(actor, Verb.KEEP_REGISTER)
    page = browse.list_things(around.store, actor, Noun.INSTRUMENT, limit=500)
    instruments = [thing for thing in page.items if isinstance(thing, Instrument)]
    today = around.now().date()
    late = {i.id for i in instruments if i.calibration_due is not None and i.calibration_due < today}
    undated = sum(1 for i in instruments if i.calibration_due is None)
    clients = browse.list_clients(around.store, actor)
    return render(
        request,
        "register/instruments.html",
        place="setup",
        title=instruments_title(len(instruments), len(late), undated=undated),
        instruments=instruments,
        late=late,
        clients=clients,
        client_names={client.id: client.name for client in clients},
    )


def instruments_title(count: int, late: int, *, undated: int) -> str:
    """How many there are, how many are past their calibration, and of how many that is not known."""
    if not count:
        return "No instruments yet"
    words = view.sentence_case(f"{view.number_word(count)} instrument{'' if count == 1 else 's'}")
    told = []
    if late:
        told.append(f"{view.number_word(late)} past {'its' if late == 1 else 'their'} calibration")
    if undated:
        told.append(f"{view.number_word(undated)} with no calibration date")
    return f"{words}: {view.listed(told) if told else 'every calibration is in date'}"
