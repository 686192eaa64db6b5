"""Load, its exponent and the air around against standards and values worked by hand."""

import numpy as np
import pytest

from service.physics.load import (
    EXPONENT,
    EXPONENT_HIGH,
    EXPONENT_IEC_61439,
    EXPONENT_LOW,
    MIN_SHARE,
    at_other_air,
    current_for_rise,
    over_like_parts_at_common_load,
    to_common_load,
)
from service.physics.refusals import Refusal
from tests.published.evidence import BY_HAND, MEMORY, PRACTICE, PUBLISHED, evidence, named

P1, P2 = "IEC 61439-1, 10.10.2.3.1", "Busbar rating example"
# A, K, wanted K, exponent, expected A, tolerance, source, clause, kind
CURRENTS = [
    (973, 102, 105, EXPONENT_IEC_61439, 990, 0.5, P1, "973·(105/102)^0.61, printed 990", PUBLISHED),
    (973, 102, 105, EXPONENT_IEC_61439, 990.36, 5e-3, P1, "973·(105/102)^0.61", BY_HAND),
    (4000, 65, 55, 2.0, 3679.5, 0.05, P2, "4000·√(55/65)", BY_HAND),
    (4000, 65, 55, 1.8, 3645.5, 0.05, P2, "the same with n = 1.8", BY_HAND),
]


@pytest.mark.parametrize(("amps", "rise", "wanted", "exponent", "expected", "tolerance"), named(CURRENTS))
def test_current_for_another_rise(
    amps: float, rise: float, wanted: float, exponent: float, expected: float, tolerance: float
) -> None:
    found = current_for_rise(amps, rise, wanted_rise_k=wanted, exponent=exponent)
    assert float(found) == pytest.approx(expected, abs=tolerance)


@evidence(P2, "factor rounded to .92, printed 3680", PUBLISHED)
def test_busbar_example_with_the_rounding_of_its_source() -> None:
    factor = float(current_for_rise(1.0, 65.0, wanted_rise_k=55.0, exponent=2.0))
    assert 4000 * round(factor, 2) == pytest.approx(3680)


# found, expected, tolerance; source, clause, kind
EXPONENTS = [
    (2 / 1, 2.0, 0, "I²R and a linear loss", "n", BY_HAND),
    (2 / 1.25, 1.600, 0, "Laminar natural convection, h ∝ ΔT^¼", "n", BY_HAND),
    (2 / (4 / 3), 1.5, 1e-12, "Turbulent natural convection, h ∝ ΔT^⅓", "n", BY_HAND),
    (EXPONENT, 1.8, 0, "IEEE C37.010", "n shipped", MEMORY),
    (EXPONENT_IEC_61439, 1.639, 5e-4, "IEC 61439-1", "10.10.2.3.1, 1/0.61", PUBLISHED),
    (EXPONENT_LOW, 1.6, 0, "Published range of n", "lower end", PUBLISHED),
    (EXPONENT_HIGH, 2.0, 0, "Published range of n", "upper end", PUBLISHED),
    (MIN_SHARE, 0.40, 0, "Minimum load for a survey", "40 % of normal load", PUBLISHED),
]


@pytest.mark.parametrize(("found", "expected", "tolerance"), named(EXPONENTS))
def test_exponent_and_least_load(found: float, expected: float, tolerance: float) -> None:
    assert found == pytest.approx(expected, abs=tolerance, rel=0)
    assert found == MIN_SHARE or found == 1.5 or EXPONENT_LOW <= found <= EXPONENT_HIGH


# share of the common load %, brought to it; source, clause, kind
LEAST_LOAD = [
    (40.0, True, "Minimum load for a survey", "scaled from 40 % on", PUBLISHED),
    (39.9, False, "Minimum load for a survey", "not scaled below 40 %", PUBLISHED),
]


@pytest.mark.parametrize(("load", "scaled"), named(LEAST_LOAD))
def test_rise_is_scaled_from_the_least_load_on(load: float, scaled: bool) -> None:
    found = to_common_load(12.0, load, common_load_a=100.0)
    assert (found.refusal == Refusal.NONE) == scaled
    assert np.isnan(found.rise_k) != scaled


# rise K, A, common A, exponent, expected K, tolerance, source, clause, kind
SCALED = [
    (10, 50, 100, 2.0, 40.00, 0.01, "ΔT ∝ Iⁿ", "10 K 50→100 %, n 2", BY_HAND),
    (10, 50, 100, 1.8, 34.82, 0.01, "IEEE C37.010 exponent", "10 K 50→100 %, n 1.8", MEMORY),
    (10, 50, 100, 1.64, 31.17, 0.01, "ΔT ∝ Iⁿ", "10 K 50→100 %, n 1.64", BY_HAND),
    (10, 50, 100, 1.6, 30.31, 0.01, "ΔT ∝ Iⁿ", "10 K 50→100 %, n 1.6", BY_HAND),
    (12, 40, 100, 2.0, 75.00, 0.01, "ΔT ∝ Iⁿ", "12 K 40→100 %, n 2", BY_HAND),
    (12, 40, 100, 1.8, 62.44, 0.01, "IEEE C37.010 exponent", "12 K 40→100 %, n 1.8", MEMORY),
    (12, 40, 100, EXPONENT_IEC_61439, 53.89, 0.01, "IEC 61439-1", "12 K 40→100 %, n 1/0.61", PUBLISHED),
    (12, 40, 100, 1.6, 51.99, 0.01, "ΔT ∝ Iⁿ", "12 K 40→100 %, n 1.6", BY_HAND),
]


@pytest.mark.parametrize(("rise", "amps", "common", "exponent", "expected", "tolerance"), named(SCALED))
def test_rise_at_common_load(
    rise: float, amps: float, common: float, exponent: float, expected: float, tolerance: float
) -> None:
    found = to_common_load(rise, amps, common_load_a=common, exponent=exponent)
    assert float(found.rise_k) == pytest.approx(expected, abs=tolerance)


# load %, factor for n 1.6, 1.8, 2.0, tolerance
FACTORS = [
    (40, 4.33, 5.20, 6.25, 0.005, "Published exponents 1.6–2.0", "factors at 40 %", BY_HAND),
    (50, 3.03, 3.48, 4.00, 0.005, "Published exponents 1.6–2.0", "factors at 50 %", BY_HAND),
    (60, 2.26, 2.51, 2.78, 0.005, "Published exponents 1.6–2.0", "factors at 60 %", BY_HAND),
    (80, 1.43, 1.49, 1.56, 0.005, "Published exponents 1.6–2.0", "factors at 80 %", BY_HAND),
]


@pytest.mark.parametrize(("load", "low", "middle", "high", "tolerance"), named(FACTORS))
def test_default_exponent_and_its_band(
    load: float, low: float, middle: float, high: float, tolerance: float
) -> None:
    found = to_common_load(1.0, load, common_load_a=100.0)
    got = [float(found.low_k), float(found.rise_k), float(found.high_k)]
    assert got == pytest.approx([low, middle, high], abs=tolerance)


UNEQUAL = "ΔT ∝ Iⁿ, each part by its own current"
# rises over air K, currents A, expected over like parts K at 100 A; source, clause, kind
UNEQUAL_CURRENTS = [
    ((30.0, 20.0), (80.0, 80.0), (14.943, 0.0), UNEQUAL, "equal currents: the factor of both", BY_HAND),
    ((30.0, 10.0), (80.0, 40.0), (0.0, 7.206), UNEQUAL, "the cooler one is the fault", BY_HAND),
    ((40.0, 30.0, 20.0), (100.0, 80.0, 60.0), (-4.829, 0.0, 5.331), UNEQUAL, "three parts", BY_HAND),
]


@pytest.mark.parametrize(("rises", "amps", "expected"), named(UNEQUAL_CURRENTS))
def test_unequal_currents_are_scaled_before_they_are_subtracted(
    rises: tuple[float, ...], amps: tuple[float, ...], expected: tuple[float, ...]
) -> None:
    found = over_like_parts_at_common_load(rises, amps, common_load_a=100.0)
    assert found.value == pytest.approx(expected, abs=5e-4)


@evidence("Air one to one", "65 °C in 25 °C is 80 °C in 40 °C", PRACTICE)
def test_other_air_moves_the_part_one_to_one() -> None:
    """The rise of 40 K stays."""
    assert float(at_other_air(65.0, 25.0, other_air_c=40.0)) == 80.0
