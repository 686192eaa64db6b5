"""Equipment: the register as a tree of marks, the search by tag, and the page of one equipment."""

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from starlette.responses import Response

from service.domain.cautions import approach
from service.domain.permissions import Verb, may
from service.domain.register_tree import ClientLine
from service.pages import register_view as words
from service.pages.asking import Around, SignedIn
from service.pages.hours_seen import visited_words
from service.pages.templating import render
from service.usecases.plans.carried_equipment import see_carried
from service.usecases.register import browse
from service.usecases.register.learn_hours import see_as_visited

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
    tree = None if chosen is None or q.strip() else browse.see_site_tree(around.store, actor, chosen)
    found = browse.find_tags(around.store, actor, q)
    return render(
        request,
        "equipment/tree.html",
        place="equipment",
        title=_title(q.strip(), len(found), clients, tree),
        clients=clients,
        tree=tree,
        to_points=tree is not None and tree.mark.points <= words.MOST_IN_TREE,
        q=q.strip(),
        found=found,
        may_keep=may(actor, Verb.KEEP_REGISTER),
    )


def _title(text: str, count: int, clients: Sequence[ClientLine], tree: browse.SiteTree | None) -> str:
    if text:
        return words.found_title(text[: browse.MOST_SEARCHED], count, browse.MOST_HITS)
    return words.register_title(clients) if tree is None else words.mark_title(tree.site.name, tree.mark)


@router.get("/{equipment_id}")
def show_equipment(request: Request, around: Around, actor: SignedIn, equipment_id: Id) -> Response:
    page = browse.see_equipment(around.store, actor, equipment_id)
    kinds = {seen.point.kind.value for of_view in page.views for seen in of_view.points}
    visited = None
    if may(actor, Verb.KEEP_REGISTER) and page.equipment.retired_at is None:
        visited = visited_words(see_as_visited(around.store, actor, equipment_id, now=around.now()))
    return render(
        request,
        "equipment/equipment.html",
        place="equipment",
        title=words.mark_title(page.equipment.name, page.mark),
        page=page,
        equipment=page.equipment,
        zone=page.site.time_zone,
        access=words.access_facts(page.equipment, kinds),
        planning=words.planning_facts(page.equipment),
        approach=approach(page.equipment.access, kinds),
        behind_cover=page.equipment.access.behind_cover,
        visited=visited,
        carried=see_carried(around.store, actor, equipment_id, now=around.now()),
        may_keep=may(actor, Verb.KEEP_REGISTER),
        may_open=may(actor, Verb.OPEN_FINDING),
    )
