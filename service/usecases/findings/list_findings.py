"""Findings in sight, a page at a time."""

from collections.abc import Iterable

from service.domain.findings import Finding, Untold
from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.words import FindingState
from service.storage import findings as kept
from service.storage.finding_subjects import points_on_rounds_of
from service.storage.unit import Store


def list_findings(
    store: Store,
    actor: Actor,
    *,
    states: Iterable[FindingState] | None = None,
    after: int = 0,
    limit: int = 100,
) -> tuple[Finding, ...]:
    """Findings of the sites granted; for technicians, of points on rounds given to them."""
    require(actor, Verb.SEE)
    with store.look() as unit:
        points = None
        if own_rounds_only(actor) and actor.person_id is not None:
            points = points_on_rounds_of(unit, actor.person_id)
        return kept.findings(
            unit, site_ids=actor.site_ids, states=states, point_ids=points, after=after, limit=limit
        )


def list_untold(store: Store, actor: Actor, *, site_ids: Iterable[int] | None = None) -> tuple[Untold, ...]:
    """Act nows in sight of which nobody was told; they wait for no round.

    Parameters
    ----------
    store, actor
        Where, and for whom; technicians see those of points on rounds given to them.
    site_ids : iterable of int, optional
        Only those of these sites.
    """
    require(actor, Verb.SEE)
    with store.look() as unit:
        points = None
        if own_rounds_only(actor) and actor.person_id is not None:
            points = points_on_rounds_of(unit, actor.person_id)
        found = kept.untold(unit, site_ids=actor.site_ids, point_ids=points)
    wanted = None if site_ids is None else set(site_ids)
    return tuple(one for one in found if wanted is None or one.finding.site_id in wanted)
