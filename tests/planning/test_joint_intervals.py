"""What the joint intervals promise: hours, ceilings, multiples, the same answer twice."""

from dataclasses import replace

import numpy as np
import pytest

from service.planning.class_floors import ClassFloor, caught_by_intervals, intervals_with_floor
from service.planning.fault_rates import MOST_APART, Record, learned_rates
from service.planning.first_signs import Signs, chance_after_reading, chance_behind_sign, worth_of_reading_now
from service.planning.joint_intervals import (
    CEILINGS,
    CRITICAL_CEILING_MONTHS,
    INTERVALS,
    Assets,
    Sites,
    joint_intervals,
)


def register(seed: int, *, assets: int = 240, sites: int = 6) -> tuple[Assets, Sites]:
    draw = np.random.default_rng(seed)
    ceiling = np.full((assets, len(CEILINGS)), np.inf)
    ceiling[:, 0] = draw.choice([6.0, 12.0, 24.0], assets)
    ceiling[draw.random(assets) < 0.1, 1] = CRITICAL_CEILING_MONTHS
    ceiling[draw.random(assets) < 0.05, 3] = 2.0
    known = Assets(
        site=draw.integers(0, sites, assets),
        rate_per_year=draw.choice([0.015, 0.03, 0.08], assets),
        pf_months=draw.choice([3.0, 6.0, 12.0], assets),
        found_share=draw.choice([0.5, 0.9], assets),
        weight=draw.choice([1.0, 2.0], assets),
        read_min=draw.choice([3.0, 5.0], assets),
        ceiling_months=ceiling,
        lead_months=np.full(assets, 0.5),
    )
    return known, Sites(np.full(sites, 55.0), np.full(sites, 20.0))


@pytest.mark.parametrize("hours", [7.0, 10.0, 16.0])
def test_hours_and_ceilings_are_never_exceeded(hours: float) -> None:
    assets, sites = register(1)
    found = joint_intervals(assets, sites, hours_per_month=hours)
    assert found.short_hours == 0
    assert 0.9 * hours < found.hours_per_month <= hours
    assert (found.interval_months <= assets.ceiling_months.min(axis=1)).all()
    assert (found.interval_months % found.base_months[assets.site] == 0).all()


def test_ceilings_that_need_more_than_the_hours_are_kept_and_the_lack_is_told() -> None:
    assets, sites = register(1)
    found = joint_intervals(assets, sites, hours_per_month=2.0)
    assert found.short_hours == pytest.approx(found.hours_per_month - 2.0)
    assert found.short_hours > 0
    assert (found.interval_months <= assets.ceiling_months.min(axis=1)).all()


def test_the_ceiling_that_binds_is_told_and_only_then() -> None:
    assets, sites = register(2)
    found = joint_intervals(assets, sites, hours_per_month=10.0)
    bound = found.ceiling >= 0
    assert bound.any()
    assert not bound.all()
    assert (found.priced_months[bound] > found.interval_months[bound]).all()
    assert (found.priced_months[~bound] == found.interval_months[~bound]).all()
    least = assets.ceiling_months.min(axis=1)
    assert (assets.ceiling_months[bound, found.ceiling[bound]] == least[bound]).all()


def test_a_ceiling_below_the_shortest_interval_is_told() -> None:
    assets, sites = register(3)
    assets.ceiling_months[7, 3] = 0.5
    found = joint_intervals(assets, sites, hours_per_month=10.0)
    assert np.flatnonzero(found.unmet).tolist() == [7]
    assert found.interval_months[7] == min(INTERVALS)


def test_equipment_without_any_maximum_is_refused() -> None:
    assets, sites = register(3)
    assets.ceiling_months[3] = np.inf
    with pytest.raises(ValueError, match="1 assets have no maximum"):
        joint_intervals(assets, sites, hours_per_month=10.0)


def test_more_hours_never_catch_less_and_the_price_of_a_minute_falls() -> None:
    assets, sites = register(4)
    found = [joint_intervals(assets, sites, hours_per_month=h) for h in (7.0, 10.0, 16.0)]
    caught = [float((one.caught_per_year * assets.weight).sum()) for one in found]
    assert caught == sorted(caught)
    assert [one.price for one in found] == sorted((one.price for one in found), reverse=True)


def test_same_register_same_intervals() -> None:
    first, second = (joint_intervals(*register(5), hours_per_month=9.0) for _ in range(2))
    assert first.interval_months.tolist() == second.interval_months.tolist()
    assert first.price == second.price


def test_a_class_with_a_floor_keeps_what_it_had() -> None:
    assets, sites = register(6)
    assets = replace(assets, ceiling_months=np.full_like(assets.ceiling_months, 24.0))
    held = np.arange(len(assets.site)) % 8 == 0
    had = float(caught_by_intervals(assets, np.where(held, 3.0, 12.0))[held].sum())
    free = joint_intervals(assets, sites, hours_per_month=6.0)
    assert free.caught_per_year[held].sum() < had
    floor = ClassFloor(held, had)
    kept = intervals_with_floor(assets, sites, hours_per_month=6.0, floor=floor)
    assert kept.caught_per_year[held].sum() >= had
    assert kept.hours_per_month <= 6.0


def record(faults: list[int], years: float = 10.0) -> Record:
    n = len(faults)
    return Record(
        kind=np.zeros(n, dtype=np.int64),
        grade=np.full(n, -1),
        guess_per_year=np.full(n, 0.04),
        faults=np.array(faults),
        years=np.full(n, years),
    )


def test_without_a_record_the_guess_stands() -> None:
    assert learned_rates(record([0, 0, 0], years=0.0)).tolist() == pytest.approx([0.04] * 3)


def test_what_failed_often_is_expected_to_but_not_wildly_more_often_than_its_kind() -> None:
    found = learned_rates(record([0] * 58 + [1, 30]))
    assert found[0] < found[58] < found[59]
    assert found[59] <= found.mean() * MOST_APART * 1.5


def test_twice_the_years_with_the_same_faults_lower_the_rate() -> None:
    faults = [0] * 20 + [1] * 8
    assert (learned_rates(record(faults, 20.0)) < learned_rates(record(faults, 10.0))).all()


def signs(chance: float, months_since: float = 1.0) -> Signs:
    one = np.ones(1)
    return Signs(chance * one, months_since * one, 8.0 * one, 0.8 * one, 0.5 * one)


def test_a_second_sign_makes_a_fault_likelier_and_a_clean_reading_less_likely() -> None:
    again, clean = (chance_after_reading(signs(0.2), np.array([k]))[0] for k in (True, False))
    assert clean < 0.2 < again


def test_a_sign_is_worth_no_more_than_the_chance_that_a_fault_is_there() -> None:
    first = chance_behind_sign(np.array([0.04]), np.array([8.0]), found_share=np.array([0.8]))
    worth = worth_of_reading_now(signs(float(first[0])), months_until_next=np.array([6.0]))
    assert 0 < worth[0] < first[0]
    nearer = worth_of_reading_now(signs(float(first[0])), months_until_next=np.array([1.0]))
    assert nearer[0] < worth[0]
