"""Sets of criteria: kept whole, found for a site, locked once a verdict stands on them."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any
from uuid import uuid4

from sqlalchemy import func, select, update

from service.domain.criteria import Criteria
from service.domain.criteria_owners import NEVER
from service.domain.presets import DEFAULT_CRITERIA, OFF_BY_DEFAULT, PRESETS
from service.storage.bulk import is_one_of
from service.storage.tables.register import (
    ClientRow,
    CriteriaOfClassRow,
    CriteriaSetRow,
    EquipmentRow,
    SiteRow,
    ViewRow,
)
from service.storage.unit import Unit

#: Sets read before, by id and the mark of their last writing.
_READ: dict[tuple[int, str], Criteria] = {}
_MOST_READ = 64
#: What is kept beside the fields of a set: how often it was written, and a mark of the last time.
KEPT = "kept"


def add_missing_presets(unit: Unit, *, now: datetime) -> int:
    """Keep the sets shipped with the service that are not there yet; returns how many came."""
    there = {
        (name, version)
        for name, version in unit.session.execute(select(CriteriaSetRow.name, CriteriaSetRow.version))
    }
    missing = [preset for preset in PRESETS.values() if (preset.id, preset.version) not in there]
    for preset in missing:
        valid_from = NEVER if preset.id in OFF_BY_DEFAULT else date(2000, 1, 1)
        add_criteria(unit, preset, valid_from=valid_from, now=now, by_person_id=None)
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
        body=body_to_keep(criteria, edits=1),
        valid_from=valid_from,
        locked=False,
        created_at=now,
        by_person_id=by_person_id,
    )
    unit.session.add(row)
    unit.session.flush()
    return row.id


def body_to_keep(criteria: Criteria, *, edits: int) -> dict[str, Any]:
    return criteria.to_dict() | {KEPT: {"edits": edits, "mark": uuid4().hex}}


def edits_of(body: Mapping[str, Any]) -> int:
    """How often a set was written; the version that an edit of it names."""
    return int(body.get(KEPT, {}).get("edits", 1))


def criteria_by_id(unit: Unit, ids: Iterable[int]) -> dict[int, Criteria]:
    """Whole sets by their id."""
    columns = (CriteriaSetRow.id, CriteriaSetRow.created_at, CriteriaSetRow.body)
    query = select(*columns).where(is_one_of(unit, CriteriaSetRow.id, set(ids)))
    return {row.id: read_criteria(*row) for row in unit.session.execute(query)}


def read_criteria(row_id: int, made: datetime, body: dict[str, Any]) -> Criteria:
    """A set as it was kept; one that was read before is not read again."""
    mark = (row_id, str(body.get(KEPT, {}).get("mark", made)))
    if mark not in _READ:
        if len(_READ) >= _MOST_READ:
            _READ.clear()
        _READ[mark] = Criteria.from_dict({name: value for name, value in body.items() if name != KEPT})
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


def criteria_of_views(unit: Unit, view_ids: Iterable[int], *, now: datetime) -> dict[int, int]:
    """By view the id of the set in force: of its class of equipment at the site, else as the site.

    Parameters
    ----------
    unit : Unit
        A writing unit: a database that was never given the shipped sets is given them here.
    view_ids : iterable of int
        Views, each of one piece of equipment.
    now : datetime
        The instant of the request.
    """
    query = (
        select(ViewRow.id, ViewRow.site_id, EquipmentRow.equipment_class)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .where(is_one_of(unit, ViewRow.id, set(view_ids)))
    )
    views = unit.session.execute(query).all()
    sites = {row.site_id for row in views}
    by_class = criteria_of_classes(unit, sites)
    by_site = criteria_in_force(unit, sites, now=now)
    return {
        row.id: by_class.get((row.site_id, class_key(row.equipment_class)), by_site[row.site_id])
        for row in views
    }


def criteria_of_classes(unit: Unit, site_ids: Iterable[int]) -> dict[tuple[int, str], int]:
    """By site and class of equipment the id of a set chosen for that class."""
    columns = (CriteriaOfClassRow.site_id, CriteriaOfClassRow.equipment_class, CriteriaOfClassRow.criteria_id)
    query = select(*columns).where(is_one_of(unit, CriteriaOfClassRow.site_id, set(site_ids)))
    return {(site_id, told): set_id for site_id, told, set_id in unit.session.execute(query)}


def class_key(equipment_class: str) -> str:
    """A class of equipment as choices are kept by it: case and spaces make no other class."""
    return " ".join(equipment_class.casefold().split())


def lock_criteria(unit: Unit, ids: Iterable[int]) -> None:
    """A verdict stands on them: from now on a change is a new version."""
    wanted = is_one_of(unit, CriteriaSetRow.id, set(ids))
    unit.session.execute(
        update(CriteriaSetRow)
        .where(wanted, CriteriaSetRow.locked.is_(False))
        .values(locked=True)
        .execution_options(synchronize_session=False)
    )
