"""The day by the clock: load hours, what else would fit, a better order."""

from service.storage import rounds
from service.storage.tables.register import EquipmentRow
from service.storage.unit import Store
from service.usecases.rounds.browse import read_builder, read_month
from service.usecases.rounds.due import refresh_due
from service.usecases.rounds.edit import remove_stop
from service.usecases.rounds.timetable import read_day, reorder_round_for_load
from tests.builders import Role
from tests.rounds.builders import DAY, NOW, change, draft, issued, read_row, rows_of


def test_a_stop_outside_its_load_hours_stands_out_and_says_until_when(store: Store) -> None:
    walk = draft(store, boards=2)
    first, second = walk.plant.equipment_ids
    change(store, EquipmentRow, first, load_hours="mon-fri 07:00-11:30")
    change(store, EquipmentRow, second, load_hours="mon-fri 12:30-16:00")
    day = read_day(store, walk.engineer, walk.round.id, now=NOW)
    assert [stop.time.outside_load_hours for stop in day.stops] == [False, True]
    assert day.stops[1].idle_until_min == 750
    assert day.stops[0].windows == ((420, 690),)
    assert (day.points, day.likely_to_clear) == (12, 6)


def test_gear_that_never_runs_on_that_weekday_is_outside_all_day(store: Store) -> None:
    walk = draft(store)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], load_hours="sat,sun 00:00-24:00")
    (stop,) = read_day(store, walk.engineer, walk.round.id, now=NOW).stops
    assert stop.time.outside_load_hours
    assert stop.idle_until_min is None


def test_load_hours_that_are_not_understood_hide_nothing(store: Store) -> None:
    walk = draft(store)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], load_hours="when busy")
    (stop,) = read_day(store, walk.engineer, walk.round.id, now=NOW).stops
    assert not stop.time.outside_load_hours


def test_gear_that_usually_runs_under_40_percent_is_not_counted_as_likely_to_clear(store: Store) -> None:
    walk = draft(store)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], usual_load_share=0.39)
    assert read_day(store, walk.engineer, walk.round.id, now=NOW).likely_to_clear == 0


def test_reordering_for_load_puts_the_morning_gear_first(any_store: Store) -> None:
    walk = draft(any_store, boards=3)
    late, any_time, early = walk.plant.equipment_ids
    change(any_store, EquipmentRow, late, load_hours="10:00-16:00", minutes=30)
    change(any_store, EquipmentRow, any_time, minutes=150)
    change(any_store, EquipmentRow, early, load_hours="07:00-07:45", minutes=30)
    before = read_day(any_store, walk.engineer, walk.round.id, now=NOW)
    # minutes of a stop were taken over when the draft was made
    with any_store.begin() as unit:
        for stop, minutes in zip(rounds.stops_of(unit, walk.round.id), (30, 150, 30), strict=True):
            rounds.set_minutes(unit, stop.id, minutes)
    reorder_round_for_load(any_store, walk.engineer, walk.round.id, version=walk.round.version, now=NOW)
    after = read_day(any_store, walk.engineer, walk.round.id, now=NOW)
    assert [stop.facts.id for stop in after.stops] == [early, any_time, late]
    assert len(after.outside) == 0
    assert len(before.stops) == 3


def test_what_is_not_on_the_round_says_what_it_would_add(store: Store) -> None:
    walk = draft(store, boards=3)
    with store.begin() as unit:
        refresh_due(unit, walk.plant.point_ids, NOW)
        stop = rounds.stops_of(unit, walk.round.id)[1]
    remove_stop(store, walk.engineer, walk.round.id, stop.id, version=walk.round.version, now=NOW)
    (beside,) = read_builder(store, walk.engineer, walk.round.id, now=NOW).beside
    assert beside.facts.id == walk.plant.equipment_ids[1]
    assert (beside.tally.due, beside.added_min) == (6, 5)


def test_equipment_on_another_round_to_come_is_told_and_goes_last(store: Store) -> None:
    walk = draft(store, boards=2)
    other = draft(store, plant=walk.plant)
    with store.look() as unit:
        stop = rounds.stops_of(unit, other.round.id)[0]
    remove_stop(store, other.engineer, other.round.id, stop.id, version=other.round.version, now=NOW)
    (beside,) = read_builder(store, other.engineer, other.round.id, now=NOW).beside
    assert beside.near_round_on == DAY


def test_the_month_counts_what_went_out_and_what_came_back(any_store: Store) -> None:
    walk = issued(any_store)
    read_row(any_store, rows_of(any_store, walk.round.id)[0])
    draft(any_store, plant=walk.plant)
    month = read_month(any_store, walk.engineer, DAY, now=NOW)
    assert [(line.round.state, line.points, line.answered) for line in month.rounds] == [
        ("issued", 6, 1),
        ("draft", 6, 0),
    ]
    assert (month.asked, month.answered) == (6, 1)
    assert [line.sites for line in month.rounds] == [("Site 1",), ("Site 1",)]


def test_a_technicians_month_holds_their_own_rounds_only(store: Store) -> None:
    walk = issued(store)
    draft(store, plant=walk.plant, person=False)
    month = read_month(store, walk.plant.actor(Role.TECHNICIAN), DAY, now=NOW)
    assert [line.round.id for line in month.rounds] == [walk.round.id]
    assert month.due == ()
