"""The date of crossing: chances that add up, dates in order, and no promise where there is none."""

import numpy as np
import pytest

from service.trends.crossing import (
    AIR_DATES,
    BASELINE_DATES,
    EDGES,
    FARTHEST,
    LIKE_DATES,
    PLAIN,
    Crossing,
    crossing,
)

PRIORS = pytest.mark.parametrize(
    "prior", [PLAIN, AIR_DATES, LIKE_DATES, BASELINE_DATES], ids=["plain", "air", "like parts", "baseline"]
)
YEARS = np.arange(12) / 4.0


def forecast(course, *, line_k: float = 15.0, prior=LIKE_DATES, u: float = 0.5, seed: int = 1) -> Crossing:
    noise = np.random.default_rng(seed).normal(0, u, len(YEARS))
    return crossing(YEARS, course + noise, np.full(len(YEARS), u), line_k=line_k, prior=prior)


def ramp(k_per_year: float) -> np.ndarray:
    return 1 + k_per_year * np.maximum(YEARS - 1, 0)


@PRIORS
def test_chances_never_fall_and_never_pass_one(prior):
    found = forecast(ramp(4), prior=prior)
    assert (np.diff(found.reached_by) >= 0).all()
    assert 0 <= found.reached_by[0] <= found.reached_by[-1] <= 1
    assert found.earliest < found.likeliest < found.latest


@PRIORS
def test_a_steeper_rise_crosses_sooner(prior):
    slow, fast = forecast(ramp(2), prior=prior), forecast(ramp(6), prior=prior)
    assert fast.chance(1.0) > slow.chance(1.0)
    assert fast.likeliest < slow.likeliest


def test_a_farther_line_is_reached_later():
    near, far = forecast(ramp(4)), forecast(ramp(4), line_k=40)
    assert near.chance(1.0) > far.chance(1.0)


def test_the_range_holds_the_day_of_a_straight_rise():
    found = forecast(ramp(4))
    left = (15 - 1) / 4 + 1 - YEARS[-1]
    assert found.earliest < left < found.latest


def test_a_flat_series_is_hardly_ever_said_to_cross():
    found = forecast(np.full(len(YEARS), 2.0))
    assert found.chance(1.0) < 0.1
    assert found.latest == np.inf


def test_an_open_end_is_infinite_and_not_a_date():
    found = Crossing(np.linspace(0, 0.6, len(EDGES)), LIKE_DATES)
    assert found.latest == np.inf
    assert found.earliest < FARTHEST
    assert found.likeliest == found.date(0.3)


def test_noisier_readings_make_a_wider_range():
    sharp, blunt = forecast(ramp(4), u=0.3), forecast(ramp(4), u=2.0)
    assert blunt.earliest < sharp.earliest


def test_one_date_is_no_series():
    with pytest.raises(ValueError, match="two dates"):
        crossing(np.zeros(3), np.arange(3.0), np.ones(3), line_k=15, prior=LIKE_DATES)


def test_the_origin_of_time_does_not_matter():
    rises, u = ramp(4), np.full(len(YEARS), 0.5)
    here = crossing(YEARS, rises, u, line_k=15, prior=LIKE_DATES)
    there = crossing(YEARS + 2026, rises, u, line_k=15, prior=LIKE_DATES)
    np.testing.assert_allclose(here.reached_by, there.reached_by, atol=1e-9)
