"""Visits that gave no usable reading since a point was last read."""

from collections.abc import Collection
from datetime import UTC, date, datetime

from sqlalchemy import ColumnElement, func, select

from service.domain.carried_over import Unread
from service.domain.words import Reason
from service.storage.bulk import is_one_of
from service.storage.desk import Sight
from service.storage.readings import CURRENT
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import ClientRow, EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundPointRow, RoundRow
from service.storage.unit import Unit

#: visits looked through: of what is carried over without end only the newest are told
MOST_VISITS = 100_000
_IN_USE = (PointRow.retired_at.is_(None), ViewRow.retired_at.is_(None), EquipmentRow.retired_at.is_(None))
#: one visit of a point: (round row or reading, told apart by the sign)
_Visit = tuple[int, int]


def unread_at_sites(unit: Unit, site_ids: Collection[int]) -> tuple[Unread, ...]:
    """Visits without a reading of points in use at these sites, none older than a usable reading."""
    return _unread(unit, is_one_of(unit, PointRow.site_id, site_ids))


def unread_in_sight(unit: Unit, sight: Sight) -> tuple[Unread, ...]:
    """The same for what somebody sees on the Desk."""
    return _unread(unit, sight.of(PointRow.site_id.expression, PointRow.id.expression))


def _unread(unit: Unit, *where: ColumnElement[bool]) -> tuple[Unread, ...]:
    found = _told_when_read(unit, *where) | _told_at_sign_off(unit, *where)
    points = {one.point_id for one, _ in found.values()}
    last, rows = _usable(unit, points, {key[0] for key in found if key[0] > 0})
    return tuple(
        one
        for key, (one, at) in found.items()
        if key[0] not in rows and (one.point_id not in last or at > last[one.point_id])
    )


def _told_when_read(unit: Unit, *where: ColumnElement[bool]) -> dict[_Visit, tuple[Unread, datetime]]:
    """By visit what was typed instead of a reading; of two who typed, the later."""
    query = (
        select(
            ReadingRow.id, ReadingRow.row_id, ReadingRow.point_id, ViewRow.equipment_id,
            ReadingRow.taken_at, ReadingRow.not_assessable,
        )
        .join(PointRow, PointRow.id == ReadingRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .where(ReadingRow.not_assessable.is_not(None), CURRENT, *_IN_USE, *where)
        .order_by(ReadingRow.taken_at.desc(), ReadingRow.id.desc())
        .limit(MOST_VISITS)
    )  # fmt: skip
    found: dict[_Visit, tuple[Unread, datetime]] = {}
    for reading, row, point, equipment, at, letter in unit.session.execute(query):
        key = (row or -reading, point)
        if letter is not None:
            found.setdefault(key, (Unread(point, equipment, at.date(), Reason(letter)), at))
    return found


def _told_at_sign_off(unit: Unit, *where: ColumnElement[bool]) -> dict[_Visit, tuple[Unread, datetime]]:
    """By visit why nobody read it, told when its round was signed off."""
    query = (
        select(
            RoundPointRow.id, RoundPointRow.point_id, ViewRow.equipment_id,
            RoundRow.planned_on, RoundPointRow.not_read_reason,
        )
        .join(RoundRow, RoundRow.id == RoundPointRow.round_id)
        .join(PointRow, PointRow.id == RoundPointRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .where(RoundPointRow.not_read_reason.is_not(None), *_IN_USE, *where)
        .order_by(RoundPointRow.id.desc())
        .limit(MOST_VISITS)
    )  # fmt: skip
    return {
        (row, point): (Unread(point, equipment, day, Reason(letter)), _end_of(day))
        for row, point, equipment, day, letter in unit.session.execute(query)
        if letter
    }


def _end_of(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 23, 59, 59, tzinfo=UTC)


def _usable(
    unit: Unit, point_ids: Collection[int], row_ids: Collection[int]
) -> tuple[dict[int, datetime], frozenset[int]]:
    """By point its last usable reading; and which of these rows have one beside what was typed instead."""
    read = (ReadingRow.not_assessable.is_(None), ReadingRow.temperature_c.is_not(None), CURRENT)
    last = (
        select(ReadingRow.point_id, func.max(ReadingRow.taken_at))
        .where(is_one_of(unit, ReadingRow.point_id, point_ids), *read)
        .group_by(ReadingRow.point_id)
    )
    both = select(ReadingRow.row_id).where(is_one_of(unit, ReadingRow.row_id, row_ids), *read)
    return (
        dict(unit.session.execute(last).all()),
        frozenset(row for row in unit.session.scalars(both) if row is not None),
    )


def most_carried_over(unit: Unit) -> dict[int, int]:
    """By site, after how many visits in a row without a reading its client wants to hear of it."""
    query = select(SiteRow.id, ClientRow.carried_over_most).join(ClientRow, ClientRow.id == SiteRow.client_id)
    return dict(unit.session.execute(query).all())
