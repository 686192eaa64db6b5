"""What the levelled year promises: stops, hours, skills, frozen months, and the same plan twice."""

from dataclasses import replace

import numpy as np
import pytest

from bench.planning_world.registers import capacity_for, own_months_minutes, register
from service.planning.month import MonthPlan, plan_months
from service.planning.month_demand import Capacity, DueAssets

SITES = 6


@pytest.fixture(scope="module")
def small() -> tuple[DueAssets, Capacity, MonthPlan]:
    due = register(300, SITES, seed=3)
    capacity = capacity_for(due, SITES)
    wide = replace(capacity, qualified_min=capacity.qualified_min * 2, window_min=capacity.window_min * 2)
    return due, wide, plan_months(due, wide)


def test_hours_skills_and_load_hours_are_never_exceeded(small) -> None:
    due, capacity, plan = small
    assert plan.over.minutes.sum() + plan.over.qualified_min.sum() + plan.over.window_min.sum() == 0
    assert (plan.minutes <= capacity.minutes).all()
    assert (plan.qualified_min <= capacity.qualified_min).all()
    morning = (plan.visits * (due.read_min * (due.load_window == 1))[:, None]).sum(axis=0)
    assert (morning <= capacity.window_min[0]).all()


def test_nothing_is_read_after_its_stop_nor_ever_later_than_its_interval(small) -> None:
    due, _, plan = small
    begun = plan.first_month >= 0
    assert (plan.first_month[begun] <= due.stop_month[begun]).all()
    for visits, interval in zip(plan.visits[begun], due.interval_months[begun], strict=True):
        assert (np.diff(np.flatnonzero(visits)) == interval).all()
    assert (due.stop_month[~begun] >= 12).all()


def test_a_site_is_visited_where_something_is_read_and_in_one_week(small) -> None:
    due, _, plan = small
    for site in range(SITES):
        read = plan.visits[due.site == site].any(axis=0)
        assert (plan.site_visits[site] == read).all()
    assert ((plan.week >= 0) == plan.site_visits).all()


def test_visits_together_take_fewer_hours_than_each_in_its_own_month(small) -> None:
    due, capacity, plan = small
    assert plan.minutes.sum() < 0.95 * own_months_minutes(due, capacity.visit_min).sum()


def test_same_register_same_year(small) -> None:
    due, capacity, plan = small
    again = plan_months(due, capacity)
    assert again.first_month.tolist() == plan.first_month.tolist()
    assert again.week.tolist() == plan.week.tolist()


def test_act_now_goes_first_though_its_month_is_far(small) -> None:
    due, capacity, _ = small
    act_now = np.zeros(len(due.site), dtype=bool)
    act_now[int(due.due_month.argmax())] = True
    plan = plan_months(replace(due, act_now=act_now), capacity)
    assert plan.first_month[act_now].tolist() == [0]
    assert plan.week[due.site[act_now], 0].tolist() == [0]


def test_a_published_month_keeps_what_it_has_and_takes_nothing_more(small) -> None:
    due, capacity, plan = small
    frozen = np.where(plan.first_month == 0, 0, -1)
    again = plan_months(replace(due, frozen_month=frozen), replace(capacity, frozen_months=1))
    assert (again.first_month == 0).tolist() == (frozen == 0).tolist()


def test_stops_that_need_more_than_the_hours_are_kept_and_the_lack_is_told(small) -> None:
    due, capacity, _ = small
    plan = plan_months(due, replace(capacity, minutes=capacity.minutes / 4))
    begun = plan.first_month >= 0
    assert (plan.first_month[begun] <= due.stop_month[begun]).all()
    assert plan.over.minutes.sum() > 0


def test_outdoor_equipment_waits_for_fair_weather_where_its_stop_allows(small) -> None:
    due, capacity, _ = small
    one = np.flatnonzero((due.interval_months == 12) & (due.stop_month > due.due_month))[:1]
    outdoor = np.zeros(len(due.site), dtype=bool)
    outdoor[one] = True
    due_month, stop = due.due_month.copy(), due.stop_month.copy()
    due_month[one], stop[one] = 1, 4
    plan = plan_months(replace(due, outdoor=outdoor, due_month=due_month, stop_month=stop), capacity)
    assert capacity.fair_weather[plan.first_month[one]].all()


def test_highest_priority_of_like_equipment_goes_first() -> None:
    due = register(40, 1, seed=4)
    n = len(due.site)
    alike = replace(
        due,
        interval_months=np.full(n, 12),
        due_month=np.full(n, 6),
        stop_month=np.full(n, 9),
        qualified=np.zeros(n, dtype=bool),
        outdoor=np.zeros(n, dtype=bool),
        load_window=np.zeros(n, dtype=np.int64),
        criticality=np.ones(n, dtype=np.int64),
        read_min=np.full(n, 4.0),
    )
    capacity = replace(capacity_for(alike, 1), minutes=np.full(12, 190.0), qualified_min=np.full(12, 190.0))
    plan = plan_months(alike, capacity, peak_over_mean=None)
    months = plan.first_month[np.lexsort((alike.key, -alike.priority))]
    assert (np.diff(months) >= 0).all()
    assert months[0] < months[-1]


def test_a_published_month_outside_the_frozen_ones_is_refused(small) -> None:
    due, capacity, _ = small
    with pytest.raises(ValueError, match="frozen"):
        plan_months(replace(due, frozen_month=np.full(len(due.site), 2)), capacity)


def test_a_lack_of_qualified_people_is_told_where_stops_ask_for_them(small) -> None:
    due, capacity, _ = small
    plan = plan_months(due, replace(capacity, qualified_min=np.full(12, 5.0)))
    assert plan.over.qualified_min.tolist() == np.maximum(plan.qualified_min - 5.0, 0).tolist()
    assert plan.over.qualified_min.sum() > 0


def test_two_thousand_assets_at_twenty_sites_are_level_and_take_fewer_hours() -> None:
    due = register(2_000, 20, seed=7)
    capacity = capacity_for(due, 20)
    plan = plan_months(due, capacity)
    assert plan.minutes.max() <= 1.02 * plan.minutes.mean()
    assert plan.minutes.sum() <= 0.94 * own_months_minutes(due, capacity.visit_min).sum()
    assert plan.over.minutes.sum() + plan.over.qualified_min.sum() + plan.over.window_min.sum() == 0
    assert plan.gap <= 0.01


def test_a_register_solved_in_blocks_keeps_the_hours_of_all() -> None:
    due = register(2_400, 24, seed=8)
    capacity = capacity_for(due, 24)
    plan = plan_months(due, capacity)
    assert (plan.minutes <= capacity.minutes).all()
    assert plan.minutes.max() <= 1.03 * plan.minutes.mean()
