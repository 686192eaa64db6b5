"""Look at a round itself, without its stops and points."""

from service.domain.people import Actor
from service.domain.rounds import Round
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_see


def see_round(store: Store, actor: Actor, round_id: int) -> Round:
    """The round with what holds for it.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.look() as unit:
        return round_to_see(unit, actor, round_id)
