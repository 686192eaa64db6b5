"""Whether somebody may see a finding, and do something with it."""

from service.domain.findings import Finding
from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.storage import finding_subjects as subjects
from service.storage.unit import Unit


def finding_in_sight(unit: Unit, actor: Actor, found: Finding, verb: Verb) -> None:
    """Grants first, then, for technicians, the rounds given to them; then the role's verb.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    require(actor, Verb.SEE, site_id=found.site_id)
    if own_rounds_only(actor) and found.point_id is not None:
        subjects.point_subject(unit, found.point_id, person_id=actor.person_id)
    require(actor, verb, site_id=found.site_id)
