"""What the trends of points foretell now, and what was kept of it for the rows of a round."""

from collections.abc import Iterable
from datetime import date

from sqlalchemy import select

from service.domain.foretold import Foretold, foretold_from_dict
from service.domain.trending import FanStep
from service.domain.words import Trend
from service.storage.bulk import is_one_of
from service.storage.tables.readings import PointStateRow
from service.storage.tables.rounds import RoundPointRow
from service.storage.unit import Unit


def foretold_of(unit: Unit, point_ids: Iterable[int]) -> dict[int, Foretold]:
    """By point what its trend foretells; points with too few visits foretell nothing."""
    state = PointStateRow
    query = select(state.point_id, state.trend, state.trend_fan, state.common_k, state.u_common_k).where(
        is_one_of(unit, state.point_id, point_ids), state.trend != Trend.TOO_FEW_VISITS.value
    )
    found = {}
    for point_id, trend, steps, common_k, u_k in unit.session.execute(query):
        fan = tuple(FanStep(date.fromisoformat(day), *levels) for day, *levels in steps or ())
        if fan or (common_k is not None and u_k is not None):
            stays = (None, None) if fan else (common_k, u_k)
            found[point_id] = Foretold(Trend(trend), fan, *stays)
    return found


def foretold_of_round(unit: Unit, round_id: int) -> dict[int, Foretold]:
    """By point what was foretold when the round was issued."""
    query = select(RoundPointRow.point_id, RoundPointRow.foretold).where(
        RoundPointRow.round_id == round_id, RoundPointRow.foretold.is_not(None)
    )
    return {point: foretold_from_dict(kept) for point, kept in unit.session.execute(query) if kept}
