"""Equipment over JSON, and the search by tag over equipment, views and points."""

from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel

from service.api.asking import Around, Asker
from service.api.problems import PROBLEMS
from service.api.register_router import register_router
from service.domain.register import Noun
from service.domain.words import Level
from service.usecases.register.browse import find_tags

router = register_router(Noun.EQUIPMENT)
search_router = APIRouter(tags=["register"], responses=PROBLEMS)


class FoundTagOut(BaseModel):
    noun: Noun
    id: int
    tag: str
    name: str
    site_id: int
    site_name: str
    equipment_id: int
    equipment_name: str
    level: Level | None
    retired: bool


@search_router.get("/tags", operation_id="find_tags")
def search_tags(
    around: Around, actor: Asker, text: Annotated[str, Query(min_length=1, max_length=80)]
) -> list[FoundTagOut]:
    """Equipment, views and points whose tag or name holds the text; tags before names, 60 at most."""
    return [
        FoundTagOut(
            level=None if found.mark.level is None else Level(found.mark.level),
            **{n: getattr(found, n) for n in FoundTagOut.model_fields if n != "level"},
        )
        for found in find_tags(around.store, actor, text)
    ]
