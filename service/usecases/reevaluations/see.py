"""See what may be evaluated again, and what a re-evaluation moved."""

from dataclasses import dataclass, replace
from datetime import datetime

from service.domain.criteria_kept import KeptCriteria
from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.reevaluation import KeptReevaluation, Moved
from service.domain.reevaluation_targets import TargetFacts
from service.domain.words import ReevaluationTarget
from service.errors import NotFound
from service.storage import reevaluation_targets, reevaluations
from service.storage.unit import Store
from service.usecases.condition.criteria_sets import see_criteria
from service.usecases.rounds.sight import round_to_see

Names = dict[tuple[ReevaluationTarget, int], tuple[str, str]]


@dataclass(frozen=True, slots=True)
class OneReevaluation:
    """A re-evaluation with what it moved."""

    kept: KeptReevaluation
    title: str
    href: str
    moved: tuple[Moved, ...]


def see_target(
    store: Store, actor: Actor, *, target: ReevaluationTarget, target_id: int, now: datetime
) -> TargetFacts:
    """What would be evaluated again, and the sets of criteria it may be judged by.

    Raises
    ------
    NotFound
        Absent or out of sight.
    Forbidden
        In sight, and not this role's.
    """
    with store.look() as unit:
        sites = reevaluation_targets.sites_of_target(unit, target, target_id)
        if target is ReevaluationTarget.ROUND:
            round_to_see(unit, actor, target_id, verb=Verb.KEEP_REGISTER)
        elif not sites:
            raise NotFound()
        for site_id in sites:
            require(actor, Verb.KEEP_REGISTER, site_id=site_id)
        facts = reevaluation_targets.target_facts(unit, target, target_id)
    offered = see_criteria(store, actor, now=now).sets
    return replace(facts, sets=tuple((kept.id, _named(kept)) for kept in offered if kept.newest))


def _named(kept: KeptCriteria) -> str:
    return f"{kept.criteria.title}, version {kept.criteria.version}"


def see_reevaluations(
    store: Store, actor: Actor, *, before: int | None = None, limit: int = 50
) -> tuple[KeptReevaluation, ...]:
    """Re-evaluations of the sites in sight, newest first; whoever sees own rounds only sees none."""
    require(actor, Verb.SEE)
    if own_rounds_only(actor):
        return ()
    with store.look() as unit:
        return reevaluations.reevaluations_of_sites(unit, actor.site_ids, before=before, limit=limit)


def see_all(
    store: Store, actor: Actor, *, before: int | None = None, limit: int = 30
) -> tuple[tuple[KeptReevaluation, ...], Names]:
    """Re-evaluations of the sites in sight, newest first, with the names of what they were about."""
    require(actor, Verb.READ_AUDIT)
    with store.look() as unit:
        kept = reevaluations.reevaluations_of_sites(unit, actor.site_ids, before=before, limit=limit)
        return kept, reevaluation_targets.names_of_targets(
            unit, [(one.target, one.target_id) for one in kept]
        )


def see_one(store: Store, actor: Actor, reevaluation_id: int) -> OneReevaluation:
    """One re-evaluation with every figure before and after.

    Raises
    ------
    NotFound
        Absent, or about a site out of sight.
    Forbidden
        Not this role's.
    """
    with store.look() as unit:
        kept = reevaluations.reevaluation(unit, reevaluation_id)
        if kept is None:
            raise NotFound()
        sites = reevaluation_targets.sites_of_target(unit, kept.target, kept.target_id)
        if not sites:
            raise NotFound()
        for site_id in sites:
            require(actor, Verb.READ_AUDIT, site_id=site_id)
        named = reevaluation_targets.names_of_targets(unit, [(kept.target, kept.target_id)])
        title, href = named[kept.target, kept.target_id]
        return OneReevaluation(kept, title, href, reevaluation_targets.moves_of(unit, reevaluation_id))
