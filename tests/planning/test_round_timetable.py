"""The clock of a round: ways, load hours, break and end; and a better order for the load."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from service.planning.clock import Clock, break_hours, unfold
from service.planning.day import (
    DayRules,
    Place,
    StopPlan,
    TravelRules,
    reorder_for_load,
    timetable,
)

BASE = (54.0, -1.5)
#: 10 km due north of the base: one degree of latitude is 111.195 km on a sphere of 6371 km.
TEN_KM_NORTH = 54.0 + 10 / 111.19492664455873


def stop(key: int, minutes: float = 10.0, *, x=0.0, y=0.0, site=1, at=(None, None), windows=()) -> StopPlan:
    return StopPlan(key, minutes, Place(site, x, y, *at), windows)


def keys(stops) -> list[int]:
    return [one.key for one in stops]


def test_walking_is_the_straight_line_with_a_detour_at_fifty_metres_a_minute():
    """300 m and 400 m make 500 m; 500 x 1.3 / 50 = 13 min (worked by hand)."""
    day = timetable([stop(1), stop(2, x=300, y=400)])
    assert day.stops[1].walk_min == pytest.approx(13)
    assert day.walk_min == pytest.approx(13)


def test_driving_is_the_straight_line_with_a_detour_at_45_km_an_hour_and_five_minutes():
    """10 km x 1.3 / 45 x 60 + 5 = 22.333 min each way, 10 min at the gate (worked by hand)."""
    day = timetable([stop(1, 20, at=(TEN_KM_NORTH, -1.5))], DayRules(start_min=480, base=BASE))
    only = day.stops[0]
    assert only.drive_min == pytest.approx(10 * 1.3 / 45 * 60 + 5)
    assert only.sign_in_min == 10
    assert only.arrive_min == pytest.approx(480 + only.drive_min + 10)
    assert day.back_by_min == pytest.approx(only.end_min + only.drive_min)
    assert day.drive_min == pytest.approx(2 * only.drive_min)


def test_great_circle_agrees_with_a_known_distance():
    """36.12 N 86.67 W to 33.94 N 118.40 W: 2887.26 km at R = 6372.8 km (Rosetta Code, haversine; from memory)."""
    far = stop(1, at=(33.94, -118.40))
    drive = timetable([far], DayRules(base=(36.12, -86.67))).stops[0].drive_min
    assert (drive - 5) / 60 * 45 / 1.3 * 6372.8 / 6371.0 == pytest.approx(2887.26, abs=0.01)


def test_signing_in_happens_at_every_entry_of_a_site():
    day = timetable([stop(1, site=1), stop(2, site=2), stop(3, site=2), stop(4, site=1)])
    assert [one.sign_in_min for one in day.stops] == [10, 10, 0, 10]
    assert [one.drive_min > 0 for one in day.stops] == [False, True, False, True]


def test_a_missing_position_is_guessed_and_says_so():
    rules = DayRules(travel=TravelRules(unknown_walk_min=4, unknown_drive_min=25))
    day = timetable([stop(1), stop(2, x=None), stop(3, site=2)], rules)
    assert [one.guessed for one in day.stops] == [False, True, True]
    assert (day.stops[1].walk_min, day.stops[2].drive_min) == (4, 25)


def test_clock_adds_up():
    day = timetable(
        [stop(k, 12.5, x=37.0 * k, site=k // 3, at=(54 + k // 3 * 0.1, -1.5)) for k in range(7)],
        DayRules(base=BASE),
    )
    spent = day.service_min + day.walk_min + day.drive_min + day.sign_in_min + day.wait_min
    assert day.back_by_min - day.leave_min == pytest.approx(spent)
    for before, after in zip(day.stops, day.stops[1:], strict=False):
        way = after.walk_min + after.drive_min + after.sign_in_min + after.break_min
        assert after.arrive_min == pytest.approx(before.end_min + way)


def test_no_stops_is_a_day_that_ends_as_it_begins():
    day = timetable([])
    assert (day.stops, day.leave_min, day.back_by_min, day.drive_min) == ((), 480, 480, 0)


def test_a_stop_outside_its_load_hours_says_when_they_next_begin():
    only = timetable([stop(1, 10, windows=((600, 720), (840, 960)))]).stops[0]
    assert only.outside_load_hours
    assert only.next_opening_min == 600
    late = timetable([stop(1, 10, windows=((600, 720), (840, 960)))], DayRules(start_min=950)).stops[0]
    assert (late.outside_load_hours, late.next_opening_min) == (True, 1440 + 600)


@pytest.mark.parametrize(
    ("arrive", "outside"), [(599, True), (600, False), (710, False), (710.5, True)], ids=str
)
def test_a_stop_lies_inside_only_when_it_begins_and_ends_inside(arrive, outside):
    rules = DayRules(start_min=arrive - 10, wait_at_most_min=0)
    assert timetable([stop(1, 10, windows=((600, 720),))], rules).stops[0].outside_load_hours is outside


def test_load_hours_shorter_than_the_stop_need_only_hold_its_begin():
    rules = DayRules(start_min=600)
    assert not timetable([stop(1, 60, windows=((600, 630),))], rules).stops[0].outside_load_hours


def test_a_stop_with_no_load_hours_is_never_outside():
    only = timetable([stop(1)]).stops[0]
    assert (only.outside_load_hours, only.next_opening_min) == (False, None)


def test_a_short_wait_for_the_load_is_waited_and_a_long_one_is_not():
    short = timetable([stop(1, 10, windows=((500, 600),))]).stops[0]
    assert (short.arrive_min, short.wait_min, short.start_min) == (490, 10, 500)
    assert not short.outside_load_hours
    long = timetable([stop(1, 10, windows=((506, 600),))]).stops[0]
    assert (long.wait_min, long.outside_load_hours) == (0, True)


def test_load_hours_over_midnight_hold_on_both_sides_of_it():
    night = ((1320, 360),)
    assert not timetable([stop(1, windows=night)], DayRules(start_min=120)).stops[0].outside_load_hours
    assert not timetable([stop(1, windows=night)], DayRules(start_min=1400)).stops[0].outside_load_hours
    noon = timetable([stop(1, windows=night)], DayRules(start_min=720)).stops[0]
    assert (noon.outside_load_hours, noon.next_opening_min) == (True, 1320)


def test_a_shift_that_runs_past_midnight_meets_the_next_days_load_hours():
    day = timetable([stop(1, 100), stop(2, windows=((60, 300),))], DayRules(start_min=1400))
    assert day.stops[1].start_min == 1400 + 10 + 100
    assert not day.stops[1].outside_load_hours


def test_load_hours_that_touch_are_one():
    assert unfold([(480, 600), (600, 720)]) == unfold([(480, 720)])
    assert unfold([(0, 1440)]) == ((-1440.0, 2880.0),)


def test_a_day_over_six_hours_has_one_break_at_midday():
    day = timetable([stop(k, 30) for k in range(14)])
    assert day.break_from_min is not None
    assert 660 <= day.break_from_min <= 810
    assert [one.break_min for one in day.stops].count(30) == 1
    assert sum(one.break_min for one in day.stops) == 30


def test_a_day_of_six_hours_has_none():
    assert timetable([stop(k, 35) for k in range(10)]).break_from_min is None
    assert timetable([stop(k, 35.1) for k in range(10)]).break_from_min is not None


def test_the_break_comes_early_rather_than_after_two():
    """At 11:10 a stop of three and a half hours would end at 14:40."""
    day = timetable([stop(1, 180), stop(2, 210), stop(3, 30)], DayRules(start_min=480))
    assert day.break_from_min == 670
    assert day.stops[1].break_min == 30


@pytest.mark.parametrize(
    ("start", "hours"),
    [(480, (660, 840)), (300, (660, 840)), (240, (420, 600)), (1320, (1500, 1680))],
    ids=str,
)
def test_early_and_late_shifts_break_in_their_third_to_sixth_hour(start, hours):
    assert break_hours(DayRules(start_min=start)) == hours


@pytest.mark.parametrize("minutes", [-1, float("nan"), float("inf")])
def test_minutes_that_are_no_time_are_refused(minutes):
    with pytest.raises(ValueError, match="stop 7 takes"):
        timetable([stop(7, minutes)])


# ---- a better order ------------------------------------------------------------------------


def drawn(seed: int, count: int, *, sites: int = 1) -> list[StopPlan]:
    """A round with a third of its stops mornings only and a fifth early afternoons only."""
    rng = np.random.default_rng(seed)
    gates = 54 + rng.uniform(0, 0.3, (sites, 1)), -1.5 + rng.uniform(0, 0.3, (sites, 1))
    choices = [((420, 600),), ((780, 900),), ((360, 540), (960, 1080)), ()]
    stops = []
    for key in range(count):
        site = int(rng.integers(sites))
        windows = choices[int(rng.choice(4, p=[0.3, 0.2, 0.1, 0.4]))]
        at = (float(gates[0][site, 0]), float(gates[1][site, 0]))
        x, y = rng.uniform(0, 300, 2).tolist()
        stops.append(stop(key, float(rng.integers(5, 50)), x=x, y=y, site=site, at=at, windows=windows))
    return stops


def cost(stops, rules=None) -> tuple[int, float]:
    day = timetable(stops, rules)
    return day.outside_load_hours, day.back_by_min


def test_morning_load_is_read_in_the_morning():
    board = stop(1, 120)
    pump = stop(2, 20, x=50, windows=((480, 600),))
    assert keys(reorder_for_load([board, pump])) == [2, 1]


def test_where_nothing_is_gained_the_order_stays():
    stops = [stop(k, 10) for k in (3, 1, 2, 9, 8, 7, 6, 5, 4)]
    assert keys(reorder_for_load(stops)) == keys(stops)


@pytest.mark.parametrize("count", [0, 1])
def test_nothing_to_reorder_comes_back_as_it_is(count):
    stops = [stop(k) for k in range(count)]
    assert list(reorder_for_load(stops)) == stops


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("count", "sites"), [(6, 2), (12, 1), (25, 3)])
def test_the_order_is_never_worse_and_loses_no_stop(seed, count, sites):
    stops = drawn(seed, count, sites=sites)
    better = reorder_for_load(stops, most_tries=2000)
    assert sorted(keys(better)) == sorted(keys(stops))
    assert cost(better) <= cost(stops)


def test_the_same_round_gives_the_same_order_twice():
    stops = drawn(40, 15, sites=2)
    first, second = (reorder_for_load(stops, most_tries=3000) for _ in range(2))
    assert keys(first) == keys(second)


@pytest.mark.parametrize("seed", range(4))
def test_six_stops_come_out_as_good_as_the_best_of_all_orders(seed):
    stops = drawn(60 + seed, 6, sites=1 + seed % 2)
    best = min(cost(order) for order in permutations(stops))
    assert cost(reorder_for_load(stops)) == pytest.approx(best)


def test_eight_stops_come_out_with_as_few_outside_as_any_order():
    stops = drawn(81, 8)
    clock = Clock(stops, DayRules())
    best = min(clock.cost(order) for order in permutations(range(8)))
    found = cost(reorder_for_load(stops))
    assert found[0] == best[0] < cost(stops)[0]
    assert found[1] <= best[1] + 5


def test_one_site_is_done_before_the_next():
    """Two sites 20 km apart, interleaved as typed: each is entered once."""
    near, far = (54.0, -1.5), (54.18, -1.5)
    stops = [stop(k, 8, x=20.0 * k, site=k % 2, at=near if k % 2 == 0 else far) for k in range(10)]
    better = timetable(reorder_for_load(stops, DayRules(base=near)), DayRules(base=near))
    assert sum(one.sign_in_min > 0 for one in better.stops) == 2


def test_no_tries_left_keeps_the_order():
    stops = drawn(90, 12)
    assert cost(reorder_for_load(stops, most_tries=0)) <= cost(stops)


def test_rules_of_the_day_are_obeyed_by_the_search():
    stops = [stop(1, 60), stop(2, 60, windows=((1260, 1330),))]
    evening = DayRules(start_min=1250)
    assert keys(reorder_for_load(stops, evening)) == [2, 1]
    assert cost(reorder_for_load(stops, evening), evening)[0] == 0
    assert cost(reorder_for_load(stops, replace(evening, start_min=480)))[0] == 1
