"""Criteria over JSON: sets with their sources, kept, compared, and chosen for sites and classes."""

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker, EditedVersion, tag
from service.api.problems import PROBLEMS
from service.domain.bands import BandRule, Limit, Template
from service.domain.criteria_differences import Differing
from service.domain.criteria_kept import KeptCriteria, SiteCriteria
from service.domain.criteria_reading import limit_to_dict, rule_to_dict, template_to_dict
from service.usecases.condition.criteria_sets import (
    choose_class_criteria,
    choose_site_criteria,
    compare_sets,
    see_criteria,
    see_set,
)
from service.usecases.condition.edit_criteria import copy_set, discard_set, edit_set, offer_set, take_in_set

router = APIRouter(prefix="/criteria", tags=["criteria"], responses=PROBLEMS)
Id = Annotated[int, Field(ge=1, le=2**53)]
Title = Annotated[str, Field(min_length=1, max_length=200)]


class CriteriaOut(BaseModel):
    """A versioned set; ``body`` holds its rules, numbers and limits, each with its source.

    ``client_id`` is null for presets. ``locked``: an edit makes the next version. ``edits`` is what
    If-Match names.
    """

    id: int
    name: str
    title: str
    version: int
    edits: int
    citation: str
    confidence: str
    client_id: int | None
    shipped: bool
    newest: bool
    locked: bool
    valid_from: date
    body: dict[str, Any]


class ClassCriteriaOut(BaseModel):
    equipment_class: str
    criteria_id: int


class SiteCriteriaOut(BaseModel):
    site_id: int
    version: int
    chosen_id: int | None
    in_force_id: int
    classes: list[ClassCriteriaOut]


class CriteriaList(BaseModel):
    sets: list[CriteriaOut]
    sites: list[SiteCriteriaOut]


class DifferenceOut(BaseModel):
    """One field that differs; null on the side that has no such thing."""

    where: str
    what: str
    before: Any
    after: Any


class ChoiceIn(BaseModel):
    model_config = ConfigDict(extra="forbid")
    criteria_id: Id | None


class ClassChoiceIn(ChoiceIn):
    equipment_class: Annotated[str, Field(min_length=1, max_length=80)]


class CopyIn(BaseModel):
    """A copy for a client; without one, by an administrator, for everybody."""

    model_config = ConfigDict(extra="forbid")
    title: Title
    client_id: Id | None = None


class SetIn(BaseModel):
    """A set as another service gave it out; id and version in its body are not taken over."""

    model_config = ConfigDict(extra="forbid")
    client_id: Id | None = None
    body: dict[str, Any]


class EditIn(BaseModel):
    model_config = ConfigDict(extra="forbid")
    body: dict[str, Any]
    valid_from: date | None = None


class OfferIn(BaseModel):
    model_config = ConfigDict(extra="forbid")
    offered: bool


@router.get("")
def read_criteria(around: Around, actor: Asker) -> CriteriaList:
    """Every set in sight, and what each site in sight is judged by."""
    page = see_criteria(around.store, actor, now=around.now())
    return CriteriaList(sets=[_out(kept) for kept in page.sets], sites=[_site(site) for site in page.sites])


@router.post("", status_code=201)
def take_in(around: Around, actor: Asker, body: SetIn, response: Response) -> CriteriaOut:
    """A new set from the body of another; every problem of it is told at once."""
    kept = take_in_set(around.store, actor, body=body.body, client_id=body.client_id, now=around.now())
    return _tagged(response, kept)


@router.get("/{criteria_id}")
def read_one(around: Around, actor: Asker, criteria_id: Id, response: Response) -> CriteriaOut:
    """One set, whole: its body can be taken in elsewhere."""
    return _tagged(response, see_set(around.store, actor, criteria_id, now=around.now()).kept)


@router.post("/{criteria_id}/copies", status_code=201)
def copy(around: Around, actor: Asker, criteria_id: Id, body: CopyIn, response: Response) -> CriteriaOut:
    """A new set with the fields of this one."""
    kept = copy_set(
        around.store, actor, criteria_id, title=body.title, client_id=body.client_id, now=around.now()
    )
    return _tagged(response, kept)


@router.put("/{criteria_id}")
def edit(
    around: Around, actor: Asker, criteria_id: Id, version: EditedVersion, body: EditIn, response: Response
) -> CriteriaOut:
    """Keep a set as edited. One that was chosen before stays: the answer is its next version."""
    kept = edit_set(
        around.store, actor, criteria_id, edits=version, body=body.body, valid_from=body.valid_from,
        now=around.now(),
    )  # fmt: skip
    return _tagged(response, kept)


@router.delete("/{criteria_id}", status_code=204)
def discard(around: Around, actor: Asker, criteria_id: Id, version: EditedVersion) -> None:
    """Throw away a version that was never chosen."""
    discard_set(around.store, actor, criteria_id, edits=version, now=around.now())


@router.put("/{criteria_id}/offer")
def offer(
    around: Around, actor: Asker, criteria_id: Id, version: EditedVersion, body: OfferIn, response: Response
) -> CriteriaOut:
    """Switch a preset on or off: whether sites may choose it from now on."""
    kept = offer_set(around.store, actor, criteria_id, edits=version, offered=body.offered, now=around.now())
    return _tagged(response, kept)


@router.get("/{criteria_id}/differences/{other_id}")
def read_differences(around: Around, actor: Asker, criteria_id: Id, other_id: Id) -> list[DifferenceOut]:
    """Every field in which another set differs from this one."""
    found = compare_sets(around.store, actor, criteria_id, other_id).differences
    return [
        DifferenceOut(where=one.where, what=one.what, before=_plain(one.before), after=_plain(one.after))
        for one in found
    ]


@router.put("/sites/{site_id}")
def choose_criteria(
    around: Around, actor: Asker, site_id: Id, version: EditedVersion, body: ChoiceIn, response: Response
) -> SiteCriteriaOut:
    """From now on readings of this site are judged by that set; If-Match names the site's version."""
    page = choose_site_criteria(
        around.store, actor, site_id=site_id, criteria_id=body.criteria_id, version=version, now=around.now()
    )
    return _chosen(response, page.sites, site_id)


@router.put("/sites/{site_id}/classes")
def choose_for_class(
    around: Around, actor: Asker, site_id: Id, version: EditedVersion, body: ClassChoiceIn, response: Response
) -> SiteCriteriaOut:
    """The same for one class of equipment of the site; null takes its choice back."""
    page = choose_class_criteria(
        around.store, actor, site_id=site_id, equipment_class=body.equipment_class,
        criteria_id=body.criteria_id, version=version, now=around.now(),
    )  # fmt: skip
    return _chosen(response, page.sites, site_id)


def _chosen(response: Response, sites: tuple[SiteCriteria, ...], site_id: int) -> SiteCriteriaOut:
    (site,) = (site for site in sites if site.site_id == site_id)
    tag(response, site.version)
    return _site(site)


def _tagged(response: Response, kept: KeptCriteria) -> CriteriaOut:
    tag(response, kept.edits)
    return _out(kept)


def _out(kept: KeptCriteria) -> CriteriaOut:
    return CriteriaOut(
        id=kept.id,
        name=kept.name,
        title=kept.criteria.title,
        version=kept.criteria.version,
        edits=kept.edits,
        citation=kept.criteria.citation,
        confidence=kept.criteria.confidence.value,
        client_id=kept.client_id,
        shipped=kept.shipped,
        newest=kept.newest,
        locked=kept.locked,
        valid_from=kept.valid_from,
        body=kept.criteria.to_dict(),
    )


def _site(site: SiteCriteria) -> SiteCriteriaOut:
    return SiteCriteriaOut(
        site_id=site.site_id,
        version=site.version,
        chosen_id=site.chosen_id,
        in_force_id=site.in_force_id,
        classes=[
            ClassCriteriaOut(equipment_class=one.equipment_class, criteria_id=one.criteria_id)
            for one in site.chosen
        ],
    )


def _plain(value: Differing) -> Any:
    if isinstance(value, BandRule):
        return rule_to_dict(value)
    if isinstance(value, Limit):
        return limit_to_dict(value)
    return template_to_dict(value) if isinstance(value, Template) else value
