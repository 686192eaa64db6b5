"""The shape bank, the crossing date and the fleet's false flags against stated and recomputed figures.

The null law of the bank and the golden series were simulated and recomputed for this project
(worked by hand: there is no published table of this statistic); the list of Benjamini and
Hochberg is from memory.
"""

import numpy as np
import pytest
from scipy.stats import false_discovery_control

from service.trends.bank import QUADRATIC, RAMP, STEP, fit_onsets, surest_shape
from service.trends.crossing import PLAIN, Prior, crossing
from service.trends.discovery import IDEAL, adjusted, chance_of_z
from tests.published.evidence import BY_HAND, LIBRARY, MEMORY, evidence, named

GOLDEN_YEARS = np.arange(0, 4, 0.5)
GOLDEN_K = np.array([8, 8.4, 7.7, 8.2, 9.1, 11.2, 12.9, 15.2])
ONES = np.ones(8)
BANK = "shape bank, golden series of 8 visits"

ONSET = 3  # the visit at 1.5 years

ORDINARY_LEAST_SQUARES = named(
    [
        (STEP, 4.025, 5.69221, BANK, "step from 1.5 years", BY_HAND),
        (RAMP, 3.442857, 7.201252, BANK, "ramp from 1.5 years", BY_HAND),
        (QUADRATIC, 1.831470, 7.115385, BANK, "quadratic from 1.5 years", BY_HAND),
    ]
)


@pytest.mark.parametrize(("shape", "amplitude", "z"), ORDINARY_LEAST_SQUARES)
def test_amplitude_and_score_of_one_shape_from_one_onset(shape, amplitude, z):
    """By the normal equations, and the bank never says less than any one of them."""
    x = np.maximum(GOLDEN_YEARS - GOLDEN_YEARS[ONSET], 0)
    course = ((x > 0) * 1.0, x, x * x)[shape]
    design = np.column_stack([ONES, course])
    covariance = np.linalg.inv(design.T @ design)
    fitted = covariance @ design.T @ GOLDEN_K
    assert fitted[1] == pytest.approx(amplitude, abs=5e-6)
    assert fitted[1] / np.sqrt(covariance[1, 1]) == pytest.approx(z, abs=5e-6)
    found = surest_shape(GOLDEN_YEARS[None], GOLDEN_K[None], ONES[None], passes=1)
    assert found.z[0] >= z


@evidence(BANK, "level before the ramp from 1.5 years", BY_HAND)
def test_the_level_before_the_ramp():
    x = np.maximum(GOLDEN_YEARS - GOLDEN_YEARS[ONSET], 0)
    fitted, *_ = np.linalg.lstsq(np.column_stack([ONES, x]), GOLDEN_K, rcond=None)
    assert fitted[0] == pytest.approx(7.935714, abs=5e-7)


@evidence(BANK, "best of all onsets and shapes", BY_HAND)
def test_the_surest_shape_of_the_golden_series():
    plain = surest_shape(GOLDEN_YEARS[None], GOLDEN_K[None], ONES[None], passes=1)
    assert (int(plain.shape[0]), float(GOLDEN_YEARS[plain.onset[0]])) == (QUADRATIC, 1.0)
    assert plain.z[0] == pytest.approx(7.220222, abs=1e-6)
    assert plain.rise_k[0] == pytest.approx(7.36374, abs=5e-6)
    weighed = surest_shape(GOLDEN_YEARS[None], GOLDEN_K[None], ONES[None])
    assert weighed.z[0] == pytest.approx(8.018945, abs=1e-6)


BY_VISIT = named(
    [
        (visits, z, BANK, f"after {visits} visits", BY_HAND)
        for visits, z in ((3, 0.041), (4, 0.144), (5, 0.917), (6, 2.804), (7, 4.735), (8, 7.220))
    ]
)


@pytest.mark.parametrize(("visits", "z"), BY_VISIT)
def test_the_score_grows_visit_by_visit(visits, z):
    found = surest_shape(GOLDEN_YEARS[None, :visits], GOLDEN_K[None, :visits], ONES[None, :visits], passes=1)
    assert found.z[0] == pytest.approx(z, abs=5e-4)


@evidence(BANK, "over 4.6 for the first time at visit 7", BY_HAND)
def test_the_golden_series_is_flagged_at_its_seventh_visit():
    scores = [
        float(surest_shape(GOLDEN_YEARS[None, :n], GOLDEN_K[None, :n], ONES[None, :n], passes=1).z[0])
        for n in range(1, 9)
    ]
    assert next(n for n, z in enumerate(scores, start=1) if z > 4.6) == 7
    assert np.isnan(scores[0])


@evidence("sums over the visits after each onset", "against the normal equations one by one", BY_HAND)
def test_all_onsets_at_once_are_what_each_is_alone():
    rng = np.random.default_rng(7)
    years = np.sort(rng.uniform(0, 5, 14))
    y, weight = rng.normal(8, 2, 14), rng.uniform(0.2, 2, 14)
    best = -np.inf
    for onset in range(13):
        x = np.maximum(years - years[onset], 0)
        for shape, course in enumerate(((x > 0) * 1.0, x, x * x)):
            if 13 - onset <= shape:
                continue
            design = np.column_stack([np.ones(14), course])
            covariance = np.linalg.inv(design.T @ (weight[:, None] * design))
            amplitude = (covariance @ design.T @ (weight * y))[1]
            best = max(best, amplitude / np.sqrt(covariance[1, 1]))
    tau = (years - years[-1])[:, None]
    assert fit_onsets(tau, (y - y.mean())[:, None], weight[:, None]).z[0] == pytest.approx(best, abs=1e-10)


QUANTILES = (0.50, 0.90, 0.95, 0.99)
LAW = {
    4: (0.65, 1.92, 2.29, 2.98),
    6: (0.88, 2.09, 2.45, 3.12),
    8: (1.03, 2.20, 2.54, 3.21),
    12: (1.17, 2.32, 2.64, 3.28),
    16: (1.27, 2.40, 2.73, 3.34),
    24: (1.38, 2.49, 2.80, 3.41),
    40: (1.53, 2.58, 2.90, 3.58),
    60: (1.60, 2.63, 2.94, 3.56),
}
NULL = named(
    [
        (visits, quantiles, "law of Z without change, 20,000 simulated series", f"{visits} visits", BY_HAND)
        for visits, quantiles in LAW.items()
    ]
)


@pytest.mark.parametrize(("visits", "quantiles"), NULL)
def test_the_law_of_z_where_nothing_changes(visits, quantiles):
    """Within 0.1 for the middle and the tail to one in twenty, 0.15 at one in a hundred."""
    rng = np.random.default_rng(visits)
    years = np.sort(rng.uniform(0, 5, (8000, visits)), axis=1)
    u = rng.uniform(0.6, 1.8, years.shape)
    found = np.quantile(surest_shape(years, rng.normal(size=u.shape) * u, u).z, QUANTILES)
    np.testing.assert_array_less(np.abs(found - quantiles), (0.1, 0.1, 0.1, 0.15))


FAR = named(
    [
        (visits, z, "law of Z without change, 20,000 simulated series", f"{visits} visits, 99.9 %", BY_HAND)
        for visits, z in (
            (4, 3.74), (6, 3.95), (8, 3.92), (12, 3.98), (16, 4.09), (24, 4.15), (40, 4.25), (60, 4.23)
        )
    ]
)  # fmt: skip


@pytest.mark.parametrize(("visits", "z"), FAR)
def test_one_in_a_thousand_where_nothing_changes(visits, z):
    """Equal uncertainties at equal steps: 20 of 20,000 lie beyond it, give or take 0.25."""
    years = np.broadcast_to(np.arange(visits) / 4, (20_000, visits))
    rises = np.random.default_rng(1000 + visits).normal(size=years.shape)
    found = surest_shape(years, rises, np.ones(years.shape))
    assert np.quantile(found.z, 0.999) == pytest.approx(z, abs=0.25)
    # the law does not depend on when visits come and how sure each is (the test above)
    assert np.quantile(found.z, 0.99) == pytest.approx(LAW[visits][3], abs=0.15)


TAIL = named(
    [
        (visits, z, p, "fitted tail of the law of Z", f"{visits} visits, {100 * (1 - p):g} % point", BY_HAND)
        for visits, z, p in (
            (8, 3.21, 0.01),
            (12, 3.28, 0.01),
            (24, 3.41, 0.01),
            (40, 4.25, 0.001),
            (60, 4.23, 0.001),
        )
    ]
)


@pytest.mark.parametrize(("visits", "z", "p"), TAIL)
def test_the_closed_form_follows_the_simulated_tail(visits, z, p):
    assert float(chance_of_z(z, visits, divisor=IDEAL)) == pytest.approx(p, rel=0.75)


# ---- the date ---------------------------------------------------------------------------------------

DATES = "posterior over the date, golden series, line at 50 K"
CHANCES = named(
    [
        (
            "chance within a year",
            0.0137,
            lambda f: f.chance(1.0),
            DATES,
            "first writing, within 15 %",
            BY_HAND,
        ),
        (
            "chance within two years",
            0.1107,
            lambda f: f.chance(2.0),
            DATES,
            "first writing, within 15 %",
            BY_HAND,
        ),
        (
            "chance of never",
            0.040,
            lambda f: 1 - f.reached_by[-1],
            DATES,
            "first writing, within 15 %",
            BY_HAND,
        ),
        ("early end", 1.52, lambda f: f.date(0.05), DATES, "first writing, within 15 %", BY_HAND),
        ("middle", 4.39, lambda f: f.date(0.50), DATES, "first writing, within 15 %", BY_HAND),
        ("late end", 9.72, lambda f: f.date(0.95), DATES, "first writing, within 15 %", BY_HAND),
    ]
)
PINNED = named(
    [
        (
            "chance within a year",
            0.0123,
            lambda f: f.chance(1.0),
            DATES,
            "second writing, within 1 %",
            BY_HAND,
        ),
        (
            "chance within two years",
            0.1003,
            lambda f: f.chance(2.0),
            DATES,
            "second writing, within 1 %",
            BY_HAND,
        ),
        (
            "chance of never",
            0.038,
            lambda f: 1 - f.reached_by[-1],
            DATES,
            "second writing, within 1 %",
            BY_HAND,
        ),
        ("early end", 1.59, lambda f: f.date(0.05), DATES, "second writing, within 1 %", BY_HAND),
        ("middle", 4.57, lambda f: f.date(0.50), DATES, "second writing, within 1 %", BY_HAND),
        ("late end", 10.3, lambda f: f.date(0.95), DATES, "second writing, within 1 %", BY_HAND),
    ]
)


@pytest.mark.parametrize(("what", "expected", "of"), CHANCES)
def test_dates_of_the_golden_series(what, expected, of):
    found = crossing(GOLDEN_YEARS, GOLDEN_K, ONES, line_k=50.0, prior=PLAIN)
    assert of(found) == pytest.approx(expected, rel=0.15), what


@pytest.mark.parametrize(("what", "expected", "of"), PINNED)
def test_dates_of_the_golden_series_by_a_writing_from_the_text_alone(what, expected, of):
    found = crossing(GOLDEN_YEARS, GOLDEN_K, ONES, line_k=50.0, prior=PLAIN)
    assert of(found) == pytest.approx(expected, rel=0.013), what


@evidence("posterior over the date", "a blurred line is the mean of three sharp ones", BY_HAND)
def test_the_exponent_is_a_blur_of_the_line():
    sharp = Prior(blur=0.0)
    parts = [
        share * crossing(GOLDEN_YEARS, GOLDEN_K, ONES, line_k=50 * factor, prior=sharp).reached_by
        for factor, share in ((0.92, 0.25), (1.0, 0.5), (1.08, 0.25))
    ]
    found = crossing(GOLDEN_YEARS, GOLDEN_K, ONES, line_k=50.0, prior=PLAIN)
    np.testing.assert_allclose(found.reached_by, sum(parts), atol=1e-12)


# ---- false discovery --------------------------------------------------------------------------------

BH = "Benjamini and Hochberg (1995), section 3.2"
P_VALUES = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344,
    0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0,
]  # fmt: skip


@evidence(BH, "four of fifteen rejected at 5 %", MEMORY)
def test_four_of_fifteen_are_rejected():
    assert int((adjusted(P_VALUES) <= 0.05).sum()) == 4


@evidence(BH, "adjusted chances of the first five", MEMORY)
def test_adjusted_chances():
    assert adjusted(P_VALUES)[:5] == pytest.approx([0.0015, 0.0030, 0.0095, 0.0356, 0.0603], abs=5e-5)


@evidence(BH, "three rejected by Bonferroni and by Hochberg's step-up", MEMORY)
def test_stricter_rules_reject_three():
    """What control of the false share gains; Hochberg (1988): the largest p_(k) <= q / (m + 1 - k)."""
    p, count = np.array(P_VALUES), len(P_VALUES)
    assert int((p * count <= 0.05).sum()) == 3
    steps = np.flatnonzero(p <= 0.05 / (count - np.arange(count)))
    assert int(steps.max()) + 1 == 3


@evidence(BH, "all fifteen, scipy.stats.false_discovery_control", LIBRARY)
def test_adjusted_chances_are_those_of_scipy():
    np.testing.assert_allclose(adjusted(P_VALUES), false_discovery_control(P_VALUES), rtol=1e-14)


@evidence(BH, "in any order, and a missing one is none", BY_HAND)
def test_order_and_gaps_do_not_matter():
    mixed = np.array([np.nan, *P_VALUES[::-1]])
    np.testing.assert_allclose(adjusted(mixed)[1:][::-1], adjusted(P_VALUES))
    assert np.isnan(adjusted(mixed)[0])
