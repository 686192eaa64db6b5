"""Visits that gave no usable reading since a point was last read."""

from collections.abc import Collection
from datetime import UTC, date, datetime

from sqlalchemy import ColumnElement, Select, or_, select
from sqlalchemy.orm import aliased

from service.domain.carried_over import Unread
from service.domain.words import Reason
from service.storage.bulk import is_one_of
from service.storage.desk import Sight
from service.storage.readings import CURRENT
from service.storage.tables.readings import PointStateRow, ReadingRow
from service.storage.tables.register import ClientRow, EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundPointRow, RoundRow
from service.storage.unit import Unit

#: visits looked through: of what is carried over without end only the newest are told
MOST_VISITS = 100_000
_IN_USE = (PointRow.retired_at.is_(None), ViewRow.retired_at.is_(None), EquipmentRow.retired_at.is_(None))
#: what was given up before a point was last read is no longer carried over, and most of what there is
_READ_AT = PointStateRow.last_read_at
#: one visit of a point: (round row or reading, told apart by the sign)
_Visit = tuple[int, int]


def unread_at_sites(unit: Unit, site_ids: Collection[int]) -> tuple[Unread, ...]:
    """Visits without a reading of points in use at these sites, none older than a usable reading."""
    return _unread(unit, is_one_of(unit, PointRow.site_id, site_ids))


def unread_of_equipment(unit: Unit, equipment_id: int) -> tuple[Unread, ...]:
    """The same for one equipment."""
    its_own = select(PointRow.id).join(ViewRow, ViewRow.id == PointRow.view_id)
    its_own = its_own.where(ViewRow.equipment_id == equipment_id)
    return _unread(unit, ViewRow.equipment_id == equipment_id, points=its_own)


def unread_in_sight(unit: Unit, sight: Sight) -> tuple[Unread, ...]:
    """The same for what somebody sees on the Desk."""
    return _unread(unit, sight.of(PointRow.site_id.expression, PointRow.id.expression))


def _unread(unit: Unit, *where: ColumnElement[bool], points: Select[int] | None = None) -> tuple[Unread, ...]:
    """``points``, where they are few: then not all such visits of the fleet are gone through for them."""
    found = _told_when_read(unit, *where, points=points) | _told_at_sign_off(unit, *where)
    read = _read_beside(unit, {row for row, _ in found if row > 0})
    return tuple(one for (row, _), one in found.items() if row not in read)


def _told_when_read(
    unit: Unit, *where: ColumnElement[bool], points: Select[int] | None
) -> dict[_Visit, Unread]:
    """By visit what was typed instead of a reading; of two who typed, the later."""
    query = (
        select(
            ReadingRow.id, ReadingRow.row_id, ReadingRow.point_id, ViewRow.equipment_id,
            ReadingRow.taken_at, ReadingRow.not_assessable,
        )
        .join(PointRow, PointRow.id == ReadingRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .where(ReadingRow.id.in_(_since_last_read(points)), CURRENT, *_IN_USE, *where)
        .order_by(ReadingRow.taken_at.desc(), ReadingRow.id.desc())
        .limit(MOST_VISITS)
    )  # fmt: skip
    found: dict[_Visit, Unread] = {}
    for reading, row, point, equipment, at, letter in unit.session.execute(query):
        key = (row or -reading, point)
        if letter is not None:
            found.setdefault(key, Unread(point, equipment, at.date(), Reason(letter)))
    return found


def _since_last_read(points: Select[int] | None) -> Select[int]:
    """Found by the index of such visits alone: none of the others is opened."""
    later = aliased(ReadingRow)
    query = (
        select(later.id)
        .outerjoin(PointStateRow, PointStateRow.point_id == later.point_id)
        .where(later.not_assessable.is_not(None), or_(_READ_AT.is_(None), later.taken_at > _READ_AT))
    )
    return query if points is None else query.where(later.point_id.in_(points))


def _told_at_sign_off(unit: Unit, *where: ColumnElement[bool]) -> dict[_Visit, Unread]:
    """By visit why nobody read it, told when its round was signed off."""
    query = (
        select(
            RoundPointRow.id, RoundPointRow.point_id, ViewRow.equipment_id,
            RoundRow.planned_on, RoundPointRow.not_read_reason, _READ_AT,
        )
        .join(RoundRow, RoundRow.id == RoundPointRow.round_id)
        .join(PointRow, PointRow.id == RoundPointRow.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .outerjoin(PointStateRow, PointStateRow.point_id == RoundPointRow.point_id)
        .where(RoundPointRow.not_read_reason.is_not(None), *_IN_USE, *where)
        .order_by(RoundPointRow.id.desc())
        .limit(MOST_VISITS)
    )  # fmt: skip
    return {
        (row, point): Unread(point, equipment, day, Reason(letter))
        for row, point, equipment, day, letter, read_at in unit.session.execute(query)
        if letter and (read_at is None or _end_of(day) > read_at)
    }


def _end_of(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 23, 59, 59, tzinfo=UTC)


def _read_beside(unit: Unit, row_ids: Collection[int]) -> frozenset[int]:
    """Which rows of a round somebody read all the same, beside who typed why not."""
    query = select(ReadingRow.row_id).where(
        is_one_of(unit, ReadingRow.row_id, row_ids),
        ReadingRow.not_assessable.is_(None),
        ReadingRow.temperature_c.is_not(None),
        CURRENT,
    )
    return frozenset(row for row in unit.session.scalars(query) if row is not None)


def most_carried_over(unit: Unit) -> dict[int, int]:
    """By site, after how many visits in a row without a reading its client wants to hear of it."""
    query = select(SiteRow.id, ClientRow.carried_over_most).join(ClientRow, ClientRow.id == SiteRow.client_id)
    return dict(unit.session.execute(query).all())
