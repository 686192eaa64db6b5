"""Who walks when and what is closed when: hours, absences, closures of sites."""

from collections.abc import Collection
from datetime import date, datetime

from sqlalchemy import select

from service.domain.planning import Absence, SiteClosure, WalkingHours, WalkPart
from service.errors import NotFound, Stale
from service.storage.tables.people import PersonRow
from service.storage.tables.planning import AbsenceRow, SiteClosureRow, WalkingHoursRow
from service.storage.unit import Unit
from service.storage.versions import locked_row, row_to_edit


def walking_hours_of(unit: Unit, person_ids: Collection[int]) -> dict[int, WalkingHours]:
    """By person, of those of whom something is on record."""
    rows = unit.session.scalars(select(WalkingHoursRow).where(WalkingHoursRow.person_id.in_(person_ids)))
    return {row.person_id: _hours(row) for row in rows}


def keep_walking_hours(unit: Unit, hours: WalkingHours, *, version: int, now: datetime) -> WalkingHours:
    """Write somebody's hours; ``version`` 0 says that nothing was on record.

    Raises
    ------
    Stale
        Somebody changed them since ``version``.
    """
    # two who write the first hours of one person wait for each other here
    locked_row(unit, PersonRow, hours.person_id)
    known = unit.session.scalar(select(WalkingHoursRow).where(WalkingHoursRow.person_id == hours.person_id))
    if known is None:
        if version != 0:
            raise Stale(0)
        row = WalkingHoursRow(person_id=hours.person_id, created_at=now, changed_at=now)
        unit.session.add(row)
    else:
        row = row_to_edit(unit, WalkingHoursRow, known.id, version=version, now=now)
    row.part = hours.part.value
    row.hours = hours.hours
    row.start_place = hours.start_place
    row.start_latitude, row.start_longitude = hours.start_latitude, hours.start_longitude
    row.holidays_of = hours.holidays_of
    unit.session.flush()
    return _hours(row)


def absences_between(
    unit: Unit, person_ids: Collection[int], *, from_on: date, to_on: date
) -> tuple[Absence, ...]:
    """Absences that touch the span, the first to begin first."""
    query = select(AbsenceRow).where(
        AbsenceRow.person_id.in_(person_ids), AbsenceRow.to_on >= from_on, AbsenceRow.from_on <= to_on
    )
    rows = unit.session.scalars(query.order_by(AbsenceRow.from_on, AbsenceRow.id))
    return tuple(_absence(row) for row in rows)


def absence_by_id(unit: Unit, absence_id: int) -> Absence | None:
    row = unit.session.get(AbsenceRow, absence_id)
    return None if row is None else _absence(row)


def add_absence(unit: Unit, person_id: int, *, from_on: date, to_on: date, note: str) -> Absence:
    row = AbsenceRow(person_id=person_id, from_on=from_on, to_on=to_on, note=note)
    unit.session.add(row)
    unit.session.flush()
    return _absence(row)


def remove_absence(unit: Unit, absence_id: int) -> None:
    """Take it away; it is there no more for whoever comes second."""
    row = unit.session.get(AbsenceRow, absence_id, with_for_update=True)
    if row is None:
        raise NotFound()
    unit.session.delete(row)
    unit.session.flush()


def closures_between(
    unit: Unit, site_ids: Collection[int], *, from_on: date, to_on: date
) -> tuple[SiteClosure, ...]:
    """Closures that touch the span, the first to begin first."""
    query = select(SiteClosureRow).where(
        SiteClosureRow.site_id.in_(site_ids),
        SiteClosureRow.to_on >= from_on,
        SiteClosureRow.from_on <= to_on,
    )
    rows = unit.session.scalars(query.order_by(SiteClosureRow.from_on, SiteClosureRow.id))
    return tuple(_closure(row) for row in rows)


def closure_by_id(unit: Unit, closure_id: int) -> SiteClosure | None:
    row = unit.session.get(SiteClosureRow, closure_id)
    return None if row is None else _closure(row)


def add_closure(unit: Unit, site_id: int, *, from_on: date, to_on: date, reason: str) -> SiteClosure:
    row = SiteClosureRow(site_id=site_id, from_on=from_on, to_on=to_on, reason=reason)
    unit.session.add(row)
    unit.session.flush()
    return _closure(row)


def remove_closure(unit: Unit, closure_id: int) -> None:
    """Take it away; it is there no more for whoever comes second."""
    row = unit.session.get(SiteClosureRow, closure_id, with_for_update=True)
    if row is None:
        raise NotFound()
    unit.session.delete(row)
    unit.session.flush()


def _hours(row: WalkingHoursRow) -> WalkingHours:
    return WalkingHours(
        person_id=row.person_id,
        part=WalkPart(row.part),
        hours=row.hours,
        start_place=row.start_place,
        start_latitude=row.start_latitude,
        start_longitude=row.start_longitude,
        holidays_of=row.holidays_of,
        version=row.version,
    )


def _absence(row: AbsenceRow) -> Absence:
    return Absence(id=row.id, person_id=row.person_id, from_on=row.from_on, to_on=row.to_on, note=row.note)


def _closure(row: SiteClosureRow) -> SiteClosure:
    return SiteClosure(
        id=row.id, site_id=row.site_id, from_on=row.from_on, to_on=row.to_on, reason=row.reason
    )
