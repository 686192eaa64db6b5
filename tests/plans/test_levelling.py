"""A year is levelled: what may wait goes into a later month, and says so; what cannot wait never does."""

from dataclasses import replace
from datetime import date

from service.domain.plan_levelling import levelled
from service.domain.plan_visits import Visit
from service.domain.stop_facts import EquipmentFacts
from service.storage import round_facts
from service.storage.unit import Store
from tests.plans.builders import drawn, planning_plant

DECEMBER = date(2026, 12, 1)


def some_facts(store: Store, count: int) -> list[EquipmentFacts]:
    plant = planning_plant(store, sites=1, boards=count)
    with store.look() as unit:
        return list(round_facts.equipment_facts(unit, plant.equipment_ids).values())


def visit(facts: EquipmentFacts, **change: object) -> Visit:
    usual = Visit(
        facts=replace(facts, minutes=30),
        points=3,
        due_on=date(2026, 12, 15),
        reason="12 months",
        early=False,
        must="",
        worth=200,
        interval_months=12.0,
    )
    return replace(usual, **change)  # type: ignore[arg-type]


def test_what_does_not_fit_a_level_month_goes_into_the_next_within_its_window(store: Store) -> None:
    visits = [visit(facts) for facts in some_facts(store, 8)]
    told = levelled(visits, month_on=DECEMBER, minutes=200.0, qualified_min=200.0)
    later = [one for one in told if one.later is not None]
    assert later
    assert {one.later for one in later} == {date(2027, 1, 1)}
    assert all(one.worth < 200 for one in later)
    assert len(later) < len(visits)


def test_what_cannot_wait_is_never_given_to_a_later_month(store: Store) -> None:
    visits = [visit(facts, must="its twelve months end") for facts in some_facts(store, 8)]
    told = levelled(visits, month_on=DECEMBER, minutes=100.0, qualified_min=100.0)
    assert told == tuple(visits)


def test_overdue_visits_stay_in_this_month(store: Store) -> None:
    visits = [visit(facts, due_on=date(2026, 6, 1)) for facts in some_facts(store, 4)]
    told = levelled(visits, month_on=DECEMBER, minutes=600.0, qualified_min=600.0)
    assert all(one.later is None for one in told)


def test_without_hours_nothing_is_levelled(store: Store) -> None:
    visits = [visit(facts) for facts in some_facts(store, 3)]
    assert levelled(visits, month_on=DECEMBER, minutes=0.0, qualified_min=0.0) == tuple(visits)


def test_a_plan_with_room_for_everything_still_takes_everything(store: Store) -> None:
    plant = planning_plant(store)
    assert drawn(store, plant).sums.stops == len(plant.equipment_ids)
