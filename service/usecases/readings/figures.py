"""What readings that somebody may see say, with their uncertainty."""

from collections.abc import Sequence

from service.domain.people import Actor
from service.domain.reading_sheets import Assessed
from service.domain.readings import Reading
from service.errors import NotFound
from service.storage import reading_sheets
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_see


def see_figures(store: Store, actor: Actor, seen: Sequence[Reading]) -> dict[int, Assessed]:
    """By reading the assessment that stands; those without one are left out.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who was shown the readings.
    seen : sequence of Reading
        As another use case handed them out; their rounds are looked at again here.

    Raises
    ------
    NotFound
        One of them is out of sight.
    """
    with store.look() as unit:
        for round_id in {one.round_id for one in seen}:
            if round_id is None:
                raise NotFound()
            round_to_see(unit, actor, round_id)
        return reading_sheets.standing_assessments(unit, [one.id for one in seen])
