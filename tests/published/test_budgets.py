"""Budgets of rises against worked rows and against the trials of another program."""

from collections.abc import Callable

import numpy as np
import pytest

from service.physics.assumptions import (
    EMISSIVITY_MEASURED,
    OTHER_CAMERA,
    REFLECTED_MEASURED_K,
    SAME_CAMERA,
    SAME_FRAME,
    Assumptions,
    rectangular,
)
from service.physics.budget_terms import over_air_terms, surface_terms
from service.physics.compared_uncertainty import over_like_parts, over_twin, relative_difference
from service.physics.coverage import interval_95
from service.physics.monte_carlo import Load, propagate_over_air, propagate_over_like_parts, validate
from service.physics.optics import Optics
from service.physics.uncertainty import Budget, at_common_load, budget_of
from tests.published.evidence import BY_HAND, MEMORY, PRACTICE, evidence, named

GIVEN = Assumptions()
ROWS = "Budget with the default assumptions, JCGM 100 §5"
TWIN = "Two parts in one frame, JCGM 100 §5.2"


def over_air(apparent_c: float, emissivity: float) -> Budget:
    terms = over_air_terms(apparent_c, Optics(emissivity, 25.0), ambient_c=25.0, assumptions=GIVEN)
    return budget_of(terms)


def over_the_cooler(apparent_c: tuple[float, float], emissivity: float, given: Assumptions = GIVEN) -> Budget:
    terms = surface_terms(apparent_c, Optics(emissivity, 25.0), assumptions=given)
    return over_like_parts(terms, assumptions=given)


INPUTS = "Inputs of the budget, JCGM 100 §4.3.7"
# found, expected, tolerance; source, clause, kind
STANDARD = [
    (rectangular(GIVEN.camera_half_width_k), 1.155, 5e-4, INPUTS, "camera ±2 K", PRACTICE),
    (GIVEN.camera_half_width_share, 0.02, 0, INPUTS, "camera 2 % of the reading", PRACTICE),
    (GIVEN.noise_u_k, 0.1, 0, INPUTS, "noise of a 3×3 mean", MEMORY),
    (rectangular(GIVEN.emissivity_half_width), 0.0289, 5e-5, INPUTS, "ε ±.05", PRACTICE),
    (EMISSIVITY_MEASURED, 0.02, 0, INPUTS, "ε measured ±.02", PRACTICE),
    (rectangular(GIVEN.reflected_half_width_k), 2.887, 5e-4, INPUTS, "T_r ±5 K", PRACTICE),
    (REFLECTED_MEASURED_K, 1.0, 0, INPUTS, "T_r measured ±1 K", PRACTICE),
    (rectangular(GIVEN.transmission_half_width), 0.0029, 5e-5, INPUTS, "τ ±.005", PRACTICE),
    (rectangular(GIVEN.air_half_width_k), 0.577, 5e-4, INPUTS, "air ±1 K", PRACTICE),
    (GIVEN.placement_u_k, 0.3, 0, INPUTS, "place of the spot", PRACTICE),
    (rectangular(GIVEN.current_half_width_share), 0.0173, 5e-5, INPUTS, "current ±3 %", PRACTICE),
    (rectangular(GIVEN.exponent_half_width), 0.1155, 5e-5, INPUTS, "n 1.6–2.0", PRACTICE),
    (SAME_FRAME, 0.9, 0, INPUTS, "r of one frame", PRACTICE),
    (SAME_CAMERA, 0.5, 0, INPUTS, "r of one camera", PRACTICE),
    (OTHER_CAMERA, 0.0, 0, INPUTS, "r of two cameras", PRACTICE),
]


@pytest.mark.parametrize(("found", "expected", "tolerance"), named(STANDARD))
def test_what_a_budget_assumes(found: float, expected: float, tolerance: float) -> None:
    assert float(found) == pytest.approx(expected, abs=tolerance, rel=0)


# apparent °C, emissivity, rise K, u K, low, high, tolerance; source, clause, kind
OVER_AIR = [
    (60, 0.95, 36.605, 1.686, (33.23, 39.98), 0.002, ROWS, "60 °C over air of 25 °C, ε .95", BY_HAND),
    (60, 0.80, 42.472, 2.079, (38.31, 46.63), 0.002, ROWS, "60 °C over air of 25 °C, ε .80", BY_HAND),
    (60, 0.60, 54.160, 3.110, (47.94, 60.38), 0.002, ROWS, "60 °C over air of 25 °C, ε .60", BY_HAND),
    (60, 0.30, 94.343, 8.358, (77.6, 111.1), 0.002, ROWS, "60 °C over air of 25 °C, ε .30", BY_HAND),
    (35, 0.95, 10.503, 1.418, (7.67, 13.34), 0.002, ROWS, "35 °C over air of 25 °C, ε .95", BY_HAND),
]


@pytest.mark.parametrize(("apparent_c", "emissivity", "rise", "u", "ends", "tolerance"), named(OVER_AIR))
def test_rise_over_air(
    apparent_c: float, emissivity: float, rise: float, u: float, ends: tuple[float, float], tolerance: float
) -> None:
    found = over_air(apparent_c, emissivity)
    assert (found.value, found.u) == pytest.approx((rise, u), abs=tolerance)
    interval = interval_95(found)
    assert (interval.low, interval.high) == pytest.approx(ends, abs=0.06 if u > 5 else 0.006)


# apparent °C of two, emissivity, rise K, u K, tolerance; source, clause, kind
OVER_TWIN = [
    ((60, 45), 0.95, 15.639, 0.869, 0.002, TWIN, "60 over 45 °C, ε .95", BY_HAND),
    ((60, 45), 0.60, 22.421, 1.457, 0.002, TWIN, "60 over 45 °C, ε .60", BY_HAND),
]


@pytest.mark.parametrize(("apparent_c", "emissivity", "rise", "u", "tolerance"), named(OVER_TWIN))
def test_rise_over_a_twin(
    apparent_c: tuple[float, float], emissivity: float, rise: float, u: float, tolerance: float
) -> None:
    found = over_the_cooler(apparent_c, emissivity)
    assert (found.value[0], found.u[0]) == pytest.approx((rise, u), abs=tolerance)


# correlation, u K, tolerance; source, clause, kind
CORRELATED = [
    (0.0, 2.094, 0.001, TWIN, "60 over 45 °C, ε .95, r 0", BY_HAND),
    (0.5, 1.539, 0.001, TWIN, "60 over 45 °C, ε .95, r .5", BY_HAND),
    (0.9, 0.869, 0.001, TWIN, "60 over 45 °C, ε .95, r .9", BY_HAND),
    (0.95, 0.744, 0.001, TWIN, "60 over 45 °C, ε .95, r .95", BY_HAND),
    (1.0, 0.593, 0.001, TWIN, "60 over 45 °C, ε .95, r 1", BY_HAND),
]


@pytest.mark.parametrize(("r", "u", "tolerance"), named(CORRELATED))
def test_the_closer_two_parts_are_the_better_is_their_difference(
    r: float, u: float, tolerance: float
) -> None:
    given = Assumptions(camera_correlation=r, emissivity_correlation=r)
    assert over_the_cooler((60, 45), 0.95, given).u[0] == pytest.approx(u, abs=tolerance)


# budget as measured, A at 100 A common load, y, u, ends, tolerance of the ends; source, clause, kind
SCALED = [
    (lambda: over_air(60, 0.95), 60, 91.807, 7.442, (78.3, 107.6), ROWS, "60 °C, ε .95, 60→100 A", BY_HAND),
    (lambda: over_air(40, 0.95), 40, 81.896, 11.783, (61.8, 108.6), ROWS, "40 °C, ε .95, 40→100 A", BY_HAND),
    (
        lambda: over_the_cooler((60, 45), 0.95),
        60,
        39.224,
        3.406,
        (33.1, 46.5),
        TWIN,
        "60 over 45 °C, 60→100 A",
        BY_HAND,
    ),
]


@pytest.mark.parametrize(("measured", "amps", "y", "u", "ends"), named(SCALED))
def test_rise_at_common_load(
    measured: Callable[[], Budget], amps: float, y: float, u: float, ends: tuple[float, float]
) -> None:
    found = at_common_load(measured(), amps, common_load_a=100.0, assumptions=GIVEN)
    interval = interval_95(found)
    first = [np.ravel(part)[0] for part in (found.value, found.u, interval.low, interval.high)]
    assert first[:2] == pytest.approx((y, u), abs=0.002)
    assert first[2:] == pytest.approx(ends, abs=0.06)


@evidence("DL/T 664 relative difference", "u of (60, 40, 25) °C", BY_HAND)
def test_relative_difference_of_a_hot_part_and_its_twin() -> None:
    """δ of (60, 40, 25) °C: 57.1 ± 2.3 points at ±2 K camera, r = .9, air ±1 K."""
    given = Assumptions(
        emissivity_half_width=0.0, noise_u_k=0.0, placement_u_k=0.0, transmission_half_width=0.0
    )
    hot, like = (surface_terms(t, Optics(1.0, 25.0), assumptions=given) for t in (60.0, 40.0))
    found = relative_difference(hot, like, ambient_c=25.0, assumptions=given)
    assert found.value == pytest.approx(57.1, abs=0.05)
    assert found.u == pytest.approx(2.3, abs=0.05)


# apparent °C (part, or part and twin), emissivity, load A, sd, ends of 95 %, tolerance of the ends (K
# as measured, a share at common load);
# source, clause, kind. Tolerance of sd 1.5 %; 4·10⁵–10⁶ trials there, 40 000 here.
TRIALS = 40_000
MONTE = "JCGM 101 §7, another program's trials"
MONTE_CARLO = [
    ((60,), 0.95, None, 1.683, (33.51, 39.95), 0.1, MONTE, "60 °C over air, ε .95", BY_HAND),
    ((60,), 0.80, None, 2.077, (38.70, 46.66), 0.1, MONTE, "60 °C over air, ε .80", BY_HAND),
    ((60,), 0.60, None, 3.111, (48.58, 60.53), 0.15, MONTE, "60 °C over air, ε .60", BY_HAND),
    ((60,), 0.30, None, 8.445, (80.3, 111.9), 1.0, MONTE, "60 °C over air, ε .30", BY_HAND),
    ((35,), 0.95, None, 1.420, (7.91, 13.17), 0.1, MONTE, "35 °C over air, ε .95", BY_HAND),
    ((60, 45), 0.95, None, 0.868, (14.00, 17.39), 0.1, MONTE, "60 over 45 °C, ε .95", BY_HAND),
    ((60, 45), 0.60, None, 1.467, (19.71, 25.42), 0.1, MONTE, "60 over 45 °C, ε .60", BY_HAND),
    ((60,), 0.95, Load(60, 100), 7.49, (78.8, 107.5), 0.01, MONTE, "60 °C over air, 60→100 A", BY_HAND),
    ((40,), 0.95, Load(40, 100), 11.92, (61.9, 107.4), 0.01, MONTE, "40 °C over air, 40→100 A", BY_HAND),
    ((60, 45), 0.95, Load(60, 100), 3.424, (33.2, 46.4), 0.01, MONTE, "60 over 45 °C, 60→100 A", BY_HAND),
]


@pytest.mark.parametrize(("apparent_c", "emissivity", "load", "sd", "ends", "tolerance"), named(MONTE_CARLO))
def test_trials_of_a_rise(
    apparent_c: tuple[float, ...],
    emissivity: float,
    load: Load | None,
    sd: float,
    ends: tuple[float, float],
    tolerance: float,
) -> None:
    optics = Optics(emissivity, 25.0)
    if len(apparent_c) == 1:
        found = propagate_over_air(
            apparent_c[0], optics, ambient_c=25.0, assumptions=GIVEN, load=load, trials=TRIALS
        )
    else:
        found = propagate_over_like_parts(apparent_c, optics, assumptions=GIVEN, load=load, trials=TRIALS)
    assert found.refused == 0
    assert found.sd == pytest.approx(sd, rel=0.015)
    if load is None:
        assert (found.low, found.high) == pytest.approx(ends, abs=tolerance)
    else:
        assert (found.low, found.high) == pytest.approx(ends, rel=tolerance)


# apparent °C (part, or part and twin), emissivity, load A, sd of the trials; source, clause, kind
AGREEING = [(*row[:4], MONTE, f"u against sd, {row[-2]}", BY_HAND) for row in MONTE_CARLO]


@pytest.mark.parametrize(("apparent_c", "emissivity", "load", "sd"), named(AGREEING))
def test_the_closed_form_agrees_with_the_trials_within_1_2_per_cent(
    apparent_c: tuple[float, ...], emissivity: float, load: Load | None, sd: float
) -> None:
    if len(apparent_c) == 1:
        measured = over_air(apparent_c[0], emissivity)
    else:
        measured = over_the_cooler((apparent_c[0], apparent_c[1]), emissivity)
    if load is not None:
        measured = at_common_load(
            measured, load.current_a, common_load_a=load.common_load_a, assumptions=GIVEN
        )
    assert np.ravel(measured.u)[0] == pytest.approx(sd, rel=0.012)


# apparent °C, emissivity, K by which k = 2 starts and ends too low, tolerance; source, clause, kind
SKEWED = [
    (60, 0.95, 0.28, -0.03, 0.1, MONTE, "clause 8, 60 °C over air, ε .95", BY_HAND),
    (60, 0.80, 0.39, 0.03, 0.1, MONTE, "clause 8, 60 °C over air, ε .80", BY_HAND),
    (60, 0.60, 0.65, 0.15, 0.1, MONTE, "clause 8, 60 °C over air, ε .60", BY_HAND),
    (60, 0.30, 2.7, 0.9, 0.5, MONTE, "clause 8, 60 °C over air, ε .30", BY_HAND),
    (35, 0.95, 0.24, -0.17, 0.1, MONTE, "clause 8, 35 °C over air, ε .95", BY_HAND),
]


@pytest.mark.parametrize(("apparent_c", "emissivity", "starts", "ends", "tolerance"), named(SKEWED))
def test_twice_u_over_air_starts_too_low_and_does_not_pass_the_supplement(
    apparent_c: float, emissivity: float, starts: float, ends: float, tolerance: float
) -> None:
    budget = over_air(apparent_c, emissivity)
    value, u = float(budget.value), float(budget.u)
    found = propagate_over_air(
        apparent_c, Optics(emissivity, 25.0), ambient_c=25.0, assumptions=GIVEN, trials=TRIALS
    )
    off = (found.low - (value - 2 * u), found.high - (value + 2 * u))
    assert off == pytest.approx((starts, ends), abs=tolerance)
    said = validate(value - 2 * u, value + 2 * u, u, found)
    assert (said.tolerance, said.agrees) == (pytest.approx(0.05), False)


@evidence(TWIN, "45 under 60 °C", BY_HAND)
def test_a_twin_keeps_its_sign_and_a_view_does_not() -> None:
    """The cooler of two is the reference of its view, and −15.639 K colder as a plain difference."""
    hot, cool = (surface_terms(t, Optics(0.95, 25.0), assumptions=GIVEN) for t in (60.0, 45.0))
    colder = over_twin(cool, hot, assumptions=GIVEN)
    assert (colder.value, colder.u) == pytest.approx((-15.639, 0.869), abs=0.002)
    assert over_the_cooler((60.0, 45.0), 0.95).value[1] == 0.0
