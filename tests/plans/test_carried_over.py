"""What came back without a reading is told with every cause and a better time, and planned by it."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import update

from service.domain.carried_over import CarriedOver, Unread, better_time, carried_over
from service.domain.desk import Waiting
from service.domain.stop_facts import EquipmentFacts
from service.domain.sun_hours import SunHours
from service.domain.words import Access, Reason, Role
from service.storage import carried_over as unread
from service.storage import round_facts
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import PointStateRow, ReadingRow
from service.storage.tables.register import ClientRow, PointRow, ViewRow
from service.storage.unit import Store
from service.usecases.findings.desk import see_desk
from service.usecases.plans.better_times import first_at_site
from service.usecases.plans.carried_equipment import see_carried
from tests.builders import Plant, add
from tests.doors import browser_as, open_app, program_as
from tests.plans.builders import NOW, drawn, planning_plant, set_equipment
from tests.rounds.builders import draft

MONTH = timedelta(days=30)


def came_back(store: Store, point_ids: Sequence[int], *reasons: Reason | None) -> None:
    """Visits a month apart, the last of them first; None is one with a reading."""
    with store.begin() as unit:
        for point in point_ids:
            for ago, reason in enumerate(reasons, start=1):
                at = NOW - ago * MONTH
                add(
                    unit,
                    ReadingRow(
                        uid=f"c-{point}-{ago}", point_id=point, source="person 1", content_hash="x",
                        received_at=at, taken_at=at, temperature_c=30.0 if reason is None else None,
                        not_assessable=None if reason is None else reason.value,
                    ),
                )  # fmt: skip
            read = [NOW - ago * MONTH for ago, reason in enumerate(reasons, start=1) if reason is None]
            of = unit.session.get_one(PointRow, point)
            equipment_id = unit.session.get_one(ViewRow, of.view_id).equipment_id
            state = PointStateRow(point_id=point, site_id=of.site_id, equipment_id=equipment_id)
            state.last_read_at = max(read, default=None)
            unit.session.merge(state)


def points_of(plant: Plant, at: int) -> list[int]:
    return plant.point_ids[3 * at : 3 * at + 3]


def facts_of(store: Store, plant: Plant, at: int = 0) -> EquipmentFacts:
    with store.look() as unit:
        return round_facts.equipment_facts(unit, plant.equipment_ids)[plant.equipment_ids[at]]


def once(reason: Reason) -> CarriedOver:
    return CarriedOver(1, 1, (Unread(1, 1, date(2026, 11, 3), reason),))


def test_a_run_ends_at_the_last_usable_reading(any_store: Store) -> None:
    plant = planning_plant(any_store, sites=1, boards=2)
    came_back(any_store, points_of(plant, 0), Reason.OFF, Reason.OUT_OF_TIME, None, Reason.LOCKED)
    came_back(any_store, points_of(plant, 1), None, Reason.OFF)
    with any_store.look() as unit:
        found = carried_over(unread.unread_at_sites(unit, plant.site_ids))
    assert list(found) == [plant.equipment_ids[0]]
    one = found[plant.equipment_ids[0]]
    assert [visit.reason for visit in one.visits] == [Reason.OFF, Reason.OUT_OF_TIME]
    assert one.points == 3
    assert one.said == "carried over 2 times in a row: off on 26 Oct 2026, ran out of time on 26 Sep 2026"


def test_two_sources_of_one_visit_are_one_and_a_usable_one_ends_it(store: Store) -> None:
    runs = carried_over(
        [Unread(7, 1, date(2026, 11, day), Reason.OFF) for day in (3, 4)]
        + [Unread(8, 1, date(2026, 11, 5), Reason.LOCKED)]
    )
    assert runs[1].times == 2
    assert runs[1].points == 2


@pytest.mark.parametrize(
    ("reason", "told"),
    [
        (Reason.OFF, "in its load hours, Mon to Fri 07:00 to 11:30"),
        (Reason.LOCKED, "ask for the permit by 1 Dec"),
        (Reason.NO_QUALIFIED_PERSON, "on a walk with a qualified person"),
        (Reason.WET_FOG_OR_SUN, "before 08:05 or after 16:44"),
        (Reason.OUT_OF_TIME, "first at its site on the next walk"),
        (Reason.BLOCKED, "ask the site by 1 Dec to clear"),
    ],
)
def test_each_cause_names_its_better_time(store: Store, reason: Reason, told: str) -> None:
    plant = planning_plant(store, sites=1, boards=1)
    set_equipment(
        store, plant.equipment_ids[0], load_hours="mon-fri 07:00-11:30", access=Access.HINGED_COVER.value
    )
    better = better_time(
        once(reason), facts_of(store, plant), day=date(2026, 12, 8), sun=SunHours(485.0, 1004.0)
    )
    assert told in better


def test_every_one_of_the_ten_reasons_has_a_better_time(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=1)
    told = {reason: better_time(once(reason), facts_of(store, plant)) for reason in Reason}
    assert len(set(told.values())) == len(Reason)
    assert not any("{" in words for words in told.values())


def test_what_time_ran_out_for_is_read_first_at_its_site(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=6)
    last = drawn(store, plant).body
    walk = next(walk for walk in last.walks if len(walk.stops) > 1)
    slow = walk.stops[-1].equipment_id
    came_back(store, points_of(plant, plant.equipment_ids.index(slow)), Reason.OUT_OF_TIME)
    page = drawn(store, plant)
    now = page.body.walk_of(slow)
    assert now is not None
    assert now.stops[0].equipment_id == slow
    assert "carried over once: ran out of time" in now.stops[0].why
    assert now.back_min <= now.end_min


def test_only_a_run_at_one_site_is_put_in_another_order() -> None:
    assert first_at_site([1, 2, 3, 4, 5], {1: 1, 2: 1, 3: 2, 4: 2, 5: 1}, {2, 4, 5}) == [2, 1, 4, 3, 5]


def test_a_permit_that_was_wanting_keeps_the_stop_off_days_that_come_too_soon(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=6)
    covered = plant.equipment_ids[0]
    set_equipment(store, covered, access=Access.BOLTED_COVER.value)
    came_back(store, points_of(plant, 0), Reason.LOCKED, Reason.LOCKED)
    walk = drawn(store, plant).body.walk_of(covered)
    assert walk is not None
    assert walk.day >= date(2026, 12, 3), "five working days after 25 November"


def test_a_closed_front_that_wanted_a_qualified_person_gets_a_walk_with_one(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=2)
    came_back(store, points_of(plant, 0), Reason.NO_QUALIFIED_PERSON)
    walk = drawn(store, plant).body.walk_of(plant.equipment_ids[0])
    assert walk is not None
    assert walk.qualified


def test_without_any_qualified_person_it_is_planned_like_any_other(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=2)
    with store.begin() as unit:
        technician = PersonRow.id == plant.people[Role.TECHNICIAN]
        unit.session.execute(update(PersonRow).where(technician).values(qualified=False))
    came_back(store, points_of(plant, 0), Reason.NO_QUALIFIED_PERSON)
    assert drawn(store, plant).body.walk_of(plant.equipment_ids[0]) is not None


def test_wet_fog_or_sun_goes_into_hours_out_of_the_sun_where_some_are_walked(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=2, hours="tue 06:30-09:00; thu 10:00-14:00")
    outdoor = plant.equipment_ids[0]
    set_equipment(store, outdoor, outdoor=True)
    came_back(store, points_of(plant, 0), Reason.WET_FOG_OR_SUN)
    walk = drawn(store, plant).body.walk_of(outdoor)
    assert walk is not None
    stop = next(one for one in walk.stops if one.equipment_id == outdoor)
    assert stop.end_min < 8.5 * 60, "the sun rises after eight in December at 54° north"


def desk_lines(store: Store, plant: Plant) -> list[Any]:
    return list(see_desk(store, plant.actor(), now=NOW).of(Waiting.CARRIED_OVER))


def test_the_desk_says_so_after_as_many_times_as_the_client_wants(any_store: Store) -> None:
    plant = planning_plant(any_store, sites=1, boards=2)
    came_back(any_store, points_of(plant, 0), *[Reason.OFF] * 3)
    came_back(any_store, points_of(plant, 1), *[Reason.OFF] * 2)
    (item,) = desk_lines(any_store, plant)
    assert item.equipment_id == plant.equipment_ids[0]
    assert "3 times in a row" in item.detail
    assert "Better: " in item.detail
    with any_store.begin() as unit:
        unit.session.execute(update(ClientRow).values(carried_over_most=2))
    assert len(desk_lines(any_store, plant)) == 2


def test_plan_desk_and_program_tell_the_same(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=2)
    came_back(store, points_of(plant, 0), *[Reason.BLOCKED] * 3)
    plan = drawn(store, plant).plan
    app = open_app(store, clock=lambda: NOW)
    engineer = browser_as(app, store, plant, Role.ENGINEER, NOW)
    page = engineer.get(f"/rounds/plans/{plan.id}").text
    assert "Carried over" in page
    assert "clear the goods away" in page
    assert "too often" in page
    assert f"/equipment/{plant.equipment_ids[0]}" in engineer.get("/desk").text
    program = program_as(app, store, plant, Role.ENGINEER, NOW)
    (told,) = program.get(f"/api/v1/plans/{plan.id}").json()["carried_over"]
    assert (told["times"], told["too_often"]) == (3, True)
    assert {visit["reason"] for visit in told["visits"]} == {Reason.BLOCKED.value}
    assert told["visits"][0]["on"] == "2026-10-26"


def test_the_page_of_an_equipment_tells_it_and_leads_to_the_plan(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=2)
    came_back(store, points_of(plant, 0), Reason.OFF, Reason.OUT_OF_TIME, Reason.OFF)
    app = open_app(store, lambda: NOW)
    engineer = browser_as(app, store, plant, Role.ENGINEER, NOW)
    at = f"/equipment/{plant.equipment_ids[0]}"
    alone = engineer.get(at).text
    assert "Carried over 3 times in a row" in alone
    assert "too often" in alone
    assert "Off on 26 Oct 2026, ran out of time on 26 Sep 2026" in alone
    assert "/rounds/plans/" not in alone
    page = drawn(store, plant)
    walk = page.body.walk_of(plant.equipment_ids[0])
    assert walk is not None
    assert f'href="/rounds/plans/{page.plan.id}/walks/{walk.key}"' in engineer.get(at).text
    assert "Carried over" not in engineer.get(f"/equipment/{plant.equipment_ids[1]}").text


def test_a_technician_sees_what_came_back_but_not_the_plan(store: Store) -> None:
    walk = draft(store, sites=1, boards=2)
    came_back(store, walk.plant.point_ids[:3], Reason.LOCKED)
    drawn(store, walk.plant)
    found = see_carried(store, walk.technician(), walk.plant.equipment_ids[0], now=NOW)
    assert found is not None
    assert (found.carried.times, found.plan, found.walk) == (1, None, None)
    assert see_carried(store, walk.technician(), walk.plant.equipment_ids[1], now=NOW) is None


def test_a_day_for_asking_that_has_gone_by_is_told_as_at_once(store: Store) -> None:
    facts, day = facts_of(store, planning_plant(store, sites=1, boards=1)), date(2026, 12, 8)
    for today, told in (
        (date(2026, 12, 1), "by 1 Dec"),
        (date(2026, 12, 2), "at once (asking was due 1 Dec)"),
    ):
        better = better_time(once(Reason.BLOCKED), facts, day=day, today=today)
        assert better == f"ask the site {told} to clear the goods away"
