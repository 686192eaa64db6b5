"""A plant with places on the map, people with hours, and plans of its December."""

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import update

from service.domain.planning import WalkingHours, WalkPart
from service.domain.plans import MonthPlan
from service.domain.words import Role
from service.jobs.worker import Worker
from service.storage.tables.people import CertificateRow
from service.storage.tables.register import EquipmentRow, SiteRow
from service.storage.unit import Store
from service.usecases.plans import walkers
from service.usecases.plans.see import PlanPage, read_plan
from service.usecases.plans.start import PlanWish, start_plan
from tests.builders import STAMPS, Plant, add, build_plant

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
DECEMBER = date(2026, 12, 1)
#: two hours of every Tuesday and Thursday, so that not everything fits
HOURS = "tue,thu 08:00-11:00"


def planning_plant(store: Store, *, sites: int = 2, boards: int = 6, hours: str = HOURS) -> Plant:
    """Sites ten kilometres apart; a technician who reads, and an engineer, qualified, who goes along."""
    plant = build_plant(store, sites=sites, boards=boards, views=1)
    with store.begin() as unit:
        for at, site_id in enumerate(plant.site_ids):
            place = {"latitude": 54.0 + at * 0.09, "longitude": -1.0}
            unit.session.execute(update(SiteRow).where(SiteRow.id == site_id).values(**place))
        add(
            unit,
            CertificateRow(
                person_id=plant.people[Role.TECHNICIAN], category=1, expires_on=date(2030, 1, 1), **STAMPS
            ),
        )
    wish = WalkingHours(person_id=plant.people[Role.TECHNICIAN], part=WalkPart.READS, hours=hours)
    walkers.set_walking_hours(store, plant.actor(), wish, version=0, now=NOW)
    return plant


def set_equipment(store: Store, equipment_id: int, **values: Any) -> None:
    with store.begin() as unit:
        unit.session.execute(update(EquipmentRow).where(EquipmentRow.id == equipment_id).values(**values))


def work_off(store: Store) -> None:
    """Let a worker do what is waiting."""
    Worker(store, clock=lambda: NOW).work_off()


def begun(store: Store, plant: Plant, **change: Any) -> MonthPlan:
    wish = PlanWish(
        **({"name": "December", "month_on": DECEMBER, "site_ids": tuple(plant.site_ids)} | change)
    )
    return start_plan(store, plant.actor(), wish, now=NOW)


def drawn(store: Store, plant: Plant, **change: Any) -> PlanPage:
    """A plan that a worker has drawn up."""
    plan = begun(store, plant, **change)
    work_off(store)
    return read_plan(store, plant.actor(), plan.id)
