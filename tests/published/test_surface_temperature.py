"""Surface temperatures, their sensitivities and refusals against worked values and root finding.

No worked example of an apparent temperature from a standard could be opened. So the model stands on
the radiance, which is checked against the outside (test_radiance.py), on root finding by
``scipy.optimize.brentq`` over the plain series, and on values that two codes computed independently
(*worked by hand*).
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from service.physics.cautions import Caution, has, indicative
from service.physics.optics import Optics
from service.physics.radiance import BAND_7_5_13, BAND_8_14, ZERO_C, exact_band_radiance, temperature_of
from service.physics.refusals import Refusal
from service.physics.sensitivities import Sensitivities, sensitivities
from service.physics.surface import (
    apparent_temperature,
    band_difference,
    corrected_temperature,
    surface_temperature,
)
from tests.published.evidence import BY_HAND, LIBRARY, PRACTICE, evidence, named

MODEL = "measurement model, two independent codes"
EPSILONS = (0.95, 0.8, 0.6, 0.5, 0.3)


def value(apparent_c: float, optics: Optics) -> float:
    return float(surface_temperature(apparent_c, optics).value_c)


# apparent, reflected, ε, surface, source, clause, kind
INVERSES = [
    (apparent, reflected, eps, surface, MODEL, f"{apparent:g} °C, T_r {reflected:g}, ε {eps}", BY_HAND)
    for apparent, reflected, eps, surface in (
        (60, 20, 0.95, 61.7969),
        (60, 25, 0.8, 67.4724),
        (60, 20, 0.6, 81.3086),
        (80, 30, 0.5, 117.9577),
        (100, 20, 0.9, 106.8272),
        (60, 20, 0.3, 125.3599),
        (60, 25, 0.95, 61.605),
        (60, 25, 0.6, 79.160),
        (60, 25, 0.5, 87.937),
        (60, 25, 0.3, 119.343),
    )
]


@pytest.mark.parametrize(("apparent", "reflected", "eps", "surface"), named(INVERSES))
def test_surface_temperature(apparent: float, reflected: float, eps: float, surface: float) -> None:
    assert value(apparent, Optics(eps, reflected)) == pytest.approx(surface, abs=1e-3)


# ε, apparent, what T⁴ would say, source, clause, kind
FORWARD = [
    (eps, apparent, fourth, MODEL, f"true 100 °C, T_r 20, ε {eps}", BY_HAND)
    for eps, apparent, fourth in (
        (0.95, 96.85, 97.08),
        (0.9, 93.64, 94.09),
        (0.6, 73.02, 74.38),
        (0.3, 49.22, 50.60),
        (0.1, 30.58, 31.25),
    )
]


def fourth_power(temperature_c: float) -> float:
    return (temperature_c + ZERO_C) ** 4


def surface_by_fourth_power(apparent_c: float, reflected_c: float, eps: float) -> float:
    mixed = (fourth_power(apparent_c) - (1 - eps) * fourth_power(reflected_c)) / eps
    return mixed**0.25 - ZERO_C


@pytest.mark.parametrize(("eps", "apparent", "fourth"), named(FORWARD))
def test_apparent_temperature_is_that_of_the_band_and_not_of_all_radiation(
    eps: float, apparent: float, fourth: float
) -> None:
    assert float(apparent_temperature(100.0, Optics(eps, 20.0)).value) == pytest.approx(apparent, abs=0.01)
    mixed = eps * fourth_power(100.0) + (1 - eps) * fourth_power(20.0)
    assert mixed**0.25 - ZERO_C == pytest.approx(fourth, abs=0.01)


@pytest.mark.parametrize(
    ("apparent", "eps", "error", "within"),
    [
        pytest.param(60, 0.95, -0.06, 0.01, id="60 °C, ε .95 [worked by hand]"),
        pytest.param(60, 0.6, -1.0, 0.05, id="60 °C, ε .6 [worked by hand]"),
        pytest.param(60, 0.3, -5.6, 0.05, id="60 °C, ε .3 [worked by hand]"),
        pytest.param(100, 0.3, -20.0, 0.5, id="100 °C, ε .3 [worked by hand]"),
    ],
)
def test_error_that_the_fourth_power_would_make(
    apparent: float, eps: float, error: float, within: float
) -> None:
    shortcut = surface_by_fourth_power(apparent, 20.0, eps)
    assert shortcut - value(apparent, Optics(eps, 20.0)) == pytest.approx(error, abs=within)


# ε, error at ε − .05, error at ε + .05, error at T_r + 5, source, clause, kind
WRONG_SETTINGS = [
    (eps, low, high, reflected, MODEL, f"true 80 °C, T_r 25, ε {eps}", BY_HAND)
    for eps, low, high, reflected in (
        (0.95, 2.5, -2.3, -0.18),
        (0.8, 3.0, -2.7, -0.85),
        (0.6, 4.1, -3.6, -2.27),
        (0.5, 5.0, -4.2, -3.42),
        (0.3, 8.9, -6.7, -8.09),
    )
]


@pytest.mark.parametrize(("eps", "low", "high", "reflected"), named(WRONG_SETTINGS))
def test_error_of_wrong_settings(eps: float, low: float, high: float, reflected: float) -> None:
    apparent = float(apparent_temperature(80.0, Optics(eps, 25.0)).value)
    assert value(apparent, Optics(eps - 0.05, 25.0)) - 80.0 == pytest.approx(low, abs=0.05)
    assert value(apparent, Optics(eps + 0.05, 25.0)) - 80.0 == pytest.approx(high, abs=0.05)
    assert value(apparent, Optics(eps, 30.0)) - 80.0 == pytest.approx(reflected, abs=0.01)


# ε, gain, per .01 ε, per K of T_r, per .01 τ, source, clause, kind
COEFFICIENTS = [
    (eps, *row, MODEL, f"T_app 60, T_r = T_a = 25 °C, ε {eps}", BY_HAND)
    for eps, row in zip(
        EPSILONS,
        (
            (1.041, -0.336, -0.039, -0.319),
            (1.187, -0.455, -0.179, -0.364),
            (1.469, -0.751, -0.443, -0.451),
            (1.673, -1.026, -0.630, -0.513),
            (2.368, -2.421, -1.249, -0.726),
        ),
        strict=True,
    )
]


@pytest.mark.parametrize(("eps", "gain", "per_eps", "per_reflected", "per_tau"), named(COEFFICIENTS))
def test_sensitivities(eps: float, gain: float, per_eps: float, per_reflected: float, per_tau: float) -> None:
    optics = Optics(eps, 25.0, air_c=25.0)
    found = sensitivities(60.0, value(60.0, optics), optics)
    assert float(found.gain) == pytest.approx(gain, abs=1e-3)
    assert float(found.per_emissivity) / 100 == pytest.approx(per_eps, abs=1e-3)
    assert float(found.per_reflected_k) == pytest.approx(per_reflected, abs=1e-3)
    assert float(found.per_transmission) / 100 == pytest.approx(per_tau, abs=1e-3)
    assert float(found.per_air_k) == 0.0


@pytest.mark.parametrize(
    ("eps", "printed"),
    [
        pytest.param(0.95, (1.0815, -35.134, -0.0387, -39.114, -0.0389), id="ε .95 [worked by hand]"),
        pytest.param(0.6, (1.5217, -78.271, -0.4357, -55.036, -0.0547), id="ε .6 [worked by hand]"),
    ],
)
def test_sensitivities_through_air(eps: float, printed: tuple[float, ...]) -> None:
    optics = Optics(eps, 25.0, transmission=0.95, air_c=20.0)
    found = sensitivities(60.0, value(60.0, optics), optics)
    assert [float(part) for part in found[:5]] == pytest.approx(printed, rel=2e-3, abs=1e-4)
    assert [float(part) for part in found[5:]] == [0.0, 0.0, 0.0, 0.0]


BEHIND_A_WINDOW = Optics(
    emissivity=0.95,
    reflected_c=25.0,
    transmission=0.995,
    air_c=25.0,
    window=True,
    window_transmission=0.5,
    window_c=30.0,
    window_reflection=0.1,
    window_reflected_c=20.0,
)
DERIVATIVES = {
    "emissivity": "per_emissivity",
    "reflected_c": "per_reflected_k",
    "transmission": "per_transmission",
    "air_c": "per_air_k",
    "window_transmission": "per_window_transmission",
    "window_c": "per_window_k",
    "window_reflection": "per_window_reflection",
    "window_reflected_c": "per_window_reflected_k",
}


THROUGH_AIR = Optics(0.6, 25.0, 0.95, 20.0)
CASES = [
    pytest.param(optics, setting, coefficient, id=f"{place}, {setting}")
    for place, optics in (("window", BEHIND_A_WINDOW), ("air", THROUGH_AIR))
    for setting, coefficient in DERIVATIVES.items()
    if optics.window or not setting.startswith("window")
]


@pytest.mark.parametrize(("optics", "setting", "coefficient"), CASES)
@evidence("Central differences", "four digits", BY_HAND)
def test_each_sensitivity_is_the_central_difference(optics: Optics, setting: str, coefficient: str) -> None:
    """Kind: worked by hand, four digits."""
    h, at = 1e-4, float(np.asarray(getattr(optics, setting)))
    either_side = [value(60.0, optics._replace(**{setting: at + step})) for step in (h, -h)]
    found = sensitivities(60.0, value(60.0, optics), optics)
    assert float(getattr(found, coefficient)) == pytest.approx(
        (either_side[0] - either_side[1]) / (2 * h), rel=1e-4
    )


@evidence("Central differences", "gain, four digits", BY_HAND)
def test_gain_is_the_central_difference_of_the_reading() -> None:
    """Kind: worked by hand, four digits."""
    found: Sensitivities = sensitivities(60.0, value(60.0, BEHIND_A_WINDOW), BEHIND_A_WINDOW)
    numeric = (value(60.01, BEHIND_A_WINDOW) - value(59.99, BEHIND_A_WINDOW)) / 0.02
    assert float(found.gain) == pytest.approx(numeric, rel=1e-4)


@evidence(MODEL, "set .95/20 °C, truth .80/35 °C", BY_HAND)
def test_settings_of_the_instrument_are_undone_first() -> None:
    """Set .95/20 °C, reads 60 °C, truth .80/35 °C: apparent 58.27, surface 63.51 [worked by hand]."""
    applied = Optics(0.95, 20.0)
    assert float(apparent_temperature(60.0, applied).value) == pytest.approx(58.27, abs=0.01)
    found = corrected_temperature(60.0, applied=applied, optics=Optics(0.80, 35.0))
    assert float(found.value_c) == pytest.approx(63.51, abs=0.01)


@pytest.mark.parametrize(
    ("tau", "error"),
    [
        pytest.param(tau, error, id=f"true 80 °C, ε .95, τ {tau} taken as 1 [worked by hand]")
        for tau, error in ((0.995, -0.23), (0.99, -0.46), (0.98, -0.92), (0.96, -1.84), (0.92, -3.70))
    ],
)
def test_error_when_the_air_is_ignored(tau: float, error: float) -> None:
    optics = Optics(0.95, 25.0, tau, 25.0)
    apparent = float(apparent_temperature(80.0, optics).value)
    assert value(apparent, Optics(0.95, 25.0)) - 80.0 == pytest.approx(error, abs=0.01)


# τ_w, T_w, apparent, error if T_w is taken 25, error if τ_w is typed .05 low, source, clause, kind
WINDOWS = [
    (through, window_c, apparent, cold, low, MODEL, f"true 80 °C, τ_w {through}, T_w {window_c} °C", BY_HAND)
    for through, window_c, apparent, cold, low in (
        (0.8, 25, 68.64, 0.0, 3.0),
        (0.8, 30, 69.19, 0.7, 2.8),
        (0.8, 40, 70.34, 2.1, 2.3),
        (0.5, 25, 53.93, 0.0, 5.0),
        (0.5, 30, 55.73, 3.2, 4.6),
        (0.5, 40, 59.50, 9.8, 3.8),
    )
]


@pytest.mark.parametrize(("through", "window_c", "apparent", "cold", "low"), named(WINDOWS))
def test_inspection_window(through: float, window_c: float, apparent: float, cold: float, low: float) -> None:
    optics = Optics(
        0.95,
        25.0,
        window=True,
        window_transmission=through,
        window_c=window_c,
        window_reflection=0.05,
        window_reflected_c=25.0,
    )
    seen = float(apparent_temperature(80.0, optics).value)
    assert seen == pytest.approx(apparent, abs=0.01)
    assert value(seen, optics) == pytest.approx(80.0, abs=1e-6)
    assert value(seen, optics._replace(window_c=25.0)) - 80.0 == pytest.approx(cold, abs=0.05)
    typed = optics._replace(window_transmission=through - 0.05)
    assert value(seen, typed) - 80.0 == pytest.approx(low, abs=0.05)


@evidence(MODEL, "window and air: 55.3985 °C", BY_HAND)
def test_full_chain_of_part_window_and_air() -> None:
    """τ_w .5, ρ_w .1, T_w 30, τ_a .995: apparent 55.3985 °C and back 80.0000 [worked by hand]."""
    optics = BEHIND_A_WINDOW._replace(window_reflected_c=25.0)
    seen = float(apparent_temperature(80.0, optics).value)
    assert seen == pytest.approx(55.3985, abs=1e-4)
    assert value(seen, optics) == pytest.approx(80.0, abs=1e-4)


@pytest.mark.parametrize(
    ("through", "refusal", "caution"),
    [
        pytest.param(0.5, Refusal.NONE, False, id="τ_w .5 [common practice, no source]"),
        pytest.param(0.49, Refusal.NONE, True, id="τ_w below .5 is indicative [common practice, no source]"),
        pytest.param(0.3, Refusal.NONE, True, id="τ_w .3 is indicative [common practice, no source]"),
        pytest.param(0.29, Refusal.WINDOW_OPAQUE, True, id="τ_w below .3 [common practice, no source]"),
        pytest.param(0.0, Refusal.WINDOW_OPAQUE, True, id="ordinary glass [from memory]"),
    ],
)
def test_window_that_lets_little_through(through: float, refusal: Refusal, caution: bool) -> None:
    optics = Optics(0.95, 25.0, window=True, window_transmission=through, window_c=25.0)
    found = surface_temperature(60.0, optics)
    assert found.refusal == refusal
    assert np.isnan(found.value_c) == (refusal != Refusal.NONE)
    assert bool(has(found.caution, Caution.WEAK_WINDOW)) == caution


@evidence(MODEL, "ε .1, T_app 10, T_r 25: L₃ −61.7", BY_HAND)
def test_a_reading_that_no_surface_explains_is_undefined() -> None:
    """ε .1, T_app 10, T_r 25: L₃ −61.7 [worked by hand]; at ε .3 it is 15.05, −40.4 °C."""
    ours, reflected = (float(exact_band_radiance(t)) for t in (10.0, 25.0))
    assert (ours - 0.9 * reflected) / 0.1 == pytest.approx(-61.7, abs=0.05)
    assert (ours - 0.7 * reflected) / 0.3 == pytest.approx(15.05, abs=0.005)
    found = surface_temperature(10.0, Optics([0.1, 0.3], 25.0))
    assert found.refusal.tolist() == [Refusal.UNDEFINED, Refusal.NONE]
    assert np.isnan(found.value_c[0])
    assert found.value_c[1] == pytest.approx(-40.4, abs=0.05)
    assert float(temperature_of(15.05)) == pytest.approx(-40.4, abs=0.05)


@pytest.mark.parametrize(
    ("eps", "of_reflected_20", "of_reflected_25"),
    [
        pytest.param(0.95, 0.08, 0.07, id="ε .95 [worked by hand]"),
        pytest.param(0.6, 0.68, 0.60, id="ε .6 [worked by hand]"),
        pytest.param(0.3, 1.34, 1.18, id="ε .3 [worked by hand]"),
    ],
)
def test_instrument_of_another_band(eps: float, of_reflected_20: float, of_reflected_25: float) -> None:
    """7.5–13 µm read as 8–14 at true 100 °C; ±1.95 K·(1 − ε) holds the cases of 20 °C."""
    for reflected_c, expected in ((20.0, of_reflected_20), (25.0, of_reflected_25)):
        optics = Optics(eps, reflected_c)
        seen = apparent_temperature(100.0, optics, band=BAND_7_5_13).value
        error = float(band_difference(seen, optics, read_as=BAND_8_14, instrument=BAND_7_5_13))
        assert error == pytest.approx(expected, abs=0.01)
    assert of_reflected_20 == pytest.approx(1.95 * (1 - eps), abs=0.11)


# ε, apparent, indicative, comparison only
TRUST = [
    pytest.param(0.5, 60.0, False, False, id="ε .5, gain 1.67"),
    pytest.param(0.49, 60.0, True, False, id="ε below .5"),
    pytest.param(0.3, 60.0, True, False, id="ε .3"),
    pytest.param(0.29, 60.0, True, True, id="ε below .3"),
    pytest.param(0.5, 54.0, True, False, id="gain 1.702 at ε .5"),
    pytest.param(0.5, 55.0, False, False, id="gain 1.697 at ε .5"),
]


@pytest.mark.parametrize(("eps", "apparent", "hollow", "twin_only"), TRUST)
@evidence("Trust in a reading", "ε and gain", PRACTICE)
def test_how_far_a_reading_may_be_trusted(eps: float, apparent: float, hollow: bool, twin_only: bool) -> None:
    """Kind: common practice, no source: ε < .5 or gain > 1.7 indicative, ε < .3 comparison only."""
    found = surface_temperature(apparent, Optics(eps, 25.0))
    assert bool(indicative(found.caution)) is hollow
    assert bool(has(found.caution, Caution.COMPARISON_ONLY)) is twin_only


@evidence("scipy.optimize.brentq", "300 draws", LIBRARY)
def test_root_finding_over_the_plain_series_gives_the_same_surface() -> None:
    """Kind: reference library (scipy.optimize.brentq); 300 draws of ε .3–1, τ .8–1."""
    rng = np.random.default_rng(41)
    surface = rng.uniform(-20.0, 300.0, 300)
    optics = Optics(
        rng.uniform(0.3, 1.0, 300),
        rng.uniform(-20, 60, 300),
        rng.uniform(0.8, 1.0, 300),
        rng.uniform(-20, 50, 300),
    )
    seen = apparent_temperature(surface, optics).value
    ours = surface_temperature(seen, optics).value_c
    for k, (eps, reflected, tau, air) in enumerate(zip(*map(np.asarray, optics[:4]), strict=True)):
        others = tau * (1 - eps) * exact_band_radiance(reflected) + (1 - tau) * exact_band_radiance(air)
        goal = float(exact_band_radiance(seen[k]) - others)
        theirs = brentq(lambda t: tau * eps * float(exact_band_radiance(t)) - goal, -99.0, 999.0, xtol=1e-10)  # noqa: B023
        assert ours[k] == pytest.approx(theirs, abs=2e-6)
