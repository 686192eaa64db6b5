"""What must not change a verdict: the order of points, the origin of time, the unit, the batch, a camera's day."""

from dataclasses import fields, replace

import numpy as np
import pytest

from service.trends.bank import surest_shape
from service.trends.engine import assess
from service.trends.parts import joined, parts_of
from service.trends.policy import DAYS_PER_MONTH, OVER_AIR, OVER_BASELINE, OVER_LIKE_PARTS
from service.trends.series import Rounds, SeriesBlock

SITES, POINTS, VISITS = 3, 12, 20


def fleet(seed: int = 5) -> SeriesBlock:
    """Three sites of twelve points over air on common rounds; every fourth point rises."""
    rng = np.random.default_rng(seed)
    points = SITES * POINTS
    rise_k = rng.uniform(5, 15, (points, 1)) + rng.normal(0, 0.6, (points, VISITS))
    rise_k[::4] += np.maximum(np.arange(VISITS) - 11, 0) * 1.5
    rise_k += np.repeat(rng.normal(0, 1, (SITES, VISITS)), POINTS, axis=0)
    load = np.repeat(rng.uniform(0.6, 1.0, (SITES, VISITS)), POINTS, axis=0)
    site = np.repeat(np.arange(SITES), POINTS)
    return SeriesBlock(
        ids=np.arange(points),
        offsets=np.arange(points + 1) * VISITS,
        days=np.tile(np.arange(VISITS) * DAYS_PER_MONTH, points),
        rise_k=rise_k.ravel(),
        u_own_k=np.full(points * VISITS, 0.8),
        episode=np.zeros(points * VISITS, dtype=np.int64),
        load_ratio=load.ravel(),
        view=np.full(points, -1),
        line_k=np.full(points, 50.0),
        rounds=Rounds(
            group=(site[:, None] * VISITS + np.arange(VISITS)).ravel(),
            site=np.repeat(np.arange(SITES), VISITS),
            order=np.tile(np.arange(VISITS), SITES),
        ),
    )


def part(block: SeriesBlock, points: np.ndarray) -> SeriesBlock:
    """Some points of it, in this order."""
    at = (points[:, None] * VISITS + np.arange(VISITS)).ravel()
    columns = {
        name: getattr(block, name)[at] for name in ("days", "rise_k", "u_own_k", "episode", "load_ratio")
    }
    rounds = replace(block.rounds, group=block.rounds.group[at])
    return replace(
        block, ids=block.ids[points], offsets=np.arange(len(points) + 1) * VISITS, view=block.view[points],
        line_k=block.line_k[points], rounds=rounds, **columns,
    )  # fmt: skip


def assert_alike(found, other, *, apart: tuple[str, ...] = ()) -> None:
    for one in fields(found):
        if one.name not in ("ids", "method", "fans", *apart):
            np.testing.assert_allclose(
                getattr(found, one.name), getattr(other, one.name), rtol=1e-6, atol=1e-7, err_msg=one.name
            )
    assert found.fans.keys() == other.fans.keys() != set()
    for k, fan in found.fans.items():
        # a rounding error may change which of the unlikeliest courses are followed
        np.testing.assert_allclose(fan.curves_k, other.fans[k].curves_k, rtol=1e-3)


def test_the_fleet_has_something_to_say() -> None:
    words = assess(fleet(), OVER_AIR).words
    assert {"rising", "steady"} <= set(words)


@pytest.mark.parametrize(
    "policy", [OVER_AIR, OVER_LIKE_PARTS, OVER_BASELINE], ids=["air", "like parts", "baseline"]
)
def test_the_order_of_points_changes_nothing(policy) -> None:
    block, order = fleet(), np.random.default_rng(1).permutation(SITES * POINTS)
    found, other = assess(block, policy), assess(part(block, order), policy)
    for one in fields(found):
        if one.name not in ("method", "fans"):
            np.testing.assert_array_equal(getattr(found, one.name)[order], getattr(other, one.name))
    places = {int(order[k]): fan for k, fan in other.fans.items()}
    assert places.keys() == found.fans.keys()
    for k, fan in found.fans.items():
        np.testing.assert_allclose(fan.curves_k, places[k].curves_k, rtol=1e-3)


def test_the_origin_of_time_changes_nothing_but_dates() -> None:
    block, later = fleet(), 20_000.0
    found, other = assess(block, OVER_AIR), assess(replace(block, days=block.days + later), OVER_AIR)
    dates = ("onset_days", "fitted_from_days", "earliest_days", "latest_days", "likeliest_days")
    assert_alike(found, other, apart=dates)
    for name in dates:
        np.testing.assert_allclose(getattr(found, name) + later, getattr(other, name), rtol=1e-9)


def test_the_unit_of_a_rise_changes_no_score() -> None:
    """Kelvin or degrees Fahrenheit (x 9/5): Z is a ratio."""
    rng = np.random.default_rng(2)
    years, rise_k = np.sort(rng.uniform(0, 4, (50, 14)), axis=1), rng.normal(8, 2, (50, 14))
    found = surest_shape(years, rise_k, np.full_like(rise_k, 1.3))
    other = surest_shape(years, rise_k * 1.8, np.full_like(rise_k, 1.3 * 1.8))
    np.testing.assert_allclose(found.z, other.z, rtol=1e-9)
    np.testing.assert_allclose(found.rise_k * 1.8, other.rise_k, rtol=1e-9)


def test_a_batch_may_be_split_by_site() -> None:
    block = fleet()
    found = assess(block, OVER_AIR)
    for site in range(SITES):
        points = np.arange(site * POINTS, (site + 1) * POINTS)
        alone = assess(part(block, points), OVER_AIR)
        for name in ("word_index", "z", "slope_k_per_month", "chance_12"):
            np.testing.assert_allclose(
                getattr(found, name)[points], getattr(alone, name), rtol=1e-9, err_msg=name
            )


@pytest.mark.parametrize("rounds", [True, False], ids=["on rounds", "no rounds"])
@pytest.mark.parametrize("most", [1, POINTS + 3, 2 * POINTS])
def test_a_batch_that_is_taken_in_parts_says_the_same(most: int, rounds: bool) -> None:
    order = np.random.default_rng(3).permutation(SITES * POINTS)
    block = part(fleet(), order)
    if not rounds:
        block = replace(block, rounds=None)
    parts = list(parts_of(block, most))
    assert len(parts) == (-(-SITES // max(1, most // POINTS)) if rounds else -(-len(order) // most))
    told = joined(block, [(places, assess(one, OVER_AIR)) for places, one in parts])
    assert_alike(assess(block, OVER_AIR), told)
    assert told.ids.tolist() == order.tolist()


def test_like_parts_stay_in_one_part() -> None:
    views = np.random.default_rng(4).permutation(np.repeat(np.arange(12), 3))
    block = replace(fleet(), view=views, rounds=None)
    for places, one in parts_of(block, 10):
        assert set(views[places].tolist()).isdisjoint(np.delete(views, places).tolist())
        assert len(one.ids) <= 10


@pytest.mark.parametrize("visit", [6, 12, VISITS - 1])
def test_what_a_camera_adds_to_all_points_of_one_round_moves_no_score(visit) -> None:
    """3 K as measured, many standard errors of the offset and below its cap: |dZ| <= 0.1."""
    block = fleet()
    added = np.zeros((SITES * POINTS, VISITS))
    added[:POINTS, visit] = 3.0
    shifted = replace(block, rise_k=block.rise_k + added.ravel() * block.load_ratio**-1.8)
    found, other = assess(block, OVER_AIR), assess(shifted, OVER_AIR)
    assert np.nanmax(np.abs(found.z - other.z)) <= 0.1
    assert found.words == other.words


def test_a_missing_reading_touches_no_other_site() -> None:
    block = fleet()
    gone = block.rise_k.copy()
    gone[5] = np.nan
    found, other = assess(block, OVER_LIKE_PARTS), assess(replace(block, rise_k=gone), OVER_LIKE_PARTS)
    elsewhere = slice(POINTS, None)
    for name in ("word_index", "z", "slope_k_per_month"):
        np.testing.assert_array_equal(getattr(found, name)[elsewhere], getattr(other, name)[elsewhere])


def test_a_repair_ends_the_series_of_its_point_alone() -> None:
    block = fleet()
    cut = block.episode.copy()
    cut[10:VISITS] = 1
    found, other = assess(block, OVER_LIKE_PARTS), assess(replace(block, episode=cut), OVER_LIKE_PARTS)
    assert other.n_visits[0] == VISITS - 10
    np.testing.assert_array_equal(found.n_visits[1:], other.n_visits[1:])
    np.testing.assert_array_equal(found.z[POINTS:], other.z[POINTS:])
