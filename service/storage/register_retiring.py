"""Retiring and restoring: things with all that stands in them, at one moment, never deleted."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Select, func, insert, select, update

from service.domain.register import TREE, Noun
from service.domain.words import FindingState, RoundState
from service.storage.register import below, place_of
from service.storage.register_rows import TABLES, parent_column
from service.storage.tables.findings import FindingRow
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import PointRow, ViewMemberRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit
from service.storage.versions import row_to_edit

_OUT = (RoundState.ISSUED.value, RoundState.RETURNED.value)
_SETTLED = (FindingState.PROVEN.value, FindingState.SET_ASIDE.value)


def ids_within(noun: Noun, of: tuple[Noun, int]) -> Select[Any]:
    """Ids of the things of one noun that stand in a thing; the thing itself for its own noun."""
    above, thing_id = of
    query = select(TABLES[noun].id)
    return query.where(TABLES[noun].id == thing_id) if noun is above else below(query, noun, of)


def nouns_within(noun: Noun) -> tuple[Noun, ...]:
    """The noun itself and those that stand in it, from the top down."""
    return TREE[TREE.index(noun) :] if noun in TREE else (noun,)


def sites_of(unit: Unit, of: tuple[Noun, int]) -> list[int]:
    """The site a thing belongs to; all sites of a client; none for an instrument."""
    noun, thing_id = of
    if noun is Noun.CLIENT:
        return [int(i) for i in unit.session.scalars(ids_within(Noun.SITE, of))]
    site_id = place_of(unit, noun, thing_id).site_id
    return [] if site_id is None else [site_id]


def counts_within(unit: Unit, of: tuple[Noun, int]) -> dict[Noun, int]:
    """How many things in use stand in a thing, itself included."""
    counts = {}
    for noun in nouns_within(of[0]):
        table = TABLES[noun]
        query = select(func.count()).where(table.id.in_(ids_within(noun, of)), table.retired_at.is_(None))
        counts[noun] = int(unit.session.scalar(query) or 0)
    return counts


def rounds_out_with(unit: Unit, of: tuple[Noun, int]) -> Sequence[str]:
    """Codes of rounds that are issued or returned and have a stop or a row in a thing."""
    noun, thing_id = of
    if noun is Noun.INSTRUMENT:
        query = select(RoundRow.code).where(RoundRow.instrument_id == thing_id)
    elif noun in (Noun.VIEW, Noun.POINT):
        rows = RoundPointRow.point_id.in_(ids_within(Noun.POINT, of))
        query = select(RoundRow.code).join(RoundPointRow, RoundPointRow.round_id == RoundRow.id).where(rows)
    else:
        stops = StopRow.equipment_id.in_(ids_within(Noun.EQUIPMENT, of))
        query = select(RoundRow.code).join(StopRow, StopRow.round_id == RoundRow.id).where(stops)
    query = query.where(RoundRow.state.in_(_OUT)).distinct().order_by(RoundRow.code).limit(20)
    return list(unit.session.scalars(query))


def open_findings_within(unit: Unit, of: tuple[Noun, int]) -> int:
    """Findings at points of a thing that still want something."""
    if of[0] is Noun.INSTRUMENT:
        return 0
    query = select(func.count()).where(
        FindingRow.point_id.in_(ids_within(Noun.POINT, of)), FindingRow.state.not_in(_SETTLED)
    )
    return int(unit.session.scalar(query) or 0)


def retire(unit: Unit, of: tuple[Noun, int], *, version: int, now: datetime) -> None:
    """Retire a thing and everything in it that is still in use.

    Raises
    ------
    NotFound, Stale
        Absent, or changed meanwhile.
    """
    noun, thing_id = of
    row_to_edit(unit, TABLES[noun], thing_id, version=version, now=now).retired_at = now
    unit.session.flush()
    for inner in nouns_within(noun)[1:]:
        table = TABLES[inner]
        _set(
            unit,
            update(table)
            .where(table.id.in_(ids_within(inner, of)), table.retired_at.is_(None))
            .values(retired_at=now, changed_at=now, version=table.version + 1),
        )
    if noun is Noun.INSTRUMENT:
        return
    points = ids_within(Noun.POINT, of).where(PointRow.retired_at == now)
    members = ViewMemberRow.point_id.in_(points) & ViewMemberRow.to_at.is_(None)
    _set(unit, update(ViewMemberRow).where(members).values(to_at=now))
    states = update(PointStateRow).where(PointStateRow.point_id.in_(points))
    _set(unit, states.values(due_on=None, due_reason="retired"))


def parent_in_use(unit: Unit, noun: Noun, thing_id: int, parent: Noun) -> bool:
    query = (
        select(TABLES[parent].retired_at)
        .join(TABLES[noun], parent_column(noun) == TABLES[parent].id)
        .where(TABLES[noun].id == thing_id)
    )
    return unit.session.scalar(query) is None


def restore(unit: Unit, of: tuple[Noun, int], *, version: int, now: datetime) -> None:
    """Take a thing back into use, with what was retired together with it.

    Raises
    ------
    NotFound, Stale
        Absent, or changed meanwhile.
    """
    noun, thing_id = of
    row = row_to_edit(unit, TABLES[noun], thing_id, version=version, now=now)
    moment = row.retired_at
    row.retired_at = None
    unit.session.flush()
    if noun is Noun.INSTRUMENT:
        return
    points = list(unit.session.scalars(_retired_with(Noun.POINT, of, moment)))
    for inner in nouns_within(noun)[1:]:
        table = TABLES[inner]
        _set(
            unit,
            update(table)
            .where(table.id.in_(_retired_with(inner, of, moment)))
            .values(retired_at=None, changed_at=now, version=table.version + 1),
        )
    _restore_points(unit, [thing_id] if noun is Noun.POINT else points, moment, now=now)


def _retired_with(noun: Noun, of: tuple[Noun, int], moment: datetime | None) -> Select[Any]:
    return ids_within(noun, of).where(TABLES[noun].retired_at == moment)


def _restore_points(unit: Unit, point_ids: list[int], moment: datetime | None, *, now: datetime) -> None:
    for start in range(0, len(point_ids), 500):
        some = point_ids[start : start + 500]
        left = select(ViewMemberRow.view_id, ViewMemberRow.point_id).where(
            ViewMemberRow.point_id.in_(some), ViewMemberRow.to_at == moment
        )
        back = [{"view_id": v, "point_id": p, "from_at": now} for v, p in unit.session.execute(left)]
        if back:
            unit.session.execute(insert(ViewMemberRow), back)
        states = update(PointStateRow).where(PointStateRow.point_id.in_(some))
        _set(unit, states.values(due_on=now.date(), due_reason="taken back into use"))


def _set(unit: Unit, statement: Any) -> None:
    unit.session.execute(statement.execution_options(synchronize_session=False))
