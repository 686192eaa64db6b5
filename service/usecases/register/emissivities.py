"""Look at the emissivity table that is shipped."""

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.physics.emissivity import TABLE, SurfaceRow


def list_surfaces(actor: Actor) -> tuple[SurfaceRow, ...]:
    """Every row of the table, also those without a number.

    Raises
    ------
    Forbidden
        Not this role's.
    """
    require(actor, Verb.SEE)
    return TABLE
