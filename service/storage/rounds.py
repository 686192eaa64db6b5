"""Rounds: the dated walks, their stops, moves and rows."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, bindparam, delete, exists, func, insert, or_, select, update

from service.domain.rounds import Round, RoundMove, RoundPoint, Stop
from service.domain.words import Reason, RoundState
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import ClientRow
from service.storage.tables.rounds import RoundMoveRow, RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit
from service.storage.versions import locked_row, row_to_edit


@dataclass(frozen=True, slots=True)
class Sight:
    """Which rounds somebody may see: None means no filter."""

    site_ids: frozenset[int] | None
    client_ids: frozenset[int] | None
    person_id: int | None = None
    only_round: int | None = None


# ---- reading -------------------------------------------------------------------------------


def round_by_id(unit: Unit, round_id: int) -> Round | None:
    row = unit.session.get(RoundRow, round_id)
    return None if row is None else _round(row)


def lock_round(unit: Unit, round_id: int) -> Round | None:
    """The round as it is now, held until the end of the writing unit."""
    row = locked_row(unit, RoundRow, round_id)
    return None if row is None else _round(row)


def round_of_code(unit: Unit, code: str) -> Round | None:
    row = unit.session.scalar(select(RoundRow).where(RoundRow.code == code))
    return None if row is None else _round(row)


def stop_of_sheet(unit: Unit, sheet_code: str) -> Stop | None:
    row = unit.session.scalar(select(StopRow).where(StopRow.sheet_code == sheet_code))
    return None if row is None else _stop(row)


def list_rounds(
    unit: Unit,
    sight: Sight,
    *,
    first: date | None = None,
    last: date | None = None,
    states: Iterable[RoundState] = (),
    after: int = 0,
    limit: int = 500,
) -> tuple[Round, ...]:
    """Rounds in sight in the order of their ids, at most ``limit`` after the id ``after``."""
    query = select(RoundRow).where(RoundRow.id > after, *in_sight(sight))
    if first is not None:
        query = query.where(RoundRow.planned_on >= first)
    if last is not None:
        query = query.where(RoundRow.planned_on <= last)
    wanted = [state.value for state in states]
    if wanted:
        query = query.where(RoundRow.state.in_(wanted))
    return read_rounds(unit, query.order_by(RoundRow.id).limit(limit))


def rounds_of_client(unit: Unit, client_id: int, *, first: date, last: date) -> tuple[Round, ...]:
    """Every round of a client planned between two days, whoever sees it, by day."""
    query = select(RoundRow).where(
        RoundRow.client_id == client_id, RoundRow.planned_on >= first, RoundRow.planned_on <= last
    )
    return read_rounds(unit, query.order_by(RoundRow.planned_on, RoundRow.id))


def rounds_by_id(unit: Unit, round_ids: Collection[int]) -> dict[int, Round]:
    """These rounds, whoever sees them."""
    query = select(RoundRow).where(RoundRow.id.in_(list(round_ids)))
    return {round_.id: round_ for round_ in read_rounds(unit, query)}


def stops_of_rounds(unit: Unit, round_ids: Collection[int]) -> dict[int, tuple[Stop, ...]]:
    """By round: its stops in walking order."""
    query = select(StopRow).where(StopRow.round_id.in_(round_ids))
    found: dict[int, list[Stop]] = {}
    for row in unit.session.scalars(query.order_by(StopRow.round_id, StopRow.position, StopRow.id)):
        found.setdefault(row.round_id, []).append(_stop(row))
    return {round_id: tuple(stops) for round_id, stops in found.items()}


def read_rounds(unit: Unit, query: Select[RoundRow]) -> tuple[Round, ...]:
    return tuple(_round(row) for row in unit.session.scalars(query))


def in_sight(sight: Sight) -> tuple[ColumnElement[bool], ...]:
    """What holds for the rounds that somebody may see."""
    clauses: list[ColumnElement[bool]] = []
    any_stop = exists().where(StopRow.round_id == RoundRow.id)
    if sight.site_ids is not None:
        foreign = exists().where(StopRow.round_id == RoundRow.id, StopRow.site_id.not_in(sight.site_ids))
        clauses.append(~foreign)
    if sight.client_ids is not None:
        clauses.append(or_(any_stop, RoundRow.client_id.in_(sight.client_ids)))
    if sight.person_id is not None:
        mine = or_(RoundRow.person_id == sight.person_id, RoundRow.second_person_id == sight.person_id)
        clauses.append(mine)
    if sight.only_round is not None:
        clauses.append(RoundRow.id == sight.only_round)
    return tuple(clauses)


def site_ids_of(unit: Unit, round_id: int) -> frozenset[int]:
    return frozenset(unit.connection.scalars(_SITES, {"of_round": round_id}))


#: Made once: asked by every use case on a round, it takes longer to say than to answer.
_SITES = select(StopRow.site_id).where(StopRow.round_id == bindparam("of_round")).distinct()


def stops_of(unit: Unit, round_id: int) -> tuple[Stop, ...]:
    query = select(StopRow).where(StopRow.round_id == round_id).order_by(StopRow.position, StopRow.id)
    return tuple(_stop(row) for row in unit.session.scalars(query))


def points_of(unit: Unit, round_id: int) -> tuple[RoundPoint, ...]:
    query = (
        select(RoundPointRow)
        .where(RoundPointRow.round_id == round_id)
        .order_by(RoundPointRow.position, RoundPointRow.id)
    )
    return tuple(
        RoundPoint(
            id=row.id,
            uid=row.uid,
            round_id=row.round_id,
            stop_id=row.stop_id,
            view_id=row.view_id,
            point_id=row.point_id,
            position=row.position,
            visit_kind=row.visit_kind,
            not_read_reason=None if row.not_read_reason is None else Reason(row.not_read_reason),
            chosen_source=row.chosen_source,
        )
        for row in unit.session.scalars(query)
    )


def moves_of(unit: Unit, round_id: int) -> tuple[RoundMove, ...]:
    query = (
        select(RoundMoveRow, PersonRow.name)
        .outerjoin(PersonRow, PersonRow.id == RoundMoveRow.by_person_id)
        .where(RoundMoveRow.round_id == round_id)
        .order_by(RoundMoveRow.id)
    )
    return tuple(
        RoundMove(
            at=row.at,
            by_person_id=row.by_person_id,
            by_name=name or "",
            from_state=row.from_state,
            to_state=row.to_state,
            note=row.note,
        )
        for row, name in unit.session.execute(query)
    )


# ---- writing -------------------------------------------------------------------------------


def next_code(unit: Unit, client_id: int, day: date) -> str:
    """MW-261208-1: client, day and a running number of that day."""
    client = unit.session.scalar(select(ClientRow.code).where(ClientRow.id == client_id))
    stem = f"{client}-{day:%y%m%d}-"
    taken = unit.session.scalars(select(RoundRow.code).where(RoundRow.code.startswith(stem, autoescape=True)))
    numbers = [int(code[len(stem) :]) for code in taken if code[len(stem) :].isdigit()]
    return f"{stem}{max(numbers, default=0) + 1}"


def add_round(unit: Unit, *, client_id: int, code: str, fields: dict[str, Any], now: datetime) -> Round:
    row = RoundRow(client_id=client_id, code=code, created_at=now, changed_at=now, **fields)
    unit.session.add(row)
    unit.session.flush()
    return _round(row)


def touch_round(unit: Unit, round_id: int, *, version: int, now: datetime, **fields: Any) -> Round:
    """Edit fields of the round, and count its version up; without fields only the latter."""
    row = row_to_edit(unit, RoundRow, round_id, version=version, now=now)
    for name, value in fields.items():
        setattr(row, name, value)
    unit.session.flush()
    return _round(row)


def move_round(
    unit: Unit, round_: Round, to: RoundState, *, by: int | None, now: datetime, note: str = "", version: int
) -> Round:
    """Write the new state, its instant and the line of who and when."""
    stamps = {
        RoundState.ISSUED: "issued_at",
        RoundState.RETURNED: "returned_at",
        RoundState.SIGNED_OFF: "signed_off_at",
    }
    fields: dict[str, Any] = {"state": to.value}
    if to in stamps:
        fields[stamps[to]] = now
    add_move(unit, round_.id, from_state=round_.state.value, to_state=to.value, by=by, now=now, note=note)
    return touch_round(unit, round_.id, version=version, now=now, **fields)


def add_move(
    unit: Unit, round_id: int, *, from_state: str, to_state: str, by: int | None, now: datetime, note: str
) -> None:
    unit.session.add(
        RoundMoveRow(
            round_id=round_id, at=now, by_person_id=by, from_state=from_state, to_state=to_state, note=note
        )
    )


def add_stops(unit: Unit, round_id: int, stops: Sequence[tuple[int, int, int]], *, first: int = 1) -> None:
    """Stops as (equipment, site, minutes), numbered from ``first``."""
    rows = [
        {
            "round_id": round_id,
            "equipment_id": equipment,
            "site_id": site,
            "minutes": minutes,
            "position": place,
        }
        for place, (equipment, site, minutes) in enumerate(stops, start=first)
    ]
    if rows:
        unit.session.execute(insert(StopRow), rows)


def remove_stop(unit: Unit, stop_id: int) -> None:
    unit.session.execute(delete(StopRow).where(StopRow.id == stop_id))


def set_minutes(unit: Unit, stop_id: int, minutes: int) -> None:
    unit.session.execute(update(StopRow).where(StopRow.id == stop_id).values(minutes=minutes))


def set_order(unit: Unit, stop_ids: Sequence[int]) -> None:
    """Number the stops from 1 in this order."""
    for place, stop_id in enumerate(stop_ids, start=1):
        unit.session.execute(update(StopRow).where(StopRow.id == stop_id).values(position=place))


def set_sheet_codes(unit: Unit, codes: dict[int, str]) -> None:
    if codes:
        rows = [{"id": stop_id, "sheet_code": code} for stop_id, code in codes.items()]
        unit.session.execute(update(StopRow), rows)


def codes_taken(unit: Unit, codes: Iterable[str]) -> frozenset[str]:
    query = select(StopRow.sheet_code).where(StopRow.sheet_code.in_(list(codes)))
    return frozenset(code for code in unit.session.scalars(query) if code is not None)


def add_points(unit: Unit, rows: Sequence[dict[str, Any]]) -> None:
    if rows:
        unit.session.execute(insert(RoundPointRow), list(rows))


def set_not_read(unit: Unit, reasons: dict[int, Reason]) -> None:
    """By row id: why it has no reading, given at sign-off."""
    for row_id, reason in reasons.items():
        unit.session.execute(
            update(RoundPointRow).where(RoundPointRow.id == row_id).values(not_read_reason=reason.value)
        )


def count_readings(unit: Unit, round_id: int) -> int:
    """Readings brought in for it, corrections not counted."""
    query = select(func.count()).where(ReadingRow.round_id == round_id, ReadingRow.supersedes_id.is_(None))
    return int(unit.session.scalar(query) or 0)


def count_stops(unit: Unit, round_ids: Iterable[int]) -> dict[int, int]:
    query = (
        select(StopRow.round_id, func.count())
        .where(StopRow.round_id.in_(list(round_ids)))
        .group_by(StopRow.round_id)
    )
    return dict(unit.session.execute(query).all())


def _round(row: RoundRow) -> Round:
    return Round(
        id=row.id,
        client_id=row.client_id,
        route_id=row.route_id,
        code=row.code,
        name=row.name,
        planned_on=row.planned_on,
        start_min=row.start_min,
        state=RoundState(row.state),
        person_id=row.person_id,
        second_person_id=row.second_person_id,
        instrument_id=row.instrument_id,
        weather=row.weather,
        note=row.note,
        issued_at=row.issued_at,
        returned_at=row.returned_at,
        signed_off_at=row.signed_off_at,
        version=row.version,
        settings=dict(row.settings or {}),
    )


def _stop(row: StopRow) -> Stop:
    return Stop(
        id=row.id,
        round_id=row.round_id,
        equipment_id=row.equipment_id,
        site_id=row.site_id,
        position=row.position,
        minutes=row.minutes,
        permit_id=row.permit_id,
        sheet_code=row.sheet_code,
    )
