"""Common loads that the visits speak for; taking one is a re-evaluation of the point."""

from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import BaseModel, Field

from service.api.asking import After, Around, Asker, Limit
from service.api.problems import PROBLEMS
from service.domain.loads_seen import LoadSuggestion
from service.usecases.register.learn_load import list_load_suggestions, see_load_suggestion

router = APIRouter(tags=["register"], responses=PROBLEMS)
Id = Annotated[int, Path(ge=1, le=2**53)]


class LoadSuggestionOut(BaseModel):
    """Currents in A. ``suggested_a`` is null with too few visits; ``offered`` where it is worth taking."""

    point_id: int
    tag: str
    common_load_a: float | None
    common_load_source: str
    rated_current_a: float | None
    suggested_a: float | None = Field(description="90th percentile of the amps measured in service")
    visits: int
    highest_a: float | None
    offered: bool
    how: str

    @classmethod
    def of(cls, one: LoadSuggestion) -> "LoadSuggestionOut":
        return cls(
            point_id=one.place.point_id,
            tag=one.place.tag,
            common_load_a=one.place.amps,
            common_load_source=one.place.source,
            rated_current_a=one.place.rated_current_a,
            suggested_a=one.amps,
            visits=one.visits,
            highest_a=one.highest_a,
            offered=one.offered,
            how=one.how if one.offered else "",
        )


class LoadSuggestionPage(BaseModel):
    items: list[LoadSuggestionOut]
    next_after: int | None


@router.get("/points/{point_id}/load-suggestion")
def read_load_suggestion(around: Around, asker: Asker, point_id: Id) -> LoadSuggestionOut:
    """What the visits of a point say of its common load. Take it by a re-evaluation of the point."""
    return LoadSuggestionOut.of(see_load_suggestion(around.store, asker, point_id))


@router.get("/sites/{site_id}/load-suggestions")
def read_load_suggestions(
    around: Around, asker: Asker, site_id: Id, after: After = 0, limit: Limit = 100
) -> LoadSuggestionPage:
    """Points of a site whose common load is only the rating, each with what its visits say."""
    page = list_load_suggestions(around.store, asker, site_id, after=after, limit=limit)
    return LoadSuggestionPage(
        items=[LoadSuggestionOut.of(one) for one in page.items], next_after=page.next_after
    )
