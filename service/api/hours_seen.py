"""Load hours and minutes that past visits speak for; taking one is an edit of the equipment."""

from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import BaseModel, Field

from service.api.asking import After, Around, Asker, Limit
from service.api.problems import PROBLEMS
from service.usecases.register.learn_hours import AsVisited, list_as_visited, see_as_visited

router = APIRouter(tags=["register"], responses=PROBLEMS)
Id = Annotated[int, Path(ge=1, le=2**53)]


class AsVisitedOut(BaseModel):
    """Minutes on the clock of the site. A suggestion is null or empty where the visits cannot tell."""

    equipment_id: int
    tag: str
    version: int
    load_hours: str
    hours_suggested: str = Field(description="As the register takes it; empty where nothing is offered")
    hours_offered: bool
    hours_how: str
    visits: int = Field(description="Visits of the last three years with a load")
    days: int
    loaded: int = Field(description="Of them at 40 % of common load or more")
    minutes: int
    minutes_suggested: int | None
    minutes_offered: bool
    minutes_how: str
    walked_min: list[float] = Field(description="Minutes there on the last five walks, dressing included")

    @classmethod
    def of(cls, one: AsVisited) -> "AsVisitedOut":
        hours, minutes = one.hours, one.minutes
        return cls(
            equipment_id=one.place.equipment_id,
            tag=one.place.tag,
            version=one.place.version,
            load_hours=one.place.load_hours,
            hours_suggested=hours.text if hours.offered else "",
            hours_offered=hours.offered,
            hours_how=hours.how if hours.offered else "",
            visits=hours.visits,
            days=hours.days,
            loaded=hours.loaded,
            minutes=one.place.minutes,
            minutes_suggested=minutes.minutes,
            minutes_offered=minutes.offered,
            minutes_how=minutes.how if minutes.offered else "",
            walked_min=list(minutes.walked),
        )


class AsVisitedPage(BaseModel):
    items: list[AsVisitedOut]
    next_after: int | None


@router.get("/equipment/{equipment_id}/as-visited")
def read_as_visited(around: Around, asker: Asker, equipment_id: Id) -> AsVisitedOut:
    """What the visits of an equipment say of its load hours and minutes. Take it by an edit of the equipment."""
    return AsVisitedOut.of(see_as_visited(around.store, asker, equipment_id, now=around.now()))


@router.get("/sites/{site_id}/as-visited")
def read_site_as_visited(
    around: Around, asker: Asker, site_id: Id, after: After = 0, limit: Limit = 100
) -> AsVisitedPage:
    """Equipment of a site, each with what its visits say of its load hours and minutes."""
    page = list_as_visited(around.store, asker, site_id, now=around.now(), after=after, limit=limit)
    return AsVisitedPage(items=[AsVisitedOut.of(one) for one in page.items], next_after=page.next_after)
