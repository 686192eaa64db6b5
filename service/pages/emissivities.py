"""The emissivity table under Set-up: numbers with their range and sources, and how to find the rest."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from service.pages import emissivity_words as words
from service.pages.asking import SignedInForOthers
from service.pages.templating import render
from service.physics.emissivity import SCOPE
from service.usecases.register.emissivities import list_surfaces

router = APIRouter(prefix="/set-up")


@router.get("/emissivities")
def show_emissivities(request: Request, actor: SignedInForOthers) -> Response:
    rows = list_surfaces(actor)
    return render(
        request,
        "set_up/emissivities.html",
        place="setup",
        title=words.table_title(rows),
        parts=words.surface_parts(rows),
        sources=words.sources_used(rows),
        scope=SCOPE,
    )
