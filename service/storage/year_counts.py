"""What a year counts: rounds by month and state, covers behind which something was read, findings opened."""

from collections import Counter
from collections.abc import Collection
from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, case, exists, extract, func, or_, select
from sqlalchemy.orm import aliased

from service.domain.findings import READING_CORRECTED
from service.domain.site_clock import local_day
from service.domain.words import Access, RoundState
from service.domain.year import OpenedFinding, YearSite
from service.storage.bulk import is_one_of
from service.storage.rounds import Sight, in_sight
from service.storage.tables.findings import FindingRow
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import ClientRow, EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit

#: states of a round that came back
WALKED = (RoundState.RETURNED, RoundState.SIGNED_OFF)
_BEHIND_COVER = tuple(access.value for access in Access if access.behind_cover)
_DAY = timedelta(days=1)


def sites_of_year(
    unit: Unit, site_ids: frozenset[int] | None, *, at_end: datetime | None
) -> tuple[YearSite, ...]:
    """Sites in sight by client and name: those in use now, or at an instant gone by."""
    query = (
        select(SiteRow.id, ClientRow.id, ClientRow.name, SiteRow.name, SiteRow.time_zone)
        .join(ClientRow, ClientRow.id == SiteRow.client_id)
        .where(in_use(SiteRow, at_end))
        .order_by(ClientRow.name, ClientRow.id, SiteRow.name, SiteRow.id)
    )
    if site_ids is not None:
        query = query.where(is_one_of(unit, SiteRow.id, site_ids))
    return tuple(YearSite(*row) for row in unit.session.execute(query))


def in_use(table: Any, at: datetime | None) -> ColumnElement[bool]:
    """A thing of the register in use now, or at an instant."""
    if at is None:
        now: ColumnElement[bool] = table.retired_at.is_(None)
        return now
    return and_(table.created_at <= at, or_(table.retired_at.is_(None), table.retired_at > at))


def years_of_client(unit: Unit, client_id: int) -> tuple[int, int] | None:
    """Years of the first and the last round of a client; None where it has none."""
    query = select(func.min(RoundRow.planned_on), func.max(RoundRow.planned_on))
    first, last = unit.session.execute(query.where(RoundRow.client_id == client_id)).one()
    return None if first is None else (first.year, last.year)


def rounds_by_month(
    unit: Unit, sight: Sight, *, year: int, client_id: int, site_id: int | None
) -> dict[int, Counter[RoundState]]:
    """By month of the day for which they were planned: rounds in sight by state."""
    month = extract("month", RoundRow.planned_on)
    query = (
        select(month, RoundRow.state, func.count())
        .where(_planned_in(year), RoundRow.client_id == client_id, *in_sight(sight))
        .group_by(month, RoundRow.state)
    )
    if site_id is not None:
        query = query.where(exists().where(StopRow.round_id == RoundRow.id, StopRow.site_id == site_id))
    found: dict[int, Counter[RoundState]] = {}
    for of_month, state, count in unit.session.execute(query):
        found.setdefault(int(of_month), Counter())[RoundState(state)] += count
    return found


def covers_by_month(unit: Unit, site_ids: Collection[int], *, year: int) -> dict[int, int]:
    """Stops at equipment behind a hinged or bolted cover from which a reading came back, by the round's month.

    A reading through a window opened nothing, and a reason instead of a reading neither. Whether
    there is a cover is told by the register as it is now.
    """
    newer = aliased(ReadingRow)
    read = (
        exists()
        .where(RoundPointRow.stop_id == StopRow.id)
        .where(ReadingRow.row_id == RoundPointRow.id)
        .where(ReadingRow.not_assessable.is_(None), ReadingRow.temperature_c.is_not(None))
        .where(or_(ReadingRow.through_window.is_(None), ReadingRow.through_window.is_(False)))
        .where(~exists().where(newer.supersedes_id == ReadingRow.id))
    )
    month = extract("month", RoundRow.planned_on)
    query = (
        select(month, func.count())
        .select_from(StopRow)
        .join(RoundRow, RoundRow.id == StopRow.round_id)
        .join(EquipmentRow, EquipmentRow.id == StopRow.equipment_id)
        .where(
            _planned_in(year),
            RoundRow.state.in_([state.value for state in WALKED]),
            EquipmentRow.access.in_(_BEHIND_COVER),
            is_one_of(unit, StopRow.site_id, site_ids),
            read,
        )
        .group_by(month)
    )
    return {int(of_month): count for of_month, count in unit.session.execute(query)}


def findings_of_year(unit: Unit, site_ids: Collection[int], *, year: int) -> tuple[OpenedFinding, ...]:
    """Findings opened in the year on the calendar of their site; slips that were corrected left out."""
    first = datetime(year, 1, 1, tzinfo=UTC) - _DAY
    last = datetime(year, 12, 31, tzinfo=UTC) + 2 * _DAY
    of_reading = or_(FindingRow.round_id.is_not(None), FindingRow.reading_id.is_not(None))
    query = (
        _with_place()
        .add_columns(case((of_reading, 1), else_=0))
        .where(
            FindingRow.opened_at >= first,
            FindingRow.opened_at < last,
            FindingRow.outcome != READING_CORRECTED,
            is_one_of(unit, FindingRow.site_id, site_ids),
        )
    )
    days = [
        (local_day(at, zone), bool(read), access in _BEHIND_COVER)
        for at, zone, access, read in unit.session.execute(query)
    ]
    return tuple(OpenedFinding(on.month, read, behind) for on, read, behind in days if on.year == year)


def _with_place() -> Select[*tuple[Any, ...]]:
    """When a finding was opened, the time zone of its site, and how its equipment is reached."""
    return (
        select(FindingRow.opened_at, SiteRow.time_zone, EquipmentRow.access)
        .join(SiteRow, SiteRow.id == FindingRow.site_id)
        .outerjoin(PointRow, PointRow.id == FindingRow.point_id)
        .outerjoin(ViewRow, ViewRow.id == PointRow.view_id)
        .outerjoin(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
    )


def _planned_in(year: int) -> ColumnElement[bool]:
    return RoundRow.planned_on.between(date(year, 1, 1), date(year, 12, 31))
