"""Permits of a round: ask, type what the paper says, grant, close."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from service.domain.people import Actor
from service.domain.rounds import Permit
from service.errors import Invalid, NotFound
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.rounds import Id, Lists, ids_of
from service.pages.templating import redirect, render
from service.pages.view import local
from service.usecases.rounds import permits
from service.usecases.rounds.browse import RoundPage, read_round
from service.usecases.rounds.permits import PermitFields
from service.usecases.rounds.read_permit import read_permit
from service.usecases.surroundings import Surroundings

router = APIRouter()
NAMES = ("number", "issuer", "covers", "escort", "stand_off")


def _fields(form: Form, zone: str) -> PermitFields:
    return PermitFields(
        **{name: form.text(name) for name in NAMES},
        valid_from=form.moment("valid_from", zone),
        valid_to=form.moment("valid_to", zone),
    )


def _zone(page: RoundPage, site_id: int) -> str:
    zones = {stop.facts.site_id: stop.facts.time_zone for stop in page.day.stops}
    return zones.get(site_id, "UTC")


@router.get("/rounds/{round_id}/permits/new")
def new(request: Request, around: Around, actor: SignedIn, round_id: Id) -> HTMLResponse:
    page = read_round(around.store, actor, round_id, now=around.now())
    shut = {stop.stop.id for stop in page.day.stops if stop.closed and stop.permit is None}
    return _new_page(request, page, typed={}, ticked=shut, problems=())


def _new_page(
    request: Request, page: RoundPage, *, typed: dict[str, str], ticked: Any, problems: Any
) -> HTMLResponse:
    return render(
        request,
        "rounds/permit_new.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        round=page.round,
        typed=typed,
        ticked=ticked,
        problems=problems,
    )


@router.post("/rounds/{round_id}/permits/new")
def ask(
    request: Request, around: Around, actor: SignedIn, form: Posted, lists: Lists, round_id: Id
) -> Response:
    page = read_round(around.store, actor, round_id, now=around.now())
    ticked = ids_of(lists, "stop")
    sites = {stop.facts.site_id for stop in page.day.stops if stop.stop.id in ticked}
    try:
        fields = _fields(form, _zone(page, min(sites, default=0)))
        form.done()
        permits.ask_permit(
            around.store,
            actor,
            round_id,
            site_id=min(sites, default=min(page.sites, default=0)),
            stop_ids=ticked,
            fields=fields,
            now=around.now(),
        )
    except Invalid as error:
        return _new_page(request, page, typed=form.typed, ticked=ticked, problems=error.problems)
    told = " ".join(("Noted as asked for. Type number, from and to when they come.", *form.chosen))
    return redirect(f"/rounds/{round_id}", say=told)


@router.get("/permits/{permit_id}")
def see(request: Request, around: Around, actor: SignedIn, permit_id: Id) -> HTMLResponse:
    return _permit_page(request, around, actor, permit_id, typed={}, problems=())


def _permit_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    permit_id: int,
    *,
    typed: dict[str, str],
    problems: Any,
    ticked: tuple[int, ...] | None = None,
) -> HTMLResponse:
    permit, on_walk = read_permit(around.store, actor, permit_id)
    page = read_round(around.store, actor, permit.round_id, now=around.now())
    under = {stop.stop.id for stop in page.day.stops if stop.stop.permit_id == permit_id}
    return render(
        request,
        "rounds/permit.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        round=page.round,
        permit=permit,
        on_walk=on_walk,
        site=page.sites.get(permit.site_id, ""),
        zone=_zone(page, permit.site_id),
        stops=[stop for stop in page.day.stops if stop.facts.site_id == permit.site_id],
        ticked=under if ticked is None else ticked,
        typed=typed or _typed(permit, _zone(page, permit.site_id)),
        problems=problems,
    )


def _typed(permit: Permit, zone: str) -> dict[str, str]:
    """The permit as its boxes show it."""
    typed = {name: str(getattr(permit, name)) for name in NAMES}
    for name in ("valid_from", "valid_to"):
        moment = getattr(permit, name)
        typed[name] = "" if moment is None else local(moment, zone).strftime("%Y-%m-%dT%H:%M")
    return typed


@router.post("/permits/{permit_id}/{move}")
def move(
    request: Request,
    around: Around,
    actor: SignedIn,
    form: Posted,
    lists: Lists,
    permit_id: Id,
    move: str,
) -> Response:
    if move not in SAID:
        raise NotFound()
    permit, _on_walk = read_permit(around.store, actor, permit_id)
    page = read_round(around.store, actor, permit.round_id, now=around.now())
    ticked = ids_of(lists, "stop")
    at: dict[str, Any] = {"version": form.version(), "now": around.now()}
    try:
        if move == "close":
            permits.close_permit(around.store, actor, permit_id, **at)
            return redirect(f"/rounds/{permit.round_id}", say=SAID[move])
        fields = _fields(form, _zone(page, permit.site_id))
        form.done()
        if move == "grant":
            permits.grant_permit(around.store, actor, permit_id, fields=fields, stop_ids=ticked, **at)
        else:
            permits.edit_permit(around.store, actor, permit_id, fields, stop_ids=ticked, **at)
    except Invalid as error:
        return _permit_page(
            request, around, actor, permit_id, typed=form.typed, problems=error.problems, ticked=ticked
        )
    return redirect(f"/rounds/{permit.round_id}", say=" ".join((SAID[move], *form.chosen)))


SAID = {"edit": "Kept.", "grant": "Noted as granted.", "close": "Noted as closed and handed back."}
