"""Instruments under Set-up: which there are, whose calibration is due, and how they were checked."""

from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.register import Instrument, Noun
from service.errors import Invalid
from service.pages import check_words, view
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.templating import redirect, render
from service.usecases.register import browse
from service.usecases.rounds import instrument_checks as checks
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/set-up")
Id = Annotated[int, Path(ge=1, le=2**53)]


@router.get("/instruments")
def show_instruments(request: Request, around: Around, actor: SignedIn) -> Response:
    require(actor, Verb.KEEP_REGISTER)
    page = browse.list_things(around.store, actor, Noun.INSTRUMENT, limit=500)
    instruments = [thing for thing in page.items if isinstance(thing, Instrument)]
    today = around.now().date()
    late = {i.id for i in instruments if i.calibration_due is not None and i.calibration_due < today}
    undated = sum(1 for i in instruments if i.calibration_due is None)
    clients = browse.list_clients(around.store, actor)
    latest = checks.latest_checks(around.store, actor, [one.id for one in instruments])
    return render(
        request,
        "register/instruments.html",
        place="setup",
        title=instruments_title(
            len(instruments),
            len(late),
            undated=undated,
            failed=sum(check.failed for check in latest.values()),
        ),
        latest=latest,
        words=check_words,
        instruments=instruments,
        late=late,
        clients=clients,
        client_names={client.id: client.name for client in clients},
    )


@router.get("/instruments/{instrument_id}")
def show_instrument(request: Request, around: Around, actor: SignedIn, instrument_id: Id) -> Response:
    return _page(request, around, actor, instrument_id, typed={}, problems=())


def _page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    instrument_id: int,
    *,
    typed: dict[str, str],
    problems: Any,
) -> Response:
    page = checks.see_instrument(around.store, actor, instrument_id)
    require(actor, Verb.KEEP_REGISTER)
    return render(
        request,
        "register/instrument.html",
        status_code=422 if problems else 200,
        place="setup",
        page=page,
        instrument=page.instrument,
        facts=browse.see_thing(around.store, actor, Noun.INSTRUMENT, instrument_id).thing,
        today=around.now().date(),
        title=check_words.instrument_title(page.instrument, page.checks[0] if page.checks else None),
        words=check_words,
        occasions=check_words.OCCASIONS,
        typed=typed,
        problems=problems,
    )


@router.post("/instruments/{instrument_id}/checks")
def note_check(
    request: Request, around: Around, actor: SignedIn, form: Posted, instrument_id: Id
) -> Response:
    """A check that belongs to no round."""
    now = around.now()
    zone = checks.see_instrument(around.store, actor, instrument_id).time_zone
    require(actor, Verb.KEEP_REGISTER)
    try:
        fields = check_words.check_fields(form, zone, now)
        form.done()
        check = checks.check_instrument(around.store, actor, instrument_id, fields=fields, now=now)
    except Invalid as error:
        return _page(request, around, actor, instrument_id, typed=form.typed, problems=error.problems)
    return redirect(f"/set-up/instruments/{instrument_id}", say=check_words.said(check, form))


def instruments_title(count: int, late: int, *, undated: int, failed: int = 0) -> str:
    """How many there are, how many failed or are past their calibration, and of how many that is not known."""
    if not count:
        return "No instruments yet"
    words = view.sentence_case(f"{view.number_word(count)} instrument{'' if count == 1 else 's'}")
    told = []
    if failed:
        told.append(f"{view.number_word(failed)} outside {'its' if failed == 1 else 'their'} accuracy")
    if late:
        told.append(f"{view.number_word(late)} past {'its' if late == 1 else 'their'} calibration")
    if undated:
        told.append(f"{view.number_word(undated)} with no calibration date")
    return f"{words}: {view.listed(told) if told else 'every calibration is in date'}"
