"""Equipment: the register as a tree of marks, the search by tag, and the page of one equipment."""

from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from starlette.responses import Response

from service.domain.permissions import Verb, may
from service.pages import register_view as words
from service.pages.asking import Around, SignedIn
from service.pages.templating import render
from service.usecases.register import browse

router = APIRouter(prefix="/equipment")
Id = Annotated[int, Path(ge=1, le=2**53)]


@router.get("")
def show_tree(
    request: Request,
    around: Around,
    actor: SignedIn,
    site: Annotated[int | None, Query(ge=1, le=2**53)] = None,
    q: Annotated[str, Query(max_length=200)] = "",
) -> Response:
    """The tree; with ``q`` what was found, with ``site`` that site opened down to its points."""
    clients = browse.list_clients(around.store, actor)
    sites = [line for client in clients for line in client.sites]
    chosen = site if site is not None else (sites[0].id if len(sites) == 1 and not q else None)
    tree = None if chosen is None else browse.see_site_tree(around.store, actor, chosen)
    return render(
        request,
        "equipment/tree.html",
        place="equipment",
        title=words.register_title(clients) if tree is None else words.mark_title(tree.site.name, tree.mark),
        clients=clients,
        tree=tree,
        to_points=tree is not None and tree.mark.points <= words.MOST_IN_TREE,
        q=q.strip(),
        found=browse.find_tags(around.store, actor, q),
        may_keep=may(actor, Verb.KEEP_REGISTER),
    )


@router.get("/{equipment_id}")
def show_equipment(request: Request, around: Around, actor: SignedIn, equipment_id: Id) -> Response:
    page = browse.see_equipment(around.store, actor, equipment_id)
    return render(
        request,
        "equipment/equipment.html",
        place="equipment",
        title=words.mark_title(page.equipment.name, page.mark),
        page=page,
        equipment=page.equipment,
        zone=page.site.time_zone,
        access=words.access_facts(page.equipment),
        planning=words.planning_facts(page.equipment),
        behind_cover=page.equipment.access.behind_cover,
        may_keep=may(actor, Verb.KEEP_REGISTER),
        may_open=may(actor, Verb.OPEN_FINDING),
    )
