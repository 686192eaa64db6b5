"""Findings in sight, a page at a time."""

from collections.abc import Iterable

from service.domain.findings import Finding
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
