"""Read who did what: administrators all, managers and engineers what belongs to their sites."""

from service.domain.audit import AuditEntry, AuditQuestion
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.words import Role
from service.storage import audit_trail
from service.storage.unit import Store


def read_audit(store: Store, actor: Actor, question: AuditQuestion) -> tuple[AuditEntry, ...]:
    """One page of the audit trail, the newest first.

    An engineer reads what was done at the sites granted, and to rounds and routes that lie wholly
    at them; a manager also what has no site (an account, an instrument) where everything granted
    to its doer lies within the manager's clients.

    Raises
    ------
    Forbidden
        For technicians.
    """
    require(actor, Verb.READ_AUDIT)
    with store.look() as unit:
        return audit_trail.entries(
            unit,
            question,
            sites=actor.site_ids,
            clients=actor.whole_clients if actor.role is Role.MANAGER else frozenset(),
        )
