"""Criteria over JSON: the sets with their sources, and which one a site is judged by."""

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker, EditedVersion, tag
from service.api.problems import PROBLEMS
from service.usecases.condition.criteria_sets import choose_site_criteria, see_criteria

router = APIRouter(prefix="/criteria", tags=["criteria"], responses=PROBLEMS)
Id = Annotated[int, Field(ge=1, le=2**53)]


class CriteriaOut(BaseModel):
    """A versioned set; ``body`` holds its rules, numbers and limits, each with its source."""

    id: int
    title: str
    version: int
    citation: str
    confidence: str
    valid_from: date
    locked: bool
    body: dict[str, Any]


class SiteCriteriaOut(BaseModel):
    site_id: int
    version: int
    chosen_id: int | None
    in_force_id: int


class CriteriaList(BaseModel):
    sets: list[CriteriaOut]
    sites: list[SiteCriteriaOut]


class ChoiceIn(BaseModel):
    model_config = ConfigDict(extra="forbid")
    criteria_id: Id | None


@router.get("")
def read_criteria(around: Around, actor: Asker) -> CriteriaList:
    """Every set, and what each site in sight is judged by."""
    page = see_criteria(around.store, actor, now=around.now())
    return CriteriaList(
        sets=[
            CriteriaOut(
                id=kept.id, title=kept.criteria.title, version=kept.criteria.version, citation=kept.criteria.citation,
                confidence=kept.criteria.confidence.value, valid_from=kept.valid_from, locked=kept.locked,
                body=kept.criteria.to_dict(),
            )
            for kept in page.sets
        ],
        sites=[
            SiteCriteriaOut(
                site_id=site.site_id, version=site.version, chosen_id=site.chosen_id, in_force_id=site.in_force_id
            )
            for site in page.sites
        ],
    )  # fmt: skip


@router.put("/sites/{site_id}")
def choose_criteria(
    around: Around, actor: Asker, site_id: Id, version: EditedVersion, body: ChoiceIn, response: Response
) -> SiteCriteriaOut:
    """From now on readings of this site are judged by that set; If-Match names the site's version."""
    page = choose_site_criteria(
        around.store, actor, site_id=site_id, criteria_id=body.criteria_id, version=version, now=around.now()
    )
    (site,) = (site for site in page.sites if site.site_id == site_id)
    tag(response, site.version)
    return SiteCriteriaOut(
        site_id=site.site_id, version=site.version, chosen_id=site.chosen_id, in_force_id=site.in_force_id
    )
