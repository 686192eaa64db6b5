"""Reading the audit trail, filtered by what the reader may see."""

from collections.abc import Collection

from sqlalchemy import ColumnElement, and_, or_, select

from service.domain.audit import AuditEntry, AuditQuestion
from service.storage.tables.people import GrantRow
from service.storage.tables.record import AuditRow
from service.storage.tables.register import EquipmentRow, SiteRow
from service.storage.tables.rounds import RouteStopRow, StopRow
from service.storage.unit import Unit


def entries(
    unit: Unit, question: AuditQuestion, *, sites: Collection[int] | None, clients: Collection[int]
) -> tuple[AuditEntry, ...]:
    """Entries of these sites (None: all), the newest first.

    Those of rounds and routes are given where every stop lies at such a site; others without a
    site where their doer is granted nothing outside ``clients``.
    """
    query = (
        select(AuditRow, SiteRow.name)
        .outerjoin(SiteRow, SiteRow.id == AuditRow.site_id)
        .where(*_asked(question))
        .order_by(AuditRow.id.desc())
        .limit(question.limit)
    )
    if sites is not None:
        own = (AuditRow.site_id.in_(sites), _of_walks(sites), _by_own_people(clients))
        query = query.where(or_(*own))
    return tuple(_entry(row, site_name) for row, site_name in unit.session.execute(query))


def _asked(question: AuditQuestion) -> list[ColumnElement[bool]]:
    asked = [AuditRow.id < question.before_id] if question.before_id is not None else []
    if question.noun:
        asked.append(AuditRow.noun == question.noun)
    for column, value in (
        (AuditRow.noun_id, question.noun_id),
        (AuditRow.site_id, question.site_id),
        (AuditRow.person_id, question.person_id),
    ):
        if value is not None:
            asked.append(column == value)
    return asked


def _of_walks(sites: Collection[int]) -> ColumnElement[bool]:
    stops = select(StopRow.round_id.label("walk"), StopRow.site_id.label("site"))
    route_stops = select(RouteStopRow.route_id.label("walk"), EquipmentRow.site_id.label("site")).join(
        EquipmentRow, EquipmentRow.id == RouteStopRow.equipment_id
    )
    return or_(
        *(
            and_(
                AuditRow.noun == noun,
                AuditRow.noun_id.in_(select(at.c.walk).where(at.c.site.in_(sites))),
                AuditRow.noun_id.not_in(select(at.c.walk).where(at.c.site.not_in(sites))),
            )
            for noun, at in (("round", stops.subquery()), ("route", route_stops.subquery()))
        )
    )


def _by_own_people(clients: Collection[int]) -> ColumnElement[bool]:
    inside = select(GrantRow.person_id).where(GrantRow.client_id.in_(clients))
    outside = select(GrantRow.person_id).where(GrantRow.client_id.not_in(clients))
    return and_(
        AuditRow.site_id.is_(None),
        AuditRow.person_id.in_(inside),
        AuditRow.person_id.not_in(outside),
    )


def _entry(row: AuditRow, site_name: str | None) -> AuditEntry:
    return AuditEntry(
        id=row.id,
        at=row.at,
        person_id=row.person_id,
        person_name=row.person_name,
        verb=row.verb,
        noun=row.noun,
        noun_id=row.noun_id,
        site_id=row.site_id,
        site_name=site_name or "",
        before=row.before,
        after=row.after,
    )
