"""One permit, for those who may see its round, and what was typed of it on the walk."""

from service.domain.people import Actor
from service.domain.rounds import Permit
from service.domain.typed_permits import TypedPermit
from service.errors import NotFound
from service.storage import permits, typed_permits
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_see


def read_permit(store: Store, actor: Actor, permit_id: int) -> tuple[Permit, tuple[TypedPermit, ...]]:
    """The permit, and what was typed of it on walks, the latest first.

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
        return permit, typed_permits.of_permit(unit, permit_id)
