"""Routes: the lasting lists of stops, made from a site's equipment in walking order."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.errors import Invalid, NotFound
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.rounds import Id, Lists, SiteQuery, ids_of
from service.pages.templating import redirect, render
from service.usecases.rounds import routes
from service.usecases.rounds.choices import read_choices
from service.usecases.surroundings import Surroundings

router = APIRouter()


@router.get("/routes")
def list_routes(request: Request, around: Around, actor: SignedIn) -> HTMLResponse:
    found = routes.list_routes(around.store, actor)
    return render(
        request, "routes/list.html", place="rounds", routes=found, may_plan=may(actor, Verb.KEEP_REGISTER)
    )


@router.get("/routes/new")
def new(request: Request, around: Around, actor: SignedIn, site: SiteQuery = None) -> HTMLResponse:
    return _new_page(request, around, actor, site=site, typed={}, picked=(), problems=())


def _new_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    *,
    site: int | None,
    typed: dict[str, str],
    picked: tuple[int, ...],
    problems: Any,
) -> HTMLResponse:
    choices = read_choices(around.store, actor, site_id=site, now=around.now())
    return render(
        request,
        "routes/new.html",
        status_code=422 if problems else 200,
        place="rounds",
        choices=choices,
        typed=typed,
        picked=picked,
        problems=problems,
    )


@router.post("/routes/new")
def create(request: Request, around: Around, actor: SignedIn, form: Posted, lists: Lists) -> Response:
    picked = ids_of(lists, "equipment")
    site_id = form.whole("site")
    choices = read_choices(around.store, actor, site_id=site_id, now=around.now())
    if choices.site is None:
        raise NotFound("Choose a site first")
    try:
        route = routes.create_route(
            around.store,
            actor,
            client_id=choices.site.client_id,
            name=form.text("name"),
            equipment_ids=picked,
            now=around.now(),
        )
    except Invalid as error:
        return _new_page(
            request, around, actor, site=site_id, typed=form.typed, picked=picked, problems=error.problems
        )
    return redirect(f"/routes/{route.id}", say="The route is kept. Put its stops in order.")


@router.get("/routes/{route_id}")
def see(request: Request, around: Around, actor: SignedIn, route_id: Id) -> HTMLResponse:
    return _page(request, around, actor, route_id, typed={}, problems=())


def _page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    route_id: int,
    *,
    typed: dict[str, str],
    problems: Any,
) -> HTMLResponse:
    page = routes.read_route(around.store, actor, route_id)
    return render(
        request,
        "routes/route.html",
        status_code=422 if problems else 200,
        place="rounds",
        page=page,
        route=page.route,
        may_plan=may(actor, Verb.KEEP_REGISTER),
        typed=typed,
        problems=problems,
    )


@router.post("/routes/{route_id}/edit")
def change(
    request: Request, around: Around, actor: SignedIn, form: Posted, lists: Lists, route_id: Id
) -> Response:
    order = list(ids_of(lists, "stop"))
    step = form.text("step")
    try:
        routes.edit_route(
            around.store,
            actor,
            route_id,
            name=form.text("name"),
            equipment_ids=_stepped(order, step),
            version=form.version(),
            now=around.now(),
        )
    except Invalid as error:
        return _page(request, around, actor, route_id, typed=form.typed, problems=error.problems)
    return redirect(f"/routes/{route_id}", say="Kept.")


def _stepped(order: list[int], step: str) -> list[int]:
    """The order as sent, with the one step of a plain button: ``12:up``, ``12:down``, ``12:remove``."""
    raw, _, way = step.partition(":")
    if not raw.isdigit() or int(raw) not in order:
        return order
    place = order.index(int(raw))
    item = order.pop(place)
    if way == "remove":
        return order
    order.insert(max(0, place - 1 if way == "up" else place + 1), item)
    return order


@router.post("/routes/{route_id}/retire")
def retire(around: Around, actor: SignedIn, form: Posted, route_id: Id) -> Response:
    routes.retire_route(around.store, actor, route_id, version=form.version(), now=around.now())
    return redirect("/routes", say="Retired. Rounds built from it stay.")
