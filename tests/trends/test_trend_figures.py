"""The engine's figures against reference libraries, and what must not change them."""

import numpy as np
import pymannkendall
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from service.trends.engine import assess
from service.trends.fits import fit
from service.trends.policy import DAYS_PER_MONTH, OVER_LIKE_PARTS
from service.trends.ranks import exact_upper_tail, variance
from tests.trends.fleets import block_of


def draw(seed: int, *, series: int, visits: int, rounded: bool = False):
    rng = np.random.default_rng(seed)
    days = np.sort(rng.uniform(0, 2000, (series, visits)), axis=1)
    rise_k = rng.normal(8, 2, (series, visits)) + rng.normal(0, 0.002, (series, 1)) * days
    return days, np.round(rise_k) if rounded else rise_k


@pytest.mark.parametrize("visits", [2, 3, 5, 8, 12, 13, 24, 60])
@pytest.mark.parametrize("rounded", [False, True], ids=["no ties", "ties"])
def test_slope_and_limits_equal_scipy_theilslopes(visits, rounded):
    days, rise_k = draw(visits, series=40, visits=visits, rounded=rounded)
    ours = fit(days, rise_k)
    for row in range(40):
        theirs = stats.theilslopes(rise_k[row], days[row], 0.9)
        np.testing.assert_allclose(
            [ours.slope[row], ours.slope_lo[row], ours.slope_hi[row]],
            [theirs.slope, theirs.low_slope, theirs.high_slope],
            rtol=1e-12,
            atol=1e-12,
        )
        line = theirs.intercept + theirs.slope * days[row, -1]
        assert ours.level_now_k[row] == pytest.approx(line, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize("visits", [4, 8, 12, 13, 24, 60])
@pytest.mark.parametrize("rounded", [False, True], ids=["no ties", "ties"])
def test_s_variance_and_normal_p_equal_pymannkendall(visits, rounded):
    days, rise_k = draw(100 + visits, series=40, visits=visits, rounded=rounded)
    ours = fit(days, rise_k)
    var = variance(days, np.sort(rise_k, axis=1))
    for row in range(40):
        theirs = pymannkendall.original_test(rise_k[row])
        assert ours.s[row] == theirs.s
        assert var[row] == pytest.approx(theirs.var_s, rel=1e-12)
        if visits > 12 or len(set(rise_k[row])) < visits:
            assert 2 * ours.p[row] == pytest.approx(theirs.p, rel=1e-9, abs=1e-15) or theirs.s == 0


def test_exact_p_equals_scipy_kendalltau_exact():
    days, rise_k = draw(7, series=60, visits=9)
    ours = fit(days, rise_k)
    for row in range(60):
        direction = "greater" if ours.s[row] >= 0 else "less"
        theirs = stats.kendalltau(days[row], rise_k[row], method="exact", alternative=direction)
        assert ours.p[row] == pytest.approx(theirs.pvalue, rel=1e-12)


def test_variance_with_ties_in_dates_and_values_equals_scipy_kendalltau():
    rng = np.random.default_rng(5)
    days = np.sort(rng.integers(0, 12, (40, 20)), axis=1).astype(float)
    rise_k = rng.integers(0, 8, (40, 20)).astype(float)
    s = fit(days, rise_k).s
    var = variance(days, np.sort(rise_k, axis=1))
    for row in range(40):
        theirs = stats.kendalltau(days[row], rise_k[row], method="asymptotic")
        assert 2 * stats.norm.sf(abs(s[row]) / np.sqrt(var[row])) == pytest.approx(theirs.pvalue, rel=1e-9)


def test_exact_tail_is_refused_beyond_its_range():
    for visits in (0, 13):
        with pytest.raises(ValueError, match="1 to 12"):
            exact_upper_tail(visits)


def test_a_series_of_thousands_of_visits_is_fitted_on_its_last_ones_only():
    rng = np.random.default_rng(3)
    days = np.arange(5000.0)[None]
    rise_k = 0.004 * days + rng.normal(0, 3, days.shape)
    found = assess(block_of(days, rise_k), OVER_LIKE_PARTS)
    assert found.n_fitted[0] <= 120
    assert found.n_visits[0] == 5000


def outcome(days, rise_k):
    found = assess(block_of(days, rise_k), OVER_LIKE_PARTS)
    return found, found.words


def test_order_of_rows_within_a_series_does_not_matter():
    days, rise_k = draw(31, series=50, visits=20)
    shuffle = np.random.default_rng(32).permutation(20)
    straight, words = outcome(days, rise_k)
    mixed, mixed_words = outcome(days[:, shuffle], rise_k[:, shuffle])
    assert words == mixed_words
    np.testing.assert_array_equal(straight.slope_k_per_month, mixed.slope_k_per_month)
    np.testing.assert_array_equal(straight.mk_s, mixed.mk_s)


def test_order_of_series_in_the_block_does_not_matter():
    days, rise_k = draw(33, series=50, visits=20)
    order = np.random.default_rng(34).permutation(50)
    straight, words = outcome(days, rise_k)
    moved, moved_words = outcome(days[order], rise_k[order])
    assert tuple(words[k] for k in order) == moved_words
    np.testing.assert_array_equal(straight.slope_k_per_month[order], moved.slope_k_per_month)


# Powers of two and whole days are exact in floating point, so equality may be asked strictly.
@settings(max_examples=60, deadline=None)
@given(
    rise_k=st.lists(st.integers(-4000, 4000), min_size=2, max_size=30),
    scale=st.sampled_from([0.25, 2.0, 8.0]),
    origin=st.integers(-20_000, 20_000),
    shift=st.integers(-64, 64),
)
def test_figures_follow_scale_and_ignore_origin(rise_k, scale, origin, shift):
    values = np.array([rise_k]) / 64.0
    days = np.arange(len(rise_k)) * 32.0
    base = fit(days[None], values)
    scaled = fit(days[None] + origin, values * scale + shift)
    np.testing.assert_array_equal(scaled.slope, base.slope * scale)
    np.testing.assert_array_equal(scaled.slope_lo, base.slope_lo * scale)
    np.testing.assert_array_equal(scaled.s, base.s)
    np.testing.assert_array_equal(scaled.p, base.p)
    np.testing.assert_allclose(scaled.level_now_k, base.level_now_k * scale + shift, atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(rise_k=st.lists(st.integers(-4000, 4000), min_size=2, max_size=30))
def test_upside_down_turns_every_sign(rise_k):
    values = np.array([rise_k]) / 64.0
    days = np.arange(len(rise_k))[None] * 32.0
    up, down = fit(days, values), fit(days, -values)
    np.testing.assert_array_equal(down.slope, -up.slope)
    np.testing.assert_array_equal(down.s, -up.s)
    np.testing.assert_array_equal(down.p, up.p)
    assert up.slope_lo[0] <= up.slope[0] <= up.slope_hi[0]


def test_the_line_runs_from_the_onset_to_the_level_now():
    """Three visits make the level before it, so that the earliest onset is the third of eight."""
    days = np.arange(8) * DAYS_PER_MONTH
    found = assess(block_of(days, np.array([2.0 + 1.5 * np.arange(8)])))
    assert found.slope_k_per_month[0] == pytest.approx(1.5)
    assert found.level_now_k[0] == pytest.approx(12.5)
    assert found.change_k[0] == pytest.approx(7.5)


def test_the_rank_interval_holds_the_true_slope_nine_times_in_ten():
    rng = np.random.default_rng(8)
    days = np.broadcast_to(np.arange(16) * 30.0, (4000, 16))
    found = fit(days, 0.01 * days + rng.normal(0, 1, days.shape))
    held = np.mean((found.slope_lo <= 0.01) & (found.slope_hi >= 0.01))
    assert 0.88 <= held <= 0.94


def test_series_with_no_visit_have_no_figures():
    nothing = fit(np.zeros((2, 0)), np.zeros((2, 0)))
    assert np.isnan(nothing.slope).all()
    assert nothing.s.tolist() == [0, 0]
