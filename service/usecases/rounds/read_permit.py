"""One permit, for those who may see its round."""

from service.domain.people import Actor
from service.domain.rounds import Permit
from service.errors import NotFound
from service.storage import permits
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_see


def read_permit(store: Store, actor: Actor, permit_id: int) -> Permit:
    """The permit.

    Raises
    ------
    NotFound
        Absent, or its round is out of sight.
    """
    with store.look() as unit:
        permit = permits.permit_by_id(unit, permit_id)
        if permit is None:
            raise NotFound()
        round_to_see(unit, actor, permit.round_id)
        return permit
