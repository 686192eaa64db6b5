"""See the criteria with their sources, and choose by which one a site is judged."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.storage import audit, criteria_choice, site_state
from service.storage.criteria_choice import KeptCriteria, SiteCriteria
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets


@dataclass(frozen=True, slots=True)
class CriteriaPage:
    sets: tuple[KeptCriteria, ...]
    sites: tuple[SiteCriteria, ...]


def see_criteria(store: Store, actor: Actor, *, now: datetime) -> CriteriaPage:
    """Every set, and what each site in sight is judged by."""
    require(actor, Verb.SEE)
    with store.look() as unit:
        sets = criteria_choice.kept_criteria(unit)
    if not sets:
        ensure_presets(store, now=now)
    with store.look() as unit:
        return CriteriaPage(
            criteria_choice.kept_criteria(unit),
            criteria_choice.criteria_of_sites(unit, actor.site_ids, now=now),
        )


def choose_site_criteria(
    store: Store, actor: Actor, *, site_id: int, criteria_id: int | None, version: int, now: datetime
) -> CriteriaPage:
    """From now on the site's readings are judged by this set; earlier verdicts keep theirs.

    Raises
    ------
    NotFound, Forbidden, Stale
        Out of sight, not this role's, or changed meanwhile.
    """
    require(actor, Verb.KEEP_REGISTER, site_id=site_id)
    with store.begin() as unit:
        before = criteria_choice.choose_criteria(unit, site_id, criteria_id, version=version, now=now)
        audit.note(
            unit, actor, verb="choose criteria", noun="site", noun_id=site_id, site_id=site_id, now=now,
            before={"criteria_id": before}, after={"criteria_id": criteria_id},
        )  # fmt: skip
        site_state.bump(unit, [site_id], now=now)
    return see_criteria(store, actor, now=now)
