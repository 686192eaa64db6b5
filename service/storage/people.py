"""People: who they are, their role and their password's hash."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import Select, and_, or_, select

from service.domain.people import Account, Person, PersonFields, PersonRecord
from service.domain.words import Role, TemperatureUnit
from service.storage.certificates import certificates_of
from service.storage.grants import grants_of
from service.storage.tables.people import GrantRow, PersonRow
from service.storage.unit import Unit
from service.storage.versions import row_to_edit


def person_of(row: PersonRow) -> Person:
    """The person a row tells of, without what only signing in may see."""
    return Person(
        id=row.id,
        login=row.login,
        name=row.name,
        role=Role(row.role),
        email=row.email,
        qualified=row.qualified,
        active=row.active,
        version=row.version,
        temperature_unit=TemperatureUnit(row.temperature_unit),
    )


def _account(unit: Unit, query: Select[PersonRow]) -> Account | None:
    row = unit.session.scalar(query)
    if row is None:
        return None
    return Account(person=person_of(row), password_hash=row.password_hash, demo=row.demo)


def account_by_login(unit: Unit, login: str) -> Account | None:
    return _account(unit, select(PersonRow).where(PersonRow.login == login))


def account_by_id(unit: Unit, person_id: int) -> Account | None:
    return _account(unit, select(PersonRow).where(PersonRow.id == person_id))


def keep_password_hash(unit: Unit, person_id: int, encoded: str) -> None:
    """Replace the stored hash alone (the same password at another cost)."""
    unit.session.get_one(PersonRow, person_id).password_hash = encoded


def keep_temperature_unit(unit: Unit, person_id: int, wanted: TemperatureUnit) -> TemperatureUnit:
    """Take a person's own wish, which no edit of their account touches; what it was before."""
    row = unit.session.get_one(PersonRow, person_id, with_for_update=True)
    before = TemperatureUnit(row.temperature_unit)
    row.temperature_unit = wanted.value
    return before


def add_person(
    unit: Unit, fields: PersonFields, *, password_hash: str, now: datetime, demo: bool = False
) -> Person:
    row = PersonRow(password_hash=password_hash, demo=demo, created_at=now, changed_at=now)
    _fill(row, fields)
    unit.session.add(row)
    unit.session.flush()
    return person_of(row)


def edit_person(unit: Unit, person_id: int, fields: PersonFields, *, version: int, now: datetime) -> Person:
    row = row_to_edit(unit, PersonRow, person_id, version=version, now=now)
    _fill(row, fields)
    unit.session.flush()
    return person_of(row)


def _fill(row: PersonRow, fields: PersonFields) -> None:
    row.login = fields.login
    row.name = fields.name
    row.role = fields.role.value
    row.email = fields.email
    row.qualified = fields.qualified


def set_active(unit: Unit, person_id: int, active: bool, *, version: int, now: datetime) -> Person:
    row = row_to_edit(unit, PersonRow, person_id, version=version, now=now)
    row.active = active
    unit.session.flush()
    return person_of(row)


def set_password_hash(unit: Unit, person_id: int, encoded: str, *, version: int, now: datetime) -> Person:
    row = row_to_edit(unit, PersonRow, person_id, version=version, now=now)
    row.password_hash = encoded
    unit.session.flush()
    return person_of(row)


def count_active_administrators(unit: Unit, *, besides: int | None = None) -> int:
    """Administrators who can still sign in; their rows wait for each other while this is asked."""
    rows = unit.session.scalars(
        select(PersonRow.id)
        .where(PersonRow.role == Role.ADMINISTRATOR.value, PersonRow.active)
        .order_by(PersonRow.id)
        .with_for_update()
    )
    return sum(row != besides for row in rows)


def list_people(unit: Unit, *, after: int, limit: int) -> tuple[Person, ...]:
    rows = unit.session.scalars(
        select(PersonRow).where(PersonRow.id > after).order_by(PersonRow.id).limit(limit)
    )
    return tuple(person_of(row) for row in rows)


def demo_people(unit: Unit) -> tuple[Person, ...]:
    rows = unit.session.scalars(
        select(PersonRow).where(PersonRow.demo, PersonRow.active).order_by(PersonRow.id).limit(12)
    )
    return tuple(person_of(row) for row in rows)


def person_record(unit: Unit, person_id: int) -> PersonRecord | None:
    row = unit.session.get(PersonRow, person_id)
    if row is None:
        return None
    return PersonRecord(
        person=person_of(row),
        certificates=certificates_of(unit, person_id),
        grants=grants_of(unit, person_id),
        demo=row.demo,
    )


def people_in_sight(
    unit: Unit, *, sites: Collection[int] | None, clients: Collection[int], limit: int = 500
) -> tuple[Person, ...]:
    """Active people granted one of these sites or clients (None: everybody), by name."""
    query = select(PersonRow).where(PersonRow.active)
    if sites is not None:
        shared = select(GrantRow.person_id).where(
            or_(
                GrantRow.site_id.in_(sites),
                and_(GrantRow.site_id.is_(None), GrantRow.client_id.in_(clients)),
            )
        )
        query = query.where(PersonRow.id.in_(shared))
    rows = unit.session.scalars(query.order_by(PersonRow.name, PersonRow.id).limit(limit))
    return tuple(person_of(row) for row in rows)


def count_up(unit: Unit, person_id: int, *, version: int, now: datetime) -> Person:
    """A new version of a person whose grants or certificates change."""
    return person_of(row_to_edit(unit, PersonRow, person_id, version=version, now=now))
