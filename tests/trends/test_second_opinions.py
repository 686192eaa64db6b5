"""Second opinions: what must not change them, what they refuse, and what they never take out."""

import numpy as np
import pytest
from scipy.stats import rankdata

from service.trends.autocorrelation import related_ranks
from service.trends.control_charts import BASELINE_VISITS, cusum, ewma, ewma_half_width, off_baseline
from service.trends.level_changes import level_change
from service.trends.local_trends import Wander, local_trend
from service.trends.outliers import apart
from service.trends.ranks import mean_ranks
from service.trends.unsaid import Unsaid


def draw(seed, *, series=20, visits=24, step_days=30.0):
    rng = np.random.default_rng(seed)
    days = np.broadcast_to(np.arange(visits) * step_days, (series, visits)).copy()
    return days, rng.normal(8, 2, days.shape)


# ---- ranks ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("visits", [1, 2, 30])
def test_ranks_with_many_alike_are_those_of_scipy(visits):
    """Reference library: scipy.stats.rankdata, method "average"."""
    values = np.random.default_rng(7).integers(0, 6, (200, visits)).astype(float)
    assert mean_ranks(values).tolist() == rankdata(values, axis=1).tolist()


# ---- neighbours ----------------------------------------------------------------------------------------


def test_neighbours_of_irregular_visits_are_not_told():
    days, rise_k = draw(1)
    days[:, 10:] += 400.0
    days[:, 14:] += 400.0
    assert related_ranks(days, rise_k).reason.tolist() == [Unsaid.NONE] * 20, "two of 23 gaps are held"
    days[:, 18:] += 400.0
    found = related_ranks(days, rise_k)
    assert found.reason.tolist() == [Unsaid.IRREGULAR] * 20
    assert np.isnan(found.p).all()


def test_neighbours_of_visits_that_are_all_alike_are_not_told():
    days, _ = draw(2)
    found = related_ranks(days, np.full(days.shape, 3.0))
    assert found.reason.tolist() == [Unsaid.UNDEFINED] * 20


def test_fewer_trends_are_seen_in_noise_that_remembers():
    """Each visit 0.6 of the one before: Mann-Kendall alone calls 29 of 100 a trend, with neighbours 21."""
    rng = np.random.default_rng(3)
    shocks = rng.normal(size=(2000, 60))
    remembered = np.zeros((2000, 40))
    value = np.zeros(2000)
    for k in range(60):
        value = 0.6 * value + shocks[:, k]
        remembered[:, max(k - 20, 0)] = value
    days = np.broadcast_to(np.arange(40.0), remembered.shape)
    found = related_ranks(days, remembered)
    plain = np.abs(found.z) * np.sqrt(found.factor)
    assert np.mean(plain > 1.96) > 0.26
    assert np.mean(found.p < 0.025) < 0.23


def test_neighbours_follow_scale_and_ignore_origin():
    days, rise_k = draw(4)
    base, moved = related_ranks(days, rise_k), related_ranks(days - 7300.0, 4 * rise_k + 16)
    np.testing.assert_allclose(moved.z, base.z)
    np.testing.assert_allclose(related_ranks(days, -rise_k).z, -base.z)


# ---- a change of level ---------------------------------------------------------------------------------


def test_a_change_of_level_needs_twenty_visits_that_differ():
    few, alike = level_change(np.ones((2, 19))), level_change(np.ones((2, 20)))
    assert few.reason.tolist() == [Unsaid.TOO_FEW_VISITS] * 2
    assert alike.reason.tolist() == [Unsaid.UNDEFINED] * 2
    for found in (few, alike):
        assert np.isnan(found.p).all()
        assert found.last_before.tolist() == [-1, -1]


def test_a_change_of_level_is_where_it_was_put_and_upside_down_too():
    rng = np.random.default_rng(5)
    rise_k = rng.normal(0, 1, (200, 30)) + 5.0 * (np.arange(30) >= 18)
    up, down = level_change(rise_k), level_change(-rise_k)
    assert np.mean(np.abs(up.last_before - 17) <= 1) > 0.97
    np.testing.assert_array_equal(up.last_before, down.last_before)
    np.testing.assert_array_equal(up.p, down.p)


def test_noise_is_hardly_ever_a_change_of_level():
    found = level_change(np.random.default_rng(6).normal(size=(4000, 40)))
    assert np.mean(found.p < 0.05) < 0.05


# ---- charts --------------------------------------------------------------------------------------------


def test_sums_of_a_batch_are_those_of_each_series():
    _, rise_k = draw(7)
    above, below = cusum(rise_k, target=8.0, slack=1.0)
    for row in range(20):
        one = cusum(rise_k[row], target=8.0, slack=1.0)
        np.testing.assert_allclose((above[row], below[row]), one, atol=1e-12)


def test_sums_below_are_sums_above_upside_down():
    _, rise_k = draw(8)
    above, below = cusum(rise_k, target=8.0, slack=1.0)
    turned_above, turned_below = cusum(-rise_k, target=-8.0, slack=1.0)
    np.testing.assert_allclose((above, below), (turned_below, turned_above), atol=1e-12)


def test_a_mean_that_forgets_nothing_but_the_last_is_the_last():
    _, rise_k = draw(9)
    np.testing.assert_allclose(ewma(rise_k, target=8.0, share=1.0), rise_k)
    assert ewma_half_width(1.0, 3.0) == 3.0
    with pytest.raises(ValueError, match="share"):
        ewma(rise_k, target=8.0, share=0.0)


def test_no_single_visit_weighs_more_than_three_standard_deviations():
    _, off = off_baseline(np.array([1.0, 1, 1, 1, 500, -500]), np.ones(6))
    assert off.tolist() == [3.0, -3.0]
    with pytest.raises(ValueError, match="4 visits"):
        off_baseline(np.ones(BASELINE_VISITS - 1), np.ones(BASELINE_VISITS - 1))


# ---- outliers ------------------------------------------------------------------------------------------


def test_a_visit_far_off_is_named_and_its_neighbours_are_not():
    rise_k = np.random.default_rng(10).normal(8, 0.5, (300, 25))
    rise_k[:, 12] += 12.0
    found = apart(rise_k, np.full(rise_k.shape, 0.5))
    assert found.marked[:, 12].all()
    assert np.delete(found.marked, 12, axis=1).mean() < 0.01


def test_a_steady_climb_is_no_outlier():
    climb = np.arange(20.0)[None] * 3
    assert not apart(climb, np.full(climb.shape, 0.1)).marked.any()


def test_a_visit_within_three_of_its_own_uncertainties_is_never_marked():
    rise_k = np.array([[5.0, 5, 5, 5, 6.4, 5, 5, 5]])
    assert apart(rise_k).marked[0].tolist() == [k == 4 for k in range(8)]
    assert not apart(rise_k, np.full(rise_k.shape, 0.5)).marked.any()


def test_below_seven_visits_nothing_is_apart():
    found = apart(np.array([[1.0, 1, 1, 90, 1, 1]]))
    assert not found.marked.any()
    assert np.isnan(found.off_k).all()


# ---- level and slope ------------------------------------------------------------------------------------


def test_a_slope_is_unknown_until_the_second_date():
    found = local_trend(np.array([0.0, 0.0, 1.0, 2.0]), np.array([1.0, 3.0, 4.0, 6.0]), np.ones(4))
    assert np.isinf(found.slope_sd[:2]).all()
    assert found.level_k[1] == pytest.approx(2.0), "two visits of one date are their mean"
    assert np.isfinite(found.slope_sd[2:]).all()


def test_a_filter_has_no_visits_of_none():
    found = local_trend(np.zeros(0), np.zeros(0), np.zeros(0))
    assert [len(part) for part in found] == [0] * 6


def test_a_wild_visit_moves_the_slope_less_when_it_is_clipped():
    years = np.arange(12) / 4
    rise_k = np.where(np.arange(12) == 10, 40.0, 8.0)
    clipped = local_trend(years, rise_k, np.ones(12))
    plain = local_trend(years, rise_k, np.ones(12), Wander(clip=np.inf))
    assert np.abs(clipped.slope[10]) < 0.5 * np.abs(plain.slope[10])


def test_the_slope_and_its_sd_hold_the_truth_nine_times_in_ten():
    """On the world the filter thinks of: level and slope that wander by its own variances."""
    rng = np.random.default_rng(11)
    years, held = np.arange(16) / 4, 0
    for _ in range(600):
        level, slope, values = 8.0, rng.normal(0, 3), []
        for gap in np.diff(years, prepend=0.0):
            kick = rng.normal(0, 2 * np.sqrt(gap))
            level += gap * slope + gap * kick / 2 + rng.normal(0, np.sqrt(0.5 * gap + 4 * gap**3 / 12))
            slope += kick
            values.append(level + rng.normal(0, 1))
        found = local_trend(years, np.array(values), np.ones(16), Wander(clip=np.inf))
        held += abs(found.slope[-1] - slope) < 1.645 * found.slope_sd[-1]
    assert 0.87 < held / 600 < 0.93
