"""Who can own a finding: people of the same sites."""

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.storage.finding_subjects import people_of_sites
from service.storage.unit import Store


def people_to_own(store: Store, actor: Actor) -> tuple[tuple[int, str], ...]:
    """(id, name) of active people who share a client with the actor."""
    require(actor, Verb.SEE)
    with store.look() as unit:
        return people_of_sites(unit, None if actor.every_site else actor.clients)
