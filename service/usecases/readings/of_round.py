"""See what the readings of a round say, and what the round could have missed."""

from service.domain.people import Actor
from service.domain.reports import ReportedPoint
from service.storage import reports
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_see


def see_points_of_round(store: Store, actor: Actor, *, round_id: int) -> tuple[ReportedPoint, ...]:
    """Every point of a round in walking order, with the reading that feeds its level.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    with store.look() as unit:
        round_to_see(unit, actor, round_id)
        return reports.reported_points(unit, round_id)
