"""The fan: cut from the same posterior as the range of dates, so that the two cannot disagree."""

from dataclasses import replace

import numpy as np
import pytest

from service.trends.crossing import AIR_DATES, BASELINE_DATES, LIKE_DATES, PLAIN, courses
from service.trends.engine import MONTHS_AHEAD, assess
from service.trends.fan import PAST_LINE, fan, shares
from service.trends.policy import OVER_BASELINE, OVER_LIKE_PARTS
from tests.trends.fleets import block_of

PRIORS = pytest.mark.parametrize(
    "prior", [PLAIN, AIR_DATES, LIKE_DATES, BASELINE_DATES], ids=["plain", "air", "like parts", "baseline"]
)
MONTHS = np.arange(MONTHS_AHEAD + 1) / 12
A_MONTH = 1 / 12
MONTHLY = np.arange(40) * 30.4375
RISER = np.array([0, 0.2, -0.1, 0.1, 0, 1, 2, 3, 4, 5.0])


def risers(seed: int, count: int):
    """Series whose rise began some visits ago: straight, faster and faster, monthly to half-yearly."""
    rng = np.random.default_rng(seed)
    while count:
        visits, step = int(rng.integers(6, 36)), rng.choice([1 / 12, 1 / 4, 1 / 2])
        years = np.arange(visits) * step
        x = np.maximum(years - years[rng.integers(2, visits - 2)], 0)
        line_k, lasts = rng.choice([15.0, 40.0]), x[-1] + rng.uniform(0.3, 4)
        rise_k = 2 + (line_k - 2) * (x / lasts) ** rng.choice([1, 2, 4]) + rng.normal(0, 0.6, visits)
        if rise_k[-1] < line_k:
            count -= 1
            yield years, rise_k, np.full(visits, 0.6), float(line_k)


def meets(curve_k, line_k: float) -> float:
    """Years ahead at which a monthly curve passes the line; infinite where it does not."""
    over = curve_k > line_k
    if not over.any():
        return np.inf
    at = int(over.argmax())
    if at == 0:
        return 0.0
    return (at - 1 + (line_k - curve_k[at - 1]) / (curve_k[at] - curve_k[at - 1])) * A_MONTH


@PRIORS
def test_its_outer_curves_meet_the_line_within_a_month_of_the_range_of_dates(prior):
    checked = 0
    for years, rise_k, u_k, line_k in risers(seed=20261128, count=12):
        found = courses(years, rise_k, u_k, line_k=line_k, prior=prior)
        dates, curves = found.crossing(), fan(found, MONTHS)
        for date, curve_k in ((dates.earliest, curves[-1]), (dates.latest, curves[0])):
            met = meets(curve_k, line_k)
            if min(date, met) < MONTHS[-1] - A_MONTH:
                assert met == pytest.approx(date, abs=A_MONTH)
                checked += 1
    assert checked > 12


def test_its_outer_curves_are_the_ends_of_the_range():
    low, *_, high = shares(LIKE_DATES)
    assert (low, high) == pytest.approx((1 - LIKE_DATES.late, 1 - LIKE_DATES.early))


@PRIORS
def test_its_curves_lie_over_one_another_and_never_fall(prior):
    for years, rise_k, u_k, line_k in risers(seed=7, count=6):
        curves = fan(courses(years, rise_k, u_k, line_k=line_k, prior=prior), MONTHS)
        assert (np.diff(curves, axis=0) >= -1e-9).all()
        assert (np.diff(curves, axis=1) >= -1e-9).all()
        assert curves.max() <= PAST_LINE * line_k + 1e-9


def test_it_begins_about_the_last_visit_and_opens_with_time():
    years = np.arange(12) / 4.0
    rise_k = 1 + 4 * np.maximum(years - 1, 0) + np.random.default_rng(1).normal(0, 0.3, 12)
    curves = fan(courses(years, rise_k, np.full(12, 0.3), line_k=40.0, prior=LIKE_DATES), MONTHS[:13])
    assert curves[0, 0] < rise_k[-1] < curves[-1, 0]
    now, half_a_year, a_year = (curves[-1] - curves[0])[[0, 6, 12]]
    assert now < half_a_year < a_year


def test_a_straight_rise_goes_on_inside_it():
    years = np.arange(12) / 4.0
    rise_k = 1 + 4 * np.maximum(years - 1, 0) + np.random.default_rng(1).normal(0, 0.3, 12)
    curves = fan(courses(years, rise_k, np.full(12, 0.3), line_k=40.0, prior=LIKE_DATES), MONTHS)
    straight = 1 + 4 * (years[-1] - 1 + MONTHS)
    assert ((curves[0] < straight) & (straight < curves[-1])).all()


def test_noisier_readings_make_a_wider_fan():
    years, course = np.arange(12) / 4.0, 1 + 4 * np.maximum(np.arange(12) / 4.0 - 1, 0)
    draw = np.random.default_rng(2).normal(0, 1, 12)
    sharp, blunt = (
        fan(courses(years, course + u * draw, np.full(12, u), line_k=40.0, prior=LIKE_DATES), MONTHS)
        for u in (0.2, 2.0)
    )
    assert (blunt[-1] - blunt[0])[6] > (sharp[-1] - sharp[0])[6]


def told(rise_k, *, line_k: float, policy=OVER_LIKE_PARTS, **change):
    block = block_of(MONTHLY[: len(rise_k)], np.asarray(rise_k)[None], u_k=0.5)
    return assess(replace(block, line_k=np.array([line_k]), **change), policy)


@pytest.mark.parametrize(
    ("rise_k", "line_k"),
    [(RISER, np.nan), (RISER, 4.0), (np.zeros(10), 15.0), (RISER[:7], 15.0)],
    ids=["no line", "over its line", "steady", "not confirmed"],
)
def test_it_is_silent_wherever_the_date_is(rise_k, line_k):
    found = told(rise_k, line_k=line_k)
    assert np.isnan(found.earliest_days[0])
    assert found.fans == {}


def test_it_runs_month_by_month_from_the_last_visit_to_the_late_end_or_two_years_from_today():
    near = told(RISER, line_k=7.0)
    assert near.fans[0].days[0] == MONTHLY[9]
    np.testing.assert_allclose(np.diff(near.fans[0].days), 365.25 / 12)
    assert near.latest_days[0] <= near.fans[0].days[-1] < near.latest_days[0] + 31
    far = told(RISER, line_k=60.0, today=MONTHLY[9] + 90)
    assert far.fans[0].days[-1] - MONTHLY[9] - 90 == pytest.approx(MONTHS_AHEAD * 365.25 / 12, abs=31)


def test_over_a_baseline_it_is_told_though_chances_are_not():
    rise_k = 2.0 * np.maximum(np.arange(20) - 8, 0) + np.random.default_rng(3).normal(0, 0.3, 20)
    found = told(rise_k, line_k=40.0, policy=OVER_BASELINE)
    assert np.isnan(found.chance_12[0])
    assert found.fans[0].curves_k.shape == (5, len(found.fans[0].days))
