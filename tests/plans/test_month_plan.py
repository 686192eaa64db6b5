"""A month is planned from what is due, on the days people walk; what finds no place says why."""

import pytest
from sqlalchemy import select, update

from service.domain.jobs import JobKind
from service.domain.plans import body_from_json, body_to_json
from service.domain.words import Access, Role
from service.jobs.handlers import HANDLERS
from service.storage.tables.people import PersonRow
from service.storage.tables.record import JobRow
from service.storage.tables.register import SiteRow
from service.storage.unit import Store
from service.usecases.plans.see import read_plan
from tests.plans.builders import NOW, begun, drawn, planning_plant, set_equipment


def test_a_plan_puts_what_is_due_on_walking_days_within_their_hours(any_store: Store) -> None:
    plant = planning_plant(any_store)
    page = drawn(any_store, plant)
    assert page.body.drawn
    assert page.plan.working is None
    assert page.sums.stops == len(plant.equipment_ids)
    assert page.body.left_out == ()
    for walk in page.body.walks:
        assert walk.day.weekday() in (1, 3)
        assert all(walk.start_min <= stop.start_min for stop in walk.stops)
        assert walk.back_min <= walk.end_min


def test_a_site_that_opens_at_other_hours_on_fridays_is_walked_in_each_days_own(any_store: Store) -> None:
    plant = planning_plant(any_store, hours="mon,fri 08:00-12:00")
    opens = {0: (480.0, 720.0), 4: (600.0, 615.0)}
    with any_store.begin() as unit:
        unit.session.execute(update(SiteRow).values(opening_hours="mon 08:00-12:00; fri 10:00-10:15"))
    stops = [(walk.day.weekday(), stop) for walk in drawn(any_store, plant).body.walks for stop in walk.stops]
    assert len(stops) == len(plant.equipment_ids)
    assert all(opens[day][0] <= stop.start_min and stop.end_min <= opens[day][1] for day, stop in stops)
    assert min(stop.start_min for _, stop in stops) < opens[4][0], "not only in the hours that both have"


def test_a_stop_behind_a_cover_needs_a_qualified_person(store: Store) -> None:
    plant = planning_plant(store)
    with store.begin() as unit:
        unit.session.execute(
            update(PersonRow).where(PersonRow.id == plant.people[Role.TECHNICIAN]).values(qualified=False)
        )
    set_equipment(store, plant.equipment_ids[0], access=Access.BOLTED_COVER.value)
    page = drawn(store, plant)
    left = page.body.left_out
    assert [(one.equipment_id, one.code) for one in left] == [(plant.equipment_ids[0], "no qualified person")]


def test_a_body_survives_its_way_through_the_database(store: Store) -> None:
    page = drawn(store, planning_plant(store))
    assert body_from_json(body_to_json(page.body)) == page.body


def test_the_same_register_gives_the_same_plan(store: Store) -> None:
    plant = planning_plant(store)
    assert drawn(store, plant).body == drawn(store, plant).body


def test_an_order_that_two_workers_do_is_one_version(store: Store) -> None:
    plant = planning_plant(store)
    plan = begun(store, plant)
    with store.look() as unit:
        payload = unit.session.scalars(
            select(JobRow.payload).where(JobRow.kind == JobKind.DRAW_UP_PLAN)
        ).one()
    for _ in range(2):
        HANDLERS[JobKind.DRAW_UP_PLAN](store, payload, now=NOW)
    assert read_plan(store, plant.actor(), plan.id).plan.newest == 2


def test_a_plan_begins_with_a_walk_for_each_working_day(store: Store) -> None:
    plant = planning_plant(store)
    plan = begun(store, plant)
    assert plan.current == 1


@pytest.mark.postgres
def test_both_databases_lead_to_the_same_plan(store: Store, postgres_store: Store) -> None:
    bodies = [drawn(one, planning_plant(one)).body for one in (store, postgres_store)]
    assert bodies[0] == bodies[1]
