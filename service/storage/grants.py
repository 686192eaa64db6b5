"""What is granted to people, and the sites that opens."""

from sqlalchemy import ColumnElement, and_, or_, select

from service.domain.people import Grant, Sight
from service.errors import NotFound
from service.storage.tables.people import GrantRow
from service.storage.tables.register import ClientRow, SiteRow
from service.storage.unit import Unit

#: sites whose names no password may be made of
MOST_SITES = 1000


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


def _grants(unit: Unit, which: ColumnElement[bool]) -> tuple[Grant, ...]:
    rows = unit.session.execute(
        select(GrantRow.id, GrantRow.client_id, GrantRow.site_id, ClientRow.name, SiteRow.name)
        .join(ClientRow, ClientRow.id == GrantRow.client_id)
        .outerjoin(SiteRow, SiteRow.id == GrantRow.site_id)
        .where(which)
        .order_by(ClientRow.name, SiteRow.name, GrantRow.id)
    )
    return tuple(
        Grant(client_id=client, site_id=site, id=key, client_name=name, site_name=site_name or "")
        for key, client, site, name, site_name in rows
    )


def grants_of(unit: Unit, person_id: int) -> tuple[Grant, ...]:
    return _grants(unit, GrantRow.person_id == person_id)


def what_can_be_granted(unit: Unit) -> tuple[Sight, ...]:
    """Every client, each followed by its sites (as ``site_id``), in order of name."""
    rows = unit.session.execute(
        select(ClientRow.id, ClientRow.name, SiteRow.id, SiteRow.name)
        .outerjoin(SiteRow, SiteRow.client_id == ClientRow.id)
        .order_by(ClientRow.name, ClientRow.id, SiteRow.name)
    )
    return tuple(
        Sight(client_id=client, client_name=name, whole_client=False, site_id=site, site_name=site_name or "")
        for client, name, site, site_name in rows
    )


def can_be_granted(unit: Unit, client_id: int, site_id: int | None) -> bool:
    """True when there is such a client, and the site (if one is named) is its own."""
    if site_id is None:
        return unit.session.get(ClientRow, client_id) is not None
    site = unit.session.get(SiteRow, site_id)
    return site is not None and site.client_id == client_id


def names_of_places(unit: Unit) -> tuple[str, ...]:
    """Names and codes of clients and of the first thousand sites in use."""
    clients = unit.session.execute(select(ClientRow.name, ClientRow.code).order_by(ClientRow.id))
    sites = unit.session.execute(
        select(SiteRow.name, SiteRow.code)
        .where(SiteRow.retired_at.is_(None))
        .order_by(SiteRow.id)
        .limit(MOST_SITES)
    )
    return tuple(word for names in (*clients, *sites) for word in names)


def add_grant(unit: Unit, person_id: int, client_id: int, site_id: int | None) -> Grant:
    """Add a grant; one that is there already is not added twice."""
    same_site = GrantRow.site_id.is_(None) if site_id is None else GrantRow.site_id == site_id
    same = and_(GrantRow.person_id == person_id, GrantRow.client_id == client_id, same_site)
    known = _grants(unit, same)
    if known:
        return known[0]
    row = GrantRow(person_id=person_id, client_id=client_id, site_id=site_id)
    unit.session.add(row)
    unit.session.flush()
    return _grants(unit, GrantRow.id == row.id)[0]


def remove_grant(unit: Unit, person_id: int, grant_id: int) -> Grant:
    row = unit.session.get(GrantRow, grant_id)
    if row is None or row.person_id != person_id:
        raise NotFound()
    gone = _grants(unit, GrantRow.id == grant_id)[0]
    unit.session.delete(row)
    unit.session.flush()
    return gone
