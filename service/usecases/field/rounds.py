"""List the rounds that somebody may take along."""

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.rounds import OPEN_FOR_READINGS
from service.storage import rounds
from service.storage.unit import Store
from service.usecases.rounds.browse import RoundLine, lines_of
from service.usecases.rounds.sight import sight_of

#: rounds shown at most, the newest first counted
MOST_ROUNDS = 500


def list_field_rounds(store: Store, actor: Actor) -> list[RoundLine]:
    """Rounds in sight that take readings, by day: a technician's own, an engineer's all.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who asks.

    Raises
    ------
    Forbidden
        The role takes no rounds along.
    """
    require(actor, Verb.TAKE_SHEETS)
    with store.look() as unit:
        kept = rounds.list_rounds(unit, sight_of(actor), states=OPEN_FOR_READINGS, limit=MOST_ROUNDS)
        lines = lines_of(unit, kept)
    return sorted(lines, key=lambda line: (line.round.planned_on, line.round.start_min, line.round.id))
