"""Sites as a plan needs them."""

from collections.abc import Collection

from sqlalchemy import select

from service.domain.plan_visits import PlanSite
from service.storage.tables.register import ClientRow, SiteRow
from service.storage.unit import Unit


def sites_to_plan(unit: Unit, site_ids: Collection[int]) -> dict[int, PlanSite]:
    """Sites in use among these, by id."""
    query = select(SiteRow).where(SiteRow.id.in_(site_ids), SiteRow.retired_at.is_(None))
    return {
        row.id: PlanSite(
            id=row.id,
            client_id=row.client_id,
            name=row.name,
            time_zone=row.time_zone,
            latitude=row.latitude,
            longitude=row.longitude,
            setup_minutes=row.setup_minutes,
            opening_hours=row.opening_hours,
            two_people=row.two_people,
        )
        for row in unit.session.scalars(query.order_by(SiteRow.name, SiteRow.id))
    }


def cover_minutes(unit: Unit, client_id: int) -> float:
    """Minutes of reading that one opened cover is worth to the plans of a client [min]."""
    return unit.session.scalar(select(ClientRow.cover_minutes).where(ClientRow.id == client_id)) or 0.0
