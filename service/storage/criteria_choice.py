"""Which criteria sets there are, and which one each site is judged by."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select

from service.domain.criteria import Criteria
from service.errors import NotFound
from service.storage.criteria import criteria_by_id, criteria_in_force
from service.storage.tables.register import CriteriaSetRow, SiteRow
from service.storage.unit import Unit
from service.storage.versions import row_to_edit


@dataclass(frozen=True, slots=True)
class KeptCriteria:
    """A set with what the database knows of it; locked once a verdict stands on it."""

    id: int
    valid_from: date
    locked: bool
    criteria: Criteria


@dataclass(frozen=True, slots=True)
class SiteCriteria:
    """A site, its own choice (None: its client's or the shipped set) and what is in force."""

    site_id: int
    site_name: str
    version: int
    chosen_id: int | None
    in_force_id: int


def kept_criteria(unit: Unit) -> tuple[KeptCriteria, ...]:
    """Every set, latest version of each name first."""
    rows = unit.session.execute(
        select(CriteriaSetRow.id, CriteriaSetRow.valid_from, CriteriaSetRow.locked).order_by(
            CriteriaSetRow.name, CriteriaSetRow.version.desc()
        )
    ).all()
    whole = criteria_by_id(unit, [row.id for row in rows])
    return tuple(KeptCriteria(row.id, row.valid_from, row.locked, whole[row.id]) for row in rows)


def criteria_of_sites(
    unit: Unit, site_ids: Iterable[int] | None, *, now: datetime
) -> tuple[SiteCriteria, ...]:
    """By site name what each is judged by; the shipped sets must be there."""
    query = select(SiteRow.id, SiteRow.name, SiteRow.version, SiteRow.criteria_id).where(
        SiteRow.retired_at.is_(None)
    )
    if site_ids is not None:
        query = query.where(SiteRow.id.in_(sorted(site_ids)))
    rows = unit.session.execute(query.order_by(SiteRow.name)).all()
    in_force = criteria_in_force(unit, [row.id for row in rows], now=now)
    return tuple(
        SiteCriteria(row.id, row.name, row.version, row.criteria_id, in_force[row.id]) for row in rows
    )


def choose_criteria(
    unit: Unit, site_id: int, criteria_id: int | None, *, version: int, now: datetime
) -> int | None:
    """Set a site's own choice; returns the one before.

    Raises
    ------
    NotFound
        No such set.
    service.errors.Stale
        The site was changed meanwhile.
    """
    if criteria_id is not None and unit.session.get(CriteriaSetRow, criteria_id) is None:
        raise NotFound("There is no such set of criteria.")
    row = row_to_edit(unit, SiteRow, site_id, version=version, now=now)
    before = row.criteria_id
    row.criteria_id = criteria_id
    return before
