"""Budgets of rises against worked rows and against two libraries that propagate by themselves."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import uncertainties
from GTC import exp as gtc_exp
from GTC import function as gtc_function
from GTC import ureal
from scipy import constants
from uncertainties import ufloat
from uncertainties.umath import exp as ufloat_exp

from service.physics.assumptions import Assumptions, Input
from service.physics.budget_terms import over_air_terms, surface_terms, terms_at_common_load
from service.physics.compared_uncertainty import over_like_parts, over_twin, relative_difference
from service.physics.coverage import interval_95
from service.physics.monte_carlo import Load, propagate_over_air, propagate_over_like_parts
from service.physics.optics import Optics
from service.physics.uncertainty import Budget, at_common_load, budget_of, share_of_rated_rise
from tests.published.test_load import LIBRARY
from tests.published.test_severity import BY_HAND, named

GIVEN = Assumptions()
ROWS = "Budget with the default assumptions, JCGM 100 §5"
TWIN = "Two parts in one frame, JCGM 100 §5.2"


def over_air(apparent_c: float, emissivity: float) -> Budget:
    terms = over_air_terms(apparent_c, Optics(emissivity, 25.0), ambient_c=25.0, assumptions=GIVEN)
    return budget_of(terms)


def over_the_cooler(apparent_c: tuple[float, float], emissivity: float, given: Assumptions = GIVEN) -> Budget:
    terms = surface_terms(apparent_c, Optics(emissivity, 25.0), assumptions=given)
    return over_like_parts(terms, assumptions=given)


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
    assert first[:2] == pytest.approx((y, u), abs=0.003)
    assert first[2:] == pytest.approx(ends, abs=0.06)


def test_relative_difference_of_a_hot_part_and_its_twin() -> None:
    """δ of (60, 40, 25) °C: 57.1 ± 2.3 points at ±2 K camera, r = .9, air ±1 K [worked by hand]."""
    given = Assumptions(
        emissivity_half_width=0.0, noise_u_k=0.0, placement_u_k=0.0, transmission_half_width=0.0
    )
    hot, like = (surface_terms(t, Optics(1.0, 25.0), assumptions=given) for t in (60.0, 40.0))
    found = relative_difference(hot, like, ambient_c=25.0, assumptions=given)
    assert found.value == pytest.approx(57.1, abs=0.05)
    assert found.u == pytest.approx(2.3, abs=0.05)


# apparent °C (part, or part and twin), emissivity, load A, sd, ends of 95 %, tolerance of the ends;
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
    ((60,), 0.95, Load(60, 100), 7.49, (78.8, 107.5), 1.0, MONTE, "60 °C over air, 60→100 A", BY_HAND),
    ((40,), 0.95, Load(40, 100), 11.92, (61.9, 107.4), 1.0, MONTE, "40 °C over air, 40→100 A", BY_HAND),
    ((60, 45), 0.95, Load(60, 100), 3.424, (33.2, 46.4), 0.4, MONTE, "60 over 45 °C, 60→100 A", BY_HAND),
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
    assert (found.low, found.high) == pytest.approx(ends, abs=tolerance)


NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)
MICRON = 11.0 + 3.0 * NODES
C1L, C2 = 2 * constants.h * constants.c**2, constants.h * constants.c / constants.k


def radiance(temperature_c: Any, exponential: Callable[[Any], Any]) -> Any:
    """Radiance within 8–14 µm by Gauss-Legendre, of anything that can be added and divided."""
    total: Any = 0.0
    for micron, weight in zip(MICRON, WEIGHTS, strict=True):
        metre = micron * 1e-6
        total = total + 3e-6 * weight * C1L / metre**5 / (
            exponential(C2 / metre / (temperature_c + 273.15)) - 1.0
        )
    return total


def by_uncertainties(apparent: Any, emissivity: Any, reflected: Any, transmission: Any, air: Any) -> Any:
    """Surface temperature; the inverse is one step of Newton at the solution, exact to first order."""
    leaving = (radiance(apparent, ufloat_exp) - (1 - transmission) * radiance(air, ufloat_exp)) / transmission
    own = (leaving - (1 - emissivity) * radiance(reflected, ufloat_exp)) / emissivity
    at = float(apparent.nominal_value)
    for _ in range(30):
        slope = (radiance(at + 0.01, np.exp) - radiance(at - 0.01, np.exp)) / 0.02
        at += (own.nominal_value - radiance(at, np.exp)) / slope
    return at + (own - radiance(at, np.exp)) / slope


def by_gtc(apparent: Any, emissivity: Any, reflected: Any, transmission: Any, air: Any) -> Any:
    """Surface temperature; the inverse is the library's own implicit function."""
    leaving = (radiance(apparent, gtc_exp) - (1 - transmission) * radiance(air, gtc_exp)) / transmission
    own = (leaving - (1 - emissivity) * radiance(reflected, gtc_exp)) / emissivity
    return gtc_function.implicit(lambda t: radiance(t, gtc_exp) - own, 0.0, 200.0, 1e-12)


LIBRARIES = {
    "uncertainties": (ufloat, by_uncertainties, lambda x: (x.nominal_value, x.std_dev)),
    "GTC": (ureal, by_gtc, lambda x: (x.x, x.u)),
}
EACH_LIBRARY = pytest.mark.parametrize(
    "library", list(LIBRARIES), ids=[f"{name} [{LIBRARY}]" for name in LIBRARIES]
)
HALF = np.sqrt(3.0)


@EACH_LIBRARY
def test_surface_temperature_as_a_library_propagates_it(library: str) -> None:
    """T_o at apparent 60 °C, ε .95 by camera, emissivity and reflected temperature: u = 1.548764."""
    number, surface, told = LIBRARIES[library]
    found = told(
        surface(number(60.0, 2 / HALF), number(0.95, 0.05 / HALF), number(25.0, 5 / HALF), 1.0, 25.0)
    )
    given = Assumptions(placement_u_k=0.0, noise_u_k=0.0, transmission_half_width=0.0)
    budget = budget_of(surface_terms(60.0, Optics(0.95, 25.0), assumptions=given))
    assert (budget.value, budget.u) == pytest.approx(found, rel=1e-6)
    assert budget.u == pytest.approx(1.548764, abs=1e-6)


@EACH_LIBRARY
@pytest.mark.parametrize("emissivity", [0.95, 0.6, 0.3])
def test_rise_at_common_load_as_a_library_propagates_it(library: str, emissivity: float) -> None:
    number, surface, told = LIBRARIES[library]
    apparent = number(60.0, 2 / HALF) + number(0.0, 0.1)
    air = number(25.0, 1 / HALF)
    part = surface(
        apparent, number(emissivity, 0.05 / HALF), number(25.0, 5 / HALF), number(0.97, 0.005 / HALF), air
    )
    rise = part + number(0.0, 0.3) - air
    found = told(rise * (100.0 / number(60.0, 60 * 0.03 / HALF)) ** number(1.8, 0.2 / HALF))
    terms = over_air_terms(
        60.0, Optics(emissivity, 25.0, transmission=0.97, air_c=25.0), ambient_c=25.0, assumptions=GIVEN
    )
    budget = budget_of(terms_at_common_load(terms, 60.0, common_load_a=100.0, assumptions=GIVEN))
    assert (budget.value, budget.u) == pytest.approx(found, rel=1e-6)


@pytest.mark.parametrize("emissivity", [0.95, 0.6])
@pytest.mark.parametrize("r", [0.9, 0.5])
def test_twin_with_shared_variables_as_a_library_propagates_it(emissivity: float, r: float) -> None:
    """Each error as √r·shared + √(1−r)·own, shared variables in `uncertainties` [reference library]."""
    shared_camera, shared_emissivity = ufloat(0.0, 1.0), ufloat(0.0, 1.0)
    reflected, transmission = ufloat(25.0, 5 / HALF), ufloat(1.0, 0.005 / HALF)

    def part(apparent_c: float) -> Any:
        def error(shared: Any) -> Any:
            return np.sqrt(r) * shared + np.sqrt(1 - r) * ufloat(0.0, 1.0)

        apparent = apparent_c + 2 / HALF * error(shared_camera) + ufloat(0.0, 0.1)
        eps = emissivity + 0.05 / HALF * error(shared_emissivity)
        return by_uncertainties(apparent, eps, reflected, transmission, 25.0) + ufloat(0.0, 0.3)

    difference = part(60.0) - part(45.0)
    given = Assumptions(camera_correlation=r, emissivity_correlation=r)
    budget = over_the_cooler((60.0, 45.0), emissivity, given)
    assert budget.value[0] == pytest.approx(difference.nominal_value, rel=1e-6)
    assert budget.u[0] == pytest.approx(difference.std_dev, rel=1e-6)
    for key, tag in ((Input.REFLECTED, reflected), (Input.TRANSMISSION, transmission)):
        by_library = uncertainties.core.AffineScalarFunc.error_components(difference)[tag]
        assert budget.contributions[key][0] == pytest.approx(by_library, rel=1e-6)


def test_parts_with_unequal_currents_as_a_library_propagates_them() -> None:
    """Each rise by its own current, the exponent shared, then subtracted [reference library]."""
    exponent, air = ufloat(1.8, 0.2 / HALF), ufloat(25.0, 1 / HALF)
    given = Assumptions(camera_correlation=0.0, emissivity_correlation=0.0)
    reflected, transmission = ufloat(25.0, 5 / HALF), ufloat(1.0, 0.005 / HALF)

    def part(apparent_c: float, amps: float) -> Any:
        apparent = ufloat(apparent_c, 2 / HALF) + ufloat(0.0, 0.1)
        surface = by_uncertainties(apparent, ufloat(0.95, 0.05 / HALF), reflected, transmission, air)
        return (surface + ufloat(0.0, 0.3) - air) * (100.0 / ufloat(amps, amps * 0.03 / HALF)) ** exponent

    difference = part(60.0, 80.0) - part(45.0, 60.0)
    terms = over_air_terms([60.0, 45.0], Optics(0.95, 25.0), ambient_c=25.0, assumptions=given)
    scaled = terms_at_common_load(terms, [80.0, 60.0], common_load_a=100.0, assumptions=given)
    ours = over_like_parts(scaled, assumptions=given, like=np.ones((2, 2), dtype=bool))
    cooler = int(np.argmin(scaled.value))
    assert ours.value[1 - cooler] == pytest.approx(abs(difference.nominal_value), rel=1e-6)
    assert ours.u[1 - cooler] == pytest.approx(difference.std_dev, rel=1e-6)


def test_share_of_rated_rise_as_a_library_propagates_it() -> None:
    """(36.6 ± 1.7 K at 60 of 100 A, 50 K rated) [reference library]."""
    rise = over_air(60, 0.95)
    amps, exponent = ufloat(60.0, 60 * 0.03 / HALF), ufloat(1.8, 0.2 / HALF)
    by_library = 100 * ufloat(float(rise.value), float(rise.u)) / (50.0 * (amps / 100.0) ** exponent)
    found = share_of_rated_rise(rise, 60.0, rated_current_a=100.0, rated_rise_k=50.0, assumptions=GIVEN)
    assert (found.value, found.u) == pytest.approx((by_library.nominal_value, by_library.std_dev), rel=1e-9)


def test_a_twin_keeps_its_sign_and_a_view_does_not() -> None:
    """The cooler of two is the reference of its view, and −15.639 K colder as a plain difference."""
    hot, cool = (surface_terms(t, Optics(0.95, 25.0), assumptions=GIVEN) for t in (60.0, 45.0))
    colder = over_twin(cool, hot, assumptions=GIVEN)
    assert (colder.value, colder.u) == pytest.approx((-15.639, 0.869), abs=0.002)
    assert over_the_cooler((60.0, 45.0), 0.95).value[1] == 0.0
