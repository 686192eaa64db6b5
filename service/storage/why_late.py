"""Why points are late: what their last round said of each, and which rounds took their equipment in."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import and_, func, select

from service.domain.words import RoundState
from service.storage.bulk import is_one_of
from service.storage.tables.readings import AssessmentRow, ReadingRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit

#: a round that was issued brings rows; of one withdrawn since they say nothing
_WITH_ROWS = (RoundState.ISSUED, RoundState.RETURNED, RoundState.SIGNED_OFF)

_AHEAD = (RoundState.DRAFT, RoundState.ISSUED)


@dataclass(frozen=True, slots=True)
class LastRow:
    """What the last round of a point says of it; ``reason`` is a letter, empty where none was given."""

    planned_on: date
    back: bool
    reason: str
    read: bool
    could_clear: bool


def last_rows(unit: Unit, point_ids: Collection[int], *, until: date) -> dict[int, LastRow]:
    """By point its row on the last round issued and planned until a day; points on none are absent."""
    last = (
        select(func.max(RoundPointRow.id))
        .join(RoundRow, RoundRow.id == RoundPointRow.round_id)
        .where(
            is_one_of(unit, RoundPointRow.point_id, point_ids),
            RoundRow.state.in_([state.value for state in _WITH_ROWS]),
            RoundRow.planned_on <= until,
        )
        .group_by(RoundPointRow.point_id)
    )
    judged = AssessmentRow
    query = (
        select(
            RoundPointRow.point_id, RoundRow.planned_on, RoundRow.state, RoundPointRow.not_read_reason,
            ReadingRow.not_assessable, ReadingRow.temperature_c, judged.level, judged.at_least, judged.cold,
        )
        .join(RoundRow, RoundRow.id == RoundPointRow.round_id)
        .outerjoin(
            judged,
            and_(
                judged.round_id == RoundPointRow.round_id,
                judged.point_id == RoundPointRow.point_id,
                judged.current,
                judged.counts_level,
            ),
        )
        .outerjoin(ReadingRow, ReadingRow.id == judged.reading_id)
        .where(RoundPointRow.id.in_(last))
    )  # fmt: skip
    return {
        point: LastRow(
            planned_on,
            state != RoundState.ISSUED.value,
            letter or not_read or "",
            letter is None and shown is not None,
            level is not None and not at_least and not cold,
        )
        for point, planned_on, state, not_read, letter, shown, level, at_least, cold in unit.session.execute(query)
    }  # fmt: skip


def last_stops(
    unit: Unit, equipment_ids: Collection[int], *, until: date, to_come: bool
) -> dict[int, dict[RoundState, date]]:
    """By equipment and state of round the last day for which a round was planned that takes it in.

    Parameters
    ----------
    until : date
        Rounds planned until this day.
    to_come : bool
        Drafts and issued rounds of later days too: what is meant to be done, as of today.
    """
    ahead = [state.value for state in _AHEAD] if to_come else []
    query = (
        select(StopRow.equipment_id, RoundRow.state, func.max(RoundRow.planned_on))
        .join(RoundRow, RoundRow.id == StopRow.round_id)
        .where(
            is_one_of(unit, StopRow.equipment_id, equipment_ids),
            (RoundRow.planned_on <= until) | RoundRow.state.in_(ahead),
        )
        .group_by(StopRow.equipment_id, RoundRow.state)
    )
    found: dict[int, dict[RoundState, date]] = {}
    for equipment_id, state, day in unit.session.execute(query):
        found.setdefault(equipment_id, {})[RoundState(state)] = day
    return found
