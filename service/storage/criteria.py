"""Sets of criteria: kept whole, found for a site, locked once a verdict stands on them."""

from collections.abc import Iterable
from datetime import date, datetime

from sqlalchemy import func, select, update

from service.domain.criteria import Criteria
from service.domain.presets import DEFAULT_CRITERIA, PRESETS
from service.storage.bulk import is_one_of
from service.storage.tables.register import ClientRow, CriteriaSetRow, SiteRow
from service.storage.unit import Unit

#: Sets read before, by name, version and date made: a set never changes once it is kept.
_READ: dict[tuple[int, str, int, datetime], Criteria] = {}
_MOST_READ = 64


def add_missing_presets(unit: Unit, *, now: datetime) -> int:
    """Keep the sets shipped with the service that are not there yet; returns how many came."""
    there = {
        (name, version)
        for name, version in unit.session.execute(select(CriteriaSetRow.name, CriteriaSetRow.version))
    }
    missing = [preset for preset in PRESETS.values() if (preset.id, preset.version) not in there]
    for preset in missing:
        add_criteria(unit, preset, valid_from=date(2000, 1, 1), now=now, by_person_id=None)
    return len(missing)


def add_criteria(
    unit: Unit, criteria: Criteria, *, valid_from: date, now: datetime, by_person_id: int | None
) -> int:
    row = CriteriaSetRow(
        name=criteria.id,
        version=criteria.version,
        title=criteria.title,
        citation=criteria.citation,
        confidence=criteria.confidence.value,
        body=criteria.to_dict(),
        valid_from=valid_from,
        locked=False,
        created_at=now,
        by_person_id=by_person_id,
    )
    unit.session.add(row)
    unit.session.flush()
    return row.id


def criteria_by_id(unit: Unit, ids: Iterable[int]) -> dict[int, Criteria]:
    """Whole sets by their id."""
    columns = (
        CriteriaSetRow.id,
        CriteriaSetRow.name,
        CriteriaSetRow.version,
        CriteriaSetRow.created_at,
        CriteriaSetRow.body,
    )
    query = select(*columns).where(is_one_of(unit, CriteriaSetRow.id, set(ids)))
    return {row.id: _read(*row) for row in unit.session.execute(query)}


def _read(row_id: int, name: str, version: int, made: datetime, body: dict[str, object]) -> Criteria:
    mark = (row_id, name, version, made)
    if mark not in _READ:
        if len(_READ) >= _MOST_READ:
            _READ.clear()
        _READ[mark] = Criteria.from_dict(body)
    return _READ[mark]


def criteria_in_force(unit: Unit, site_ids: Iterable[int], *, now: datetime) -> dict[int, int]:
    """By site the id of its set: the site's own, else its client's, else the shipped default.

    A database that was never given the shipped sets is given them here.
    """
    found = _in_force(unit, site_ids)
    if any(set_id is None for set_id in found.values()):
        add_missing_presets(unit, now=now)
        found = _in_force(unit, site_ids)
    return {site_id: set_id for site_id, set_id in found.items() if set_id is not None}


def _in_force(unit: Unit, site_ids: Iterable[int]) -> dict[int, int | None]:
    default = (
        select(CriteriaSetRow.id)
        .where(CriteriaSetRow.name == DEFAULT_CRITERIA.id)
        .order_by(CriteriaSetRow.version.desc())
        .limit(1)
        .scalar_subquery()
    )
    query = (
        select(SiteRow.id, func.coalesce(SiteRow.criteria_id, ClientRow.criteria_id, default))
        .join(ClientRow, ClientRow.id == SiteRow.client_id)
        .where(is_one_of(unit, SiteRow.id, site_ids))
    )
    return dict(unit.session.execute(query).all())


def lock_criteria(unit: Unit, ids: Iterable[int]) -> None:
    """A verdict stands on them: from now on a change is a new version."""
    wanted = is_one_of(unit, CriteriaSetRow.id, set(ids))
    unit.session.execute(
        update(CriteriaSetRow)
        .where(wanted, CriteriaSetRow.locked.is_(False))
        .values(locked=True)
        .execution_options(synchronize_session=False)
    )
