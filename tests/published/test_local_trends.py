"""The local linear trend against the Nile, certified regressions and matrices written out."""

import numpy as np
import pytest
from scipy.optimize import minimize

from service.trends.local_trends import Wander, local_trend
from tests.published.evidence import BY_HAND, MEMORY, evidence, named
from tests.published.test_trend_statistics import NILE_FLOW

# ---- the Nile: a level alone ---------------------------------------------------------------------------

NILE = "Durbin and Koopman (2012), Nile, local level with 15099 and 1469.1"
FLOW = np.array(NILE_FLOW.split(), dtype=float)
YEARS = np.arange(100.0)
STATSMODELS = "Nile, local level as statsmodels printed it during the study"


def level_alone(flow, noise=15099.0, wander=1469.1):
    how = Wander(level=wander, slope=0.0, slope_sd=0.0, clip=np.inf)
    return local_trend(YEARS, flow, np.full(100, np.sqrt(noise)), how)


def log_likelihood(found):
    """Of the 99 flows that the first one says something of."""
    off, sd = found.off_k[1:], found.off_sd_k[1:]
    return float(-0.5 * np.sum(np.log(2 * np.pi * sd**2) + (off / sd) ** 2))


def approximate(flow, noise=15099.0, wander=1469.1, start=1e6):
    """The same with a level of 0 +- 1000 beforehand, instead of the exact start: filtered, likelihood, smoothed."""
    level, var, told, likelihood = 0.0, start, [], 0.0
    for k, value in enumerate(flow):
        var += wander if k else 0.0
        off, spread = value - level, var + noise
        likelihood += -0.5 * (np.log(2 * np.pi * spread) + off**2 / spread) if k else 0.0
        level, var = level + var / spread * off, var * noise / spread
        told.append((level, var))
    smooth = level
    for level, var in told[-2::-1]:
        smooth = level + var / (var + wander) * (smooth - level)
    return likelihood, smooth


FIGURES = named(
    [
        (lambda f: log_likelihood(f), -632.5456, 5e-5, NILE, "log-likelihood, exact start", MEMORY),
        (lambda f: log_likelihood(f) - 0.5 * np.log(2 * np.pi), -633.4646, 5e-5, STATSMODELS, "log-likelihood that counts log 2 pi a hundred times", BY_HAND),
        (lambda f: f.level_k[-1], 798.370, 5e-4, NILE, "filtered level of 1970", MEMORY),
        (lambda f: f.level_sd_k[-1] ** 2, 4032.16, 5e-3, NILE, "its variance", MEMORY),
        (lambda f: f.off_sd_k[-1] ** 2 - 15099, 5501.26, 5e-3, NILE, "steady predicted variance", MEMORY),
        (lambda f: 1 - 15099 / f.off_sd_k[-1] ** 2, 0.26705, 5e-6, NILE, "steady gain", MEMORY),
    ]
)  # fmt: skip


@pytest.mark.parametrize(("of", "expected", "within"), FIGURES)
def test_figures_of_the_nile(of, expected, within):
    assert of(level_alone(FLOW)) == pytest.approx(expected, abs=within)


@evidence(NILE, "smoothed level of 1871", MEMORY)
def test_the_smoothed_first_level_is_the_filtered_last_one_of_the_years_turned_about():
    """A level that wanders, of which nothing is known before, looks alike from both ends."""
    assert level_alone(FLOW[::-1]).level_k[-1] == pytest.approx(1111.668, abs=5e-4)


@evidence(STATSMODELS, "approximate start of variance 1,000,000", BY_HAND)
def test_what_an_approximate_start_would_have_said():
    """It draws the first level 4.5 below the exact one: the reason for the exact start here."""
    likelihood, first = approximate(FLOW)
    assert likelihood == pytest.approx(-632.5377, abs=5e-5)
    assert first == pytest.approx(1107.204, abs=5e-4)


@evidence(NILE, "maximum likelihood 15098.5 and 1469.2", MEMORY)
def test_the_variances_of_the_book_are_the_likeliest():
    best = minimize(
        lambda logs: -log_likelihood(level_alone(FLOW, *np.exp(logs))),
        np.log([14000.0, 1600.0]),
        method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-10},
    )
    assert np.exp(best.x) == pytest.approx([15098.5, 1469.2], abs=0.06)


# ---- without wander it is least squares -----------------------------------------------------------------

NORRIS = "NIST StRD Norris, certified"
NORRIS_PAIRS = """  y, x
    0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6
    778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6
    557.7 556.0 228.3 228.1 998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1
    888.0 887.2 998.5 999.0 778.9 779.0 10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5"""
NORRIS_DATA = np.array(NORRIS_PAIRS.split()[2:], dtype=float).reshape(36, 2)
PEARSON = "Pearson's data with the weights of y alone, weighted least squares"
PEARSON_X = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
PEARSON_Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
PEARSON_WEIGHTS = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])
STILL = Wander(level=0.0, slope=0.0, clip=np.inf)


def straight(x, y, u):
    """Level and slope at 0: a last value there that is worth nothing reads the intercept off."""
    found = local_trend(np.append(x, 0.0), np.append(y, 0.0), np.append(u, 1e12), STILL)
    off, sd = found.off_k[:-1], found.off_sd_k[:-1]
    known = np.isfinite(off)
    residual_sd = np.sqrt(np.sum((off[known] / sd[known]) ** 2) / (len(x) - 2))
    return {
        "slope": found.slope[-1],
        "sd of the slope": found.slope_sd[-1],
        "intercept": found.level_k[-1],
        "sd of the intercept": found.level_sd_k[-1],
        "residual sd": residual_sd,
    }


CERTIFIED = named(
    [
        (what, value, NORRIS, what, MEMORY)
        for what, value in (
            ("slope", 1.00211681802045),
            ("sd of the slope", 0.000429796848199937),
            ("intercept", -0.262323073774029),
            ("sd of the intercept", 0.232818234301152),
            ("residual sd", 0.884796396144373),
        )
    ]
)


@pytest.mark.parametrize(("what", "certified"), CERTIFIED)
def test_a_trend_that_does_not_wander_is_the_certified_line(what, certified):
    """To eight figures; standard deviations by the residuals' own, as certified."""
    found = straight(NORRIS_DATA[:, 1], NORRIS_DATA[:, 0], np.ones(36))
    scale = found["residual sd"] if what in ("sd of the slope", "sd of the intercept") else 1.0
    assert found[what] * scale == pytest.approx(certified, rel=1e-8)


WEIGHTED = named(
    [
        (what, value, within, PEARSON, what, BY_HAND)
        for what, value, within in (
            ("intercept", 6.10010932, 5e-9),
            ("slope", -0.61081296, 5e-9),
            ("sd of the intercept", 0.20466, 5e-6),
            ("sd of the slope", 0.03009, 5e-6),
        )
    ]
)


@pytest.mark.parametrize(("what", "value", "within"), WEIGHTED)
def test_uncertainties_weigh_as_in_weighted_least_squares(what, value, within):
    """York's line (5.47991, -.480533, from memory) weighs x too; dates of visits are exact."""
    found = straight(PEARSON_X, PEARSON_Y, 1 / np.sqrt(PEARSON_WEIGHTS))
    assert found[what] == pytest.approx(value, abs=within)


# ---- level and slope that wander --------------------------------------------------------------------------


@evidence("Harvey (1989), section 2.3", "all visits at once, as one normal distribution", BY_HAND)
@pytest.mark.parametrize("slope_sd", [3.0, np.inf], ids=["slope of 0 +- 3 before", "slope unknown before"])
def test_the_filter_is_the_best_estimate_from_all_visits_at_once(slope_sd):
    """By generalised least squares with the whole covariance of a wandering level and slope."""
    rng = np.random.default_rng(5)
    years = np.cumsum(rng.uniform(0.1, 0.6, 9))
    y, u = rng.normal(8, 3, 9), rng.uniform(0.5, 2, 9)
    q_level, q_slope = 0.5, 4.0
    found = local_trend(years, y, u, Wander(q_level, q_slope, slope_sd, clip=np.inf))
    t = years - years[0]
    low = np.minimum(t[:, None], t[None])
    # level: Brownian part and once-integrated Brownian part; slope: the latter's rate
    level_level = q_level * low + q_slope * (low**2 * (3 * np.maximum(t[:, None], t[None]) - low) / 6)
    # of the slope now with each level before
    rate_level = q_slope * t**2 / 2
    prior = 0.0 if np.isinf(slope_sd) else slope_sd**-2
    design = np.column_stack([np.ones(9), t])
    weight = np.linalg.inv(level_level + np.diag(u**2))
    start = np.linalg.inv(design.T @ weight @ design + np.diag([0.0, prior]))
    coefficients = start @ design.T @ weight @ y
    left = weight @ (y - design @ coefficients)
    level = np.array([1, t[-1]]) @ coefficients + level_level[-1] @ left
    slope = coefficients[1] + rate_level @ left
    assert found.level_k[-1] == pytest.approx(level, rel=1e-9)
    assert found.slope[-1] == pytest.approx(slope, rel=1e-9)
    reach = np.array([0, 1]) - design.T @ weight @ rate_level
    slope_var = q_slope * t[-1] - rate_level @ weight @ rate_level + reach @ start @ reach
    assert found.slope_sd[-1] == pytest.approx(np.sqrt(slope_var), rel=1e-9)
