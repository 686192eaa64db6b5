"""The uncertainty code against the worked examples of the Guide and its supplements."""

from collections.abc import Iterable

import numpy as np
import pytest
from GTC import dof, get_correlation, reporting, type_a, ureal
from GTC import uncertainty as gtc_uncertainty
from scipy import stats

from service.physics.assumptions import Assumptions, Input
from service.physics.budget_terms import Terms
from service.physics.compared_uncertainty import over_twin
from service.physics.monte_carlo import summary_of_trials, validate
from service.physics.severity import band_chances
from service.physics.significant import significant
from service.physics.uncertainty import Budget, made_budget
from tests.published.evidence import BY_HAND, LIBRARY, MEMORY, evidence, named

H1, H3 = "JCGM 100 H.1 end gauge", "JCGM 100 H.3 thermometer"
HALF = np.sqrt(3.0)
NONE = np.zeros((), dtype=np.uint8)
SEED = 20_231

#: JCGM 100 H.1.6: contributions of standard, comparison and temperatures [nm]; values from memory
END_GAUGE_NM = {
    "calibration of the standard": 25.0,
    "difference of the two": 9.7,
    "difference of expansion coefficients": 2.9,
    "difference of temperatures": 16.6,
}


def end_gauge(lines_nm: Iterable[float]) -> Budget:
    inputs = (Input.CAMERA, Input.NOISE, Input.EXPONENT, Input.AIR)
    lines = dict(zip(inputs, map(np.asarray, lines_nm), strict=True))
    return made_budget(np.asarray(838.0), lines, refusal=NONE, caution=NONE)


@evidence(H1, "u = 32 nm from 25, 9.7, 2.9 and 16.6 nm, GTC agrees", MEMORY)
def test_end_gauge_line_by_line() -> None:
    found = end_gauge(END_GAUGE_NM.values())
    assert float(found.u) == pytest.approx(31.66, abs=0.05)
    rounded = significant(50_000_838.0, float(found.u))
    assert rounded is not None
    assert (f"{rounded.value:f}", f"{rounded.uncertainty:f}") == ("50000838", "32")
    assert Input(int(found.largest)) is Input.CAMERA
    by_library = sum(ureal(0.0, u) for u in END_GAUGE_NM.values())
    assert float(found.u) == pytest.approx(gtc_uncertainty(by_library), rel=1e-12)


def end_gauge_figures() -> dict[str, float]:
    """Figures of the example from inputs that are not rounded between; degrees of freedom by GTC."""
    length_nm, comparison = 50_000_623.0, (ureal(0, 5.8, 24), ureal(0, 3.9, 5), ureal(0, 6.7, 8))
    comparison_nm = gtc_uncertainty(sum(comparison))
    expansion_nm, temperature_nm = (length_nm * a / HALF for a in (0.1e-6, 11.5e-6 * 0.05))
    found = end_gauge((25.0, comparison_nm, expansion_nm, temperature_nm))
    by_library = (
        sum(comparison) + ureal(0, 25.0, 18) + ureal(0, expansion_nm, 50) + ureal(0, temperature_nm, 2)
    )
    freedom = float(dof(by_library))
    k = float(reporting.k_factor(int(freedom), 99))
    second = (length_nm * 1e-6 / HALF * 0.41, length_nm * 2e-6 / HALF * 0.05 / HALF)
    u = float(found.u)
    return {
        "u": u,
        "degrees of freedom": freedom,
        "k": k,
        "U99": k * u,
        "u with the second order": float(np.hypot(u, np.hypot(*second))),
    }


# figure, value, tolerance: the last digit printed; source, clause, kind
END_GAUGE = [
    ("u", 32, 0.5, H1, "H.1.5, u nm", MEMORY),
    ("k", 2.92, 5e-3, H1, "H.1.6, t of 99 % at 16 degrees of freedom", MEMORY),
    ("u with the second order", 34, 0.5, H1, "H.1.7, u nm", MEMORY),
    ("u", 31.664, 5e-4, H1, "u nm", BY_HAND),
    ("u with the second order", 33.85, 0.01, H1, "u nm with the second order", BY_HAND),
    ("degrees of freedom", 16.75, 5e-3, H1, "degrees of freedom by GTC", LIBRARY),
    ("k", 2.921, 5e-4, H1, "coverage factor by GTC", LIBRARY),
    ("U99", 92.5, 0.05, H1, "U of 99 % nm by GTC", LIBRARY),
]


@pytest.mark.parametrize(("figure", "expected", "tolerance"), named(END_GAUGE))
def test_end_gauge(figure: str, expected: float, tolerance: float) -> None:
    assert end_gauge_figures()[figure] == pytest.approx(expected, abs=tolerance)


@evidence(H1, "H.1.6, 16 degrees of freedom and 2.92 × 32 = 93 nm", MEMORY)
def test_end_gauge_is_rounded_as_the_guide_rounds_it() -> None:
    found = end_gauge_figures()
    assert int(found["degrees of freedom"]) == 16
    assert round(round(found["k"], 2) * round(found["u"])) == 93


OVER_20_C = np.array([1.521, 2.012, 2.512, 3.003, 3.507, 3.999, 4.513, 5.002, 5.503, 6.010, 6.511])
CORRECTIONS_C = np.array(
    [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
)


def thermometer() -> dict[str, float]:
    """Intercept and slope of the corrections against t − 20 °C with u and r, by GTC's own fit."""
    fit = type_a.line_fit(OVER_20_C, CORRECTIONS_C)
    a, slope = fit.a_b
    at_30_c = a + 10.0 * slope
    return {
        "y1": float(a.x),
        "u of y1": float(a.u),
        "y2": float(slope.x),
        "u of y2": float(slope.u),
        "r": float(get_correlation(a, slope)),
        "s": float(np.sqrt(fit.ssr / dof(at_30_c))),
        "b(30 °C)": float(at_30_c.x),
        "u of b(30 °C)": float(at_30_c.u),
        "degrees of freedom": float(dof(at_30_c)),
    }


# figure, value, tolerance: half the last digit printed; source, clause, kind
THERMOMETER = [
    ("y1", -0.1712, 5e-5, H3, "y1", MEMORY),
    ("u of y1", 0.0029, 5e-5, H3, "u of y1", MEMORY),
    ("y2", 0.00218, 5e-6, H3, "y2", MEMORY),
    ("u of y2", 0.00067, 5e-6, H3, "u of y2", MEMORY),
    ("r", -0.930, 5e-4, H3, "r", MEMORY),
    ("s", 0.0035, 5e-5, H3, "s", MEMORY),
    ("b(30 °C)", -0.1494, 5e-5, H3, "b(30 °C)", MEMORY),
    ("u of b(30 °C)", 0.0041, 5e-5, H3, "u of b(30 °C)", MEMORY),
    ("degrees of freedom", 9, 1e-9, H3, "degrees of freedom", MEMORY),
    ("y1", -0.17120, 5e-6, H3, "y1 by GTC", LIBRARY),
    ("u of y1", 0.00288, 5e-6, H3, "u of y1 by GTC", LIBRARY),
    ("y2", 0.002183, 5e-7, H3, "y2 by GTC", LIBRARY),
    ("u of y2", 0.000668, 5e-7, H3, "u of y2 by GTC", LIBRARY),
    ("r", -0.9304, 5e-5, H3, "r by GTC", LIBRARY),
    ("s", 0.00350, 5e-6, H3, "s by GTC", LIBRARY),
    ("b(30 °C)", -0.14938, 5e-6, H3, "b(30 °C) by GTC", LIBRARY),
    ("u of b(30 °C)", 0.00414, 5e-6, H3, "u of b(30 °C) by GTC", LIBRARY),
]


@pytest.mark.parametrize(("figure", "expected", "tolerance"), named(THERMOMETER))
def test_thermometer_of_the_guide_is_the_one_fitted_here(
    figure: str, expected: float, tolerance: float
) -> None:
    assert thermometer()[figure] == pytest.approx(expected, abs=tolerance)


@evidence(H3, "straight line by least squares", BY_HAND)
def test_thermometer_by_the_normal_equations() -> None:
    line, covariance = np.polyfit(OVER_20_C, CORRECTIONS_C, 1, cov="unscaled")
    residual = CORRECTIONS_C - np.polyval(line, OVER_20_C)
    u = np.sqrt(np.diag(covariance) * (residual @ residual) / 9)
    found = thermometer()
    assert (line[1], u[1], line[0], u[0]) == pytest.approx(
        (found["y1"], found["u of y1"], found["y2"], found["u of y2"]), rel=1e-9
    )


@evidence(H3, "b(30 °C) = −.1494 ± .0041 of correlated intercept and slope", MEMORY)
def test_correlated_intercept_and_slope_of_a_thermometer() -> None:
    fit = thermometer()
    y1, u1, y2, u2, r = (fit[name] for name in ("y1", "u of y1", "y2", "u of y2", "r"))
    correlated = Assumptions(camera_correlation=r)
    intercept = Terms(np.asarray(y1), {Input.CAMERA: np.asarray(u1)}, NONE, NONE)
    ten_degrees = Terms(np.asarray(-10.0 * y2), {Input.CAMERA: np.asarray(-10.0 * u2)}, NONE, NONE)
    found = over_twin(intercept, ten_degrees, assumptions=correlated)
    assert float(found.value) == pytest.approx(-0.1494, abs=5e-5)
    assert float(found.u) == pytest.approx(0.0041, abs=5e-5)
    rounded = significant(float(found.value), float(found.u))
    assert rounded is not None
    assert f"{rounded.value} ± {rounded.uncertainty}" == "-0.1494 ± 0.0041"


@evidence("JCGM 106 §7.4", "13.6 ± 1.8 within 12.5–16.3: .66", MEMORY)
def test_chance_of_a_value_within_its_limits() -> None:
    """The inputs were read in the source, the result is from memory."""
    found = band_chances(13.6, 1.8, edges=(12.5, 16.3))
    assert found.chance[1] == pytest.approx(0.66, abs=0.005)
    assert found.chance.round(4).tolist() == [0.2706, 0.6626, 0.0668]


@evidence("JCGM 101 9.5", "end gauge: 838 nm, u 36 nm, 99 % 745–932 nm", MEMORY)
def test_end_gauge_by_trials() -> None:
    rng, trials = np.random.default_rng(SEED), 200_000
    standard = 50_000_623.0 + 25.0 * rng.standard_t(18, trials)
    comparison = 215.0 + 5.8 * rng.standard_t(24, trials)
    random_part = 3.9 * rng.standard_t(5, trials)
    systematic = 6.7 * rng.standard_t(8, trials)
    expansion = 11.5e-6 + rng.uniform(-2e-6, 2e-6, trials)
    mean_temperature = (
        -0.1 + 0.2 * rng.standard_normal(trials) + 0.5 * np.sin(rng.uniform(0, 2 * np.pi, trials))
    )
    # half widths that are themselves known within a tenth resp. a half
    expansion_off = np.abs(1e-6 + rng.uniform(-0.1e-6, 0.1e-6, trials)) * rng.uniform(-1, 1, trials)
    temperature_off = (0.05 + rng.uniform(-0.025, 0.025, trials)) * rng.uniform(-1, 1, trials)
    length = (
        standard
        + comparison
        + random_part
        + systematic
        - standard * (expansion_off * mean_temperature + expansion * temperature_off)
    ) - 50_000_000.0
    found = summary_of_trials(length, coverage=0.99)
    assert found.mean == pytest.approx(838.0, abs=1.0)
    assert found.sd == pytest.approx(36.0, abs=0.5)
    assert found.sd == pytest.approx(35.7, abs=0.2)
    assert (found.low, found.high) == pytest.approx((745.0, 932.0), abs=3.0)
    assert (found.high - found.low) / 2 == pytest.approx(93.0, abs=1.0)
    assert not validate(found.mean - 2.576 * 32, found.mean + 2.576 * 32, 32.0, found).agrees


# shapes, half widths or sd; ends in closed form; ends of the trials; δ; agrees
ADDITIVE = [
    ("four normal", (3.92, 3.92), 2.0, 0.05, True, "JCGM 101 9.2.2"),
    ("four rectangular", (3.92, 3.88), 2.0, 0.05, True, "JCGM 101 9.2.3"),
    ("three rectangular and a wide one", (19.9, 17.0), 10.1, 0.5, False, "JCGM 101 9.2.4"),
]


@pytest.mark.parametrize(
    ("shape", "ends", "u", "tolerance", "agrees"),
    [row[:5] for row in ADDITIVE],
    ids=[f"{row[5]}, {row[0]} [{MEMORY}]" for row in ADDITIVE],
)
def test_additive_model(
    shape: str, ends: tuple[float, float], u: float, tolerance: float, agrees: bool
) -> None:
    rng, trials = np.random.default_rng(SEED), 400_000
    if shape == "four normal":
        values = rng.standard_normal((trials, 4)).sum(axis=1)
    else:
        sd = np.array([1.0, 1.0, 1.0, 10.0 if "wide" in shape else 1.0])
        values = (rng.uniform(-1, 1, (trials, 4)) * np.sqrt(3) * sd).sum(axis=1)
    closed, by_trials = ends
    found = summary_of_trials(values)
    assert found.sd == pytest.approx(u, rel=0.01)
    assert (found.low, found.high) == pytest.approx((-by_trials, by_trials), rel=0.005)
    assert found.shortest_high - found.shortest_low <= found.high - found.low
    said = validate(-closed, closed, u, found)
    assert said.tolerance == pytest.approx(tolerance)
    assert said.agrees is agrees


@evidence("scipy.stats.irwinhall", "2.5 % below −3.88", LIBRARY)
def test_the_sum_of_four_rectangles_has_the_interval_of_its_law() -> None:
    grid = np.random.default_rng(SEED).uniform(size=(400_000, 4)).sum(axis=1)
    assert stats.irwinhall(4).cdf(2.0 - 3.8794 / (2 * np.sqrt(3))) == pytest.approx(0.025, abs=2e-4)
    found = summary_of_trials(grid)
    assert found.low == pytest.approx(stats.irwinhall(4).ppf(0.025), abs=0.005)
