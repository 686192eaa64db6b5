"""Which criteria sets there are, and which one each site and each class of its equipment is judged by."""

from collections import Counter
from collections.abc import Iterable
from datetime import date, datetime

from sqlalchemy import delete, select

from service.domain.criteria_kept import ClassChoice, KeptCriteria, SiteCriteria
from service.domain.criteria_owners import client_of, is_shipped
from service.errors import Conflict, NotFound
from service.storage.bulk import is_one_of
from service.storage.criteria import class_key, criteria_in_force, edits_of, read_criteria
from service.storage.tables.register import (
    ClientRow,
    CriteriaOfClassRow,
    CriteriaSetRow,
    EquipmentRow,
    SiteRow,
)
from service.storage.unit import Unit
from service.storage.versions import row_to_edit


def kept_criteria(unit: Unit, ids: Iterable[int] | None = None) -> tuple[KeptCriteria, ...]:
    """Every set, or those of some ids; the latest version of each name first."""
    columns = (
        *(CriteriaSetRow.id, CriteriaSetRow.name, CriteriaSetRow.version, CriteriaSetRow.valid_from),
        *(CriteriaSetRow.locked, CriteriaSetRow.created_at, CriteriaSetRow.body),
    )
    query = select(*columns).order_by(CriteriaSetRow.name, CriteriaSetRow.version.desc())
    if ids is not None:
        query = query.where(is_one_of(unit, CriteriaSetRow.id, set(ids)))
    newest = _newest_versions(unit)
    return tuple(
        KeptCriteria(
            id=row.id,
            name=row.name,
            edits=edits_of(row.body),
            valid_from=row.valid_from,
            locked=row.locked,
            newest=row.version == newest[row.name],
            client_id=client_of(row.name),
            shipped=is_shipped(row.name),
            criteria=read_criteria(row.id, row.created_at, row.body),
        )
        for row in unit.session.execute(query)
    )


def _newest_versions(unit: Unit) -> dict[str, int]:
    newest: dict[str, int] = {}
    for name, version in unit.session.execute(select(CriteriaSetRow.name, CriteriaSetRow.version)):
        newest[name] = max(version, newest.get(name, 0))
    return newest


def criteria_of_sites(
    unit: Unit, site_ids: Iterable[int] | None, *, now: datetime
) -> tuple[SiteCriteria, ...]:
    """By site name what each is judged by; the shipped sets must be there."""
    columns = (SiteRow.id, SiteRow.name, SiteRow.client_id, SiteRow.version, SiteRow.criteria_id)
    query = select(*columns).where(SiteRow.retired_at.is_(None))
    if site_ids is not None:
        query = query.where(SiteRow.id.in_(sorted(site_ids)))
    rows = unit.session.execute(query.order_by(SiteRow.name)).all()
    ids = [row.id for row in rows]
    in_force = criteria_in_force(unit, ids, now=now)
    classes, chosen = _classes_of(unit, ids), _chosen_of(unit, ids)
    return tuple(
        SiteCriteria(
            site_id=row.id,
            site_name=row.name,
            client_id=row.client_id,
            version=row.version,
            chosen_id=row.criteria_id,
            in_force_id=in_force[row.id],
            classes=tuple(classes.get(row.id, ())),
            chosen=tuple(chosen.get(row.id, ())),
        )
        for row in rows
    )


def _classes_of(unit: Unit, site_ids: Iterable[int]) -> dict[int, list[str]]:
    """Classes of equipment in the registers of sites, as choices are kept by them."""
    query = (
        select(EquipmentRow.site_id, EquipmentRow.equipment_class)
        .where(is_one_of(unit, EquipmentRow.site_id, site_ids), EquipmentRow.retired_at.is_(None))
        .distinct()
    )
    found: dict[int, set[str]] = {}
    for site_id, told in unit.session.execute(query):
        if class_key(told):
            found.setdefault(site_id, set()).add(class_key(told))
    return {site_id: sorted(classes) for site_id, classes in found.items()}


def _chosen_of(unit: Unit, site_ids: Iterable[int]) -> dict[int, list[ClassChoice]]:
    query = (
        select(CriteriaOfClassRow.site_id, CriteriaOfClassRow.equipment_class, CriteriaOfClassRow.criteria_id)
        .where(is_one_of(unit, CriteriaOfClassRow.site_id, site_ids))
        .order_by(CriteriaOfClassRow.equipment_class)
    )
    found: dict[int, list[ClassChoice]] = {}
    for site_id, told, criteria_id in unit.session.execute(query):
        found.setdefault(site_id, []).append(ClassChoice(told, criteria_id))
    return found


def choose_criteria(
    unit: Unit, site_id: int, criteria_id: int | None, *, version: int, now: datetime
) -> int | None:
    """Set a site's own choice; returns the one before.

    Raises
    ------
    NotFound
        No such set, or that of another client.
    Conflict
        The set is switched off, or valid from a later day.
    service.errors.Stale
        The site was changed meanwhile.
    """
    row = row_to_edit(unit, SiteRow, site_id, version=version, now=now)
    if criteria_id is not None:
        take_into_use(unit, criteria_id, client_id=row.client_id, on=now.date())
    before = row.criteria_id
    row.criteria_id = criteria_id
    return before


def choose_class_criteria(
    unit: Unit,
    site_id: int,
    equipment_class: str,
    *,
    criteria_id: int | None,
    version: int,
    now: datetime,
    by_person_id: int | None,
) -> int | None:
    """Set the choice of one class of equipment at a site, or take it back; returns the one before.

    Raises as `choose_criteria`.
    """
    site = row_to_edit(unit, SiteRow, site_id, version=version, now=now)
    if criteria_id is not None:
        take_into_use(unit, criteria_id, client_id=site.client_id, on=now.date())
    key = class_key(equipment_class)
    of_class = (CriteriaOfClassRow.site_id == site_id, CriteriaOfClassRow.equipment_class == key)
    before = unit.session.scalar(select(CriteriaOfClassRow.criteria_id).where(*of_class))
    unit.session.execute(delete(CriteriaOfClassRow).where(*of_class))
    if criteria_id is not None:
        row = CriteriaOfClassRow(
            site_id=site_id, equipment_class=key, criteria_id=criteria_id, at=now, by_person_id=by_person_id
        )
        unit.session.add(row)
    unit.session.flush()
    return before


def take_into_use(unit: Unit, criteria_id: int, *, client_id: int, on: date) -> None:
    """Lock a set before readings can be judged by it, so that what they stand on never changes."""
    row = unit.session.get(CriteriaSetRow, criteria_id, with_for_update=True, populate_existing=True)
    if row is None or client_of(row.name) not in (None, client_id):
        raise NotFound("There is no such set of criteria.")
    if row.valid_from > on:
        raise Conflict(
            "This set may not be chosen yet: it is switched off, or valid from a later day.",
            remedy="An administrator switches presets on; a set of your own says from which day it is valid.",
        )
    row.locked = True


def uses_of_criteria(unit: Unit) -> Counter[int]:
    """By set how many clients, sites and classes of equipment have chosen it."""
    uses: Counter[int] = Counter()
    for column in (ClientRow.criteria_id, SiteRow.criteria_id, CriteriaOfClassRow.criteria_id):
        uses.update(unit.session.scalars(select(column).where(column.is_not(None))))
    return uses
