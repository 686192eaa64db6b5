"""Common loads learned from visits: one point with what would follow, and a site's points on a rating."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from service.domain.loads_seen import LoadSuggestion
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.reevaluation import Reevaluated
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.rounds import Id
from service.pages.templating import redirect, render
from service.usecases.register.browse import list_clients
from service.usecases.register.learn_load import (
    LoadsPage,
    list_load_suggestions,
    preview_load,
    see_load_suggestion,
    take_load,
)
from service.usecases.surroundings import Surroundings

router = APIRouter()
SiteId = Annotated[int | None, Query(ge=1, le=2**53, alias="site")]
After = Annotated[int, Query(ge=0, le=2**53)]


@router.get("/points/{point_id}/common-load")
def show_suggestion(request: Request, around: Around, actor: SignedIn, point_id: Id) -> Response:
    suggestion = see_load_suggestion(around.store, actor, point_id)
    change = preview_load(around.store, actor, point_id, now=around.now())
    return render(
        request,
        "register/load_seen.html",
        place="equipment",
        title=suggestion_title(suggestion),
        one=suggestion,
        said=register_words(suggestion),
        change=change,
        change_words="" if change is None else change_words(change),
    )


@router.post("/points/{point_id}/common-load")
def take_suggestion(around: Around, actor: SignedIn, form: Posted, point_id: Id) -> Response:
    amps = form.number("amps")
    form.done()
    done = take_load(
        around.store, actor, point_id, amps=amps or 0.0, version=form.version(), now=around.now()
    )
    said = f"The common load is {view.amps(amps)}. {change_words(done)}"
    return redirect(f"/points/{point_id}", say=said)


@router.get("/common-loads")
def show_site(
    request: Request, around: Around, actor: SignedIn, site_id: SiteId = None, after: After = 0
) -> Response:
    if site_id is None:
        return _choose_site(request, around, actor)
    page = list_load_suggestions(around.store, actor, site_id, after=after)
    return render(
        request,
        "register/loads_seen.html",
        place="equipment",
        title=site_title(page),
        page=page,
        lines=[(one, register_words(one)) for one in page.items],
    )


def _choose_site(request: Request, around: Surroundings, actor: Actor) -> Response:
    require(actor, Verb.KEEP_REGISTER)
    sites = [site for client in list_clients(around.store, actor) for site in client.sites]
    if len(sites) == 1:
        return redirect(f"/common-loads?site={sites[0].id}")
    return render(request, "register/loads_of_sites.html", place="setup", sites=sites)


def suggestion_title(one: LoadSuggestion) -> str:
    """The news: what the visits say beside what is registered."""
    if one.amps is None:
        return (
            f"{view.sentence_case(view.counted(one.visits, 'visit'))} with amps: too few to learn a load from"
        )
    if not one.offered:
        return f"The visits say {view.amps(one.amps)}; the common load stays as it is"
    return f"The visits say {view.amps(one.amps)}; {register_words(one)}"


def register_words(one: LoadSuggestion) -> str:
    """The register says 200 A (rating)."""
    place = one.place
    if place.amps is not None:
        return f"the register says {view.amps(place.amps)} ({place.source or 'no source'})"
    if place.rated_current_a is not None:
        return f"the register says nothing, so {view.amps(place.rated_current_a)} is taken (rated current)"
    return "the register says nothing"


def change_words(change: Reevaluated) -> str:
    """What becomes of the readings, in one sentence."""
    levels, moved = change.levels_changed, len(change.moved)
    told = f"{view.sentence_case(view.counted(change.readings, 'reading'))} evaluated again: "
    told += f"{view.counted(moved, 'figure')} at common load {'is' if moved == 1 else 'are'} another"
    told += f", {view.counted(levels, 'level')} changed" if levels else ", no level changed"
    if change.trends_changed is None:
        return f"{told}. The trend follows."
    trends = change.trends_changed
    return f"{told}, {'no trend' if not trends else view.counted(trends, 'trend')} changed."


def site_title(page: LoadsPage) -> str:
    """How many points stand on a rating, and for how many the visits say more."""
    more = "more than " if page.next_after is not None else ""
    count, offered = len(page.items), sum(one.offered for one in page.items)
    if not count:
        return f"No point at {page.site_name} stands on its rating only"
    verb = "stands" if count == 1 and not more else "stand"
    told = f"{more}{view.counted(count, 'point')} at {page.site_name} {verb} on the rating only"
    return view.sentence_case(
        f"{told}; the visits say a load for {view.number_word(offered) if offered else 'none'}"
    )
