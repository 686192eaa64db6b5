"""People, what they are certified for and what is granted to them."""

from sqlalchemy import Select, and_, or_, select

from service.domain.people import Account, Person, Sight
from service.domain.words import Role
from service.storage.tables.people import GrantRow, PersonRow
from service.storage.tables.register import ClientRow, SiteRow
from service.storage.unit import Unit


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


def sights_of(unit: Unit, person_id: int) -> tuple[Sight, ...]:
    """Every client and site that the grants of a person open, retired ones included."""
    opened = and_(
        SiteRow.client_id == GrantRow.client_id,
        or_(GrantRow.site_id.is_(None), GrantRow.site_id == SiteRow.id),
    )
    rows = unit.session.execute(
        select(ClientRow.id, ClientRow.name, GrantRow.site_id, SiteRow.id)
        .select_from(GrantRow)
        .join(ClientRow, ClientRow.id == GrantRow.client_id)
        .outerjoin(SiteRow, opened)
        .where(GrantRow.person_id == person_id)
    )
    return tuple(
        Sight(client_id=client, client_name=name, whole_client=granted_site is None, site_id=site)
        for client, name, granted_site, site in rows
    )
