"""The uncertainty code against the worked examples of the Guide and its supplements."""

import numpy as np
import pytest
from GTC import get_correlation, type_a, ureal
from GTC import uncertainty as gtc_uncertainty
from scipy import stats

from service.physics.assumptions import Assumptions, Input
from service.physics.budget_terms import Terms
from service.physics.compared_uncertainty import over_twin
from service.physics.monte_carlo import summary_of_trials, validate
from service.physics.severity import band_chances
from service.physics.significant import significant
from service.physics.uncertainty import made_budget
from tests.published.test_severity import MEMORY

NONE = np.zeros((), dtype=np.uint8)
SEED = 20_231

#: JCGM 100 H.1.6: contributions of standard, comparison and temperatures [nm]; values from memory
END_GAUGE_NM = {
    "calibration of the standard": 25.0,
    "difference of the two": 9.7,
    "difference of expansion coefficients": 2.9,
    "difference of temperatures": 16.6,
}


def test_end_gauge_line_by_line() -> None:
    """JCGM 100 H.1: u = 32 nm from 25, 9.7, 2.9 and 16.6 nm [from memory; GTC agrees below]."""
    lines = dict(
        zip(
            (Input.CAMERA, Input.NOISE, Input.EXPONENT, Input.AIR),
            map(np.asarray, END_GAUGE_NM.values()),
            strict=True,
        )
    )
    found = made_budget(np.asarray(838.0), lines, refusal=NONE, caution=NONE)
    assert float(found.u) == pytest.approx(31.66, abs=0.05)
    rounded = significant(50_000_838.0, float(found.u))
    assert rounded is not None
    assert (f"{rounded.value:f}", f"{rounded.uncertainty:f}") == ("50000838", "32")
    assert Input(int(found.largest)) is Input.CAMERA
    by_library = sum(ureal(0.0, u) for u in END_GAUGE_NM.values())
    assert float(found.u) == pytest.approx(gtc_uncertainty(by_library), rel=1e-12)


def thermometer() -> tuple[float, float, float, float, float]:
    """Intercept and slope of the corrections against t − 20 °C with u and r, by GTC's own fit."""
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = np.array([-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160])
    fit = type_a.line_fit(t - 20.0, b)
    a, slope = fit.a_b
    return float(a.x), float(a.u), float(slope.x), float(slope.u), float(get_correlation(a, slope))


def test_thermometer_of_the_guide_is_the_one_fitted_here() -> None:
    """JCGM 100 H.3: y1 = −.1712(29), y2 = .00218(67), r = −.930 [published data; reference library GTC]."""
    assert thermometer() == pytest.approx((-0.1712, 0.0029, 0.00218, 0.00067, -0.930), abs=5e-4)


def test_correlated_intercept_and_slope_of_a_thermometer() -> None:
    """JCGM 100 H.3: b(30 °C) = −.1494 with u = .0041 °C, y1 and y2 r = −.930 [published data, result from memory]."""
    y1, u1, y2, u2, r = thermometer()
    correlated = Assumptions(camera_correlation=r)
    intercept = Terms(np.asarray(y1), {Input.CAMERA: np.asarray(u1)}, NONE, NONE)
    ten_degrees = Terms(np.asarray(-10.0 * y2), {Input.CAMERA: np.asarray(-10.0 * u2)}, NONE, NONE)
    found = over_twin(intercept, ten_degrees, assumptions=correlated)
    assert float(found.value) == pytest.approx(-0.1494, abs=5e-5)
    assert float(found.u) == pytest.approx(0.0041, abs=5e-5)
    rounded = significant(float(found.value), float(found.u))
    assert rounded is not None
    assert f"{rounded.value} ± {rounded.uncertainty}" == "-0.1494 ± 0.0041"


def test_chance_of_a_value_within_its_limits() -> None:
    """JCGM 106 §7.4: y 13.6, u 1.8, limits 12.5 and 16.3 → 0.66 [published inputs, result from memory]."""
    found = band_chances(13.6, 1.8, edges=(12.5, 16.3))
    assert found.chance[1] == pytest.approx(0.66, abs=0.005)
    assert found.chance.round(4).tolist() == [0.2706, 0.6626, 0.0668]


def test_end_gauge_by_trials() -> None:
    """JCGM 101 9.5: mean 838 nm, u 36 nm, 99 % interval 745 to 932 nm [from memory]."""
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
    assert found.sd == pytest.approx(36.0, abs=0.6)
    assert (found.low, found.high) == pytest.approx((745.0, 932.0), abs=3.0)
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


def test_the_sum_of_four_rectangles_has_the_interval_of_its_law() -> None:
    """Irwin-Hall: 2.5 % below −3.88 [worked by hand from the exact law by scipy, reference library]."""
    grid = np.random.default_rng(SEED).uniform(size=(400_000, 4)).sum(axis=1)
    assert stats.irwinhall(4).cdf(2.0 - 3.8794 / (2 * np.sqrt(3))) == pytest.approx(0.025, abs=2e-4)
    found = summary_of_trials(grid)
    assert found.low == pytest.approx(stats.irwinhall(4).ppf(0.025), abs=0.005)
