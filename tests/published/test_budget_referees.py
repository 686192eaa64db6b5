"""Budgets of rises against two libraries that propagate uncertainty by themselves."""

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

from service.physics.assumptions import (
    Assumptions,
    Input,
)
from service.physics.budget_terms import over_air_terms, surface_terms, terms_at_common_load
from service.physics.compared_uncertainty import over_like_parts
from service.physics.optics import Optics
from service.physics.uncertainty import at_common_load, budget_of, made_budget, share_of_rated_rise
from tests.published.evidence import LIBRARY, evidence
from tests.published.test_budgets import GIVEN, over_air, over_the_cooler

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
def test_a_rise_of_given_uncertainty_at_common_load(library: str) -> None:
    """36.605 ± 1.686 K, 60→100 A: 91.80539 and u = 7.44286."""
    number, _, told_of = LIBRARIES[library]
    rise, amps, exponent = number(36.605, 1.686), number(60.0, 60 * 0.03 / HALF), number(1.8, 0.2 / HALF)
    by_library = told_of(rise * (100.0 / amps) ** exponent)
    assert by_library == pytest.approx((91.80539, 7.44286), abs=6e-6)
    none = np.zeros((), dtype=np.uint8)
    measured = made_budget(np.asarray(36.605), {Input.CAMERA: np.asarray(1.686)}, refusal=none, caution=none)
    found = at_common_load(measured, 60.0, common_load_a=100.0, assumptions=GIVEN)
    assert (found.value, found.u) == pytest.approx(by_library, rel=1e-9)


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


@pytest.mark.parametrize(
    ("twin_c", "emissivity", "r", "u"),
    [
        (45.0, 0.95, 0.9, 0.8691),
        (57.0, 0.95, 0.9, 0.8187),
        (45.0, 0.6, 0.9, 1.4574),
        (45.0, 0.95, 0.5, None),
        (45.0, 0.6, 0.5, None),
    ],
)
@evidence("uncertainties", "twin with shared variables", LIBRARY)
def test_twin_with_shared_variables_as_a_library_propagates_it(
    twin_c: float, emissivity: float, r: float, u: float | None
) -> None:
    """Each error as √r·shared + √(1−r)·own, shared variables in `uncertainties`."""
    shared_camera, shared_emissivity = ufloat(0.0, 1.0), ufloat(0.0, 1.0)
    reflected, transmission = ufloat(25.0, 5 / HALF), ufloat(1.0, 0.005 / HALF)

    def part(apparent_c: float) -> Any:
        def error(shared: Any) -> Any:
            return np.sqrt(r) * shared + np.sqrt(1 - r) * ufloat(0.0, 1.0)

        apparent = apparent_c + 2 / HALF * error(shared_camera) + ufloat(0.0, 0.1)
        eps = emissivity + 0.05 / HALF * error(shared_emissivity)
        return by_uncertainties(apparent, eps, reflected, transmission, 25.0) + ufloat(0.0, 0.3)

    difference = part(60.0) - part(twin_c)
    if u is not None:
        assert difference.std_dev == pytest.approx(u, abs=5e-5)
    given = Assumptions(camera_correlation=r, emissivity_correlation=r)
    budget = over_the_cooler((60.0, twin_c), emissivity, given)
    assert budget.value[0] == pytest.approx(difference.nominal_value, rel=1e-6)
    assert budget.u[0] == pytest.approx(difference.std_dev, rel=1e-6)
    for key, tag in ((Input.REFLECTED, reflected), (Input.TRANSMISSION, transmission)):
        by_library = uncertainties.core.AffineScalarFunc.error_components(difference)[tag]
        assert budget.contributions[key][0] == pytest.approx(by_library, rel=1e-6)


@evidence("uncertainties", "unequal currents", LIBRARY)
def test_parts_with_unequal_currents_as_a_library_propagates_them() -> None:
    """Each rise by its own current, the exponent shared, then subtracted."""
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


@evidence("uncertainties", "share of rated rise", LIBRARY)
def test_share_of_rated_rise_as_a_library_propagates_it() -> None:
    """(36.6 ± 1.7 K at 60 of 100 A, 50 K rated)."""
    rise = over_air(60, 0.95)
    amps, exponent = ufloat(60.0, 60 * 0.03 / HALF), ufloat(1.8, 0.2 / HALF)
    by_library = 100 * ufloat(float(rise.value), float(rise.u)) / (50.0 * (amps / 100.0) ** exponent)
    found = share_of_rated_rise(rise, 60.0, rated_current_a=100.0, rated_rise_k=50.0, assumptions=GIVEN)
    assert (found.value, found.u) == pytest.approx((by_library.nominal_value, by_library.std_dev), rel=1e-9)
