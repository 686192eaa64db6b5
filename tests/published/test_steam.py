"""Steam tables: the temperature at which water boils, against the published verification values."""

import math

import pytest

from service.physics.refusals import Refusal
from service.physics.steam import saturation_c, saturation_k
from tests.published.evidence import PUBLISHED, evidence

IF97_36 = "IAPWS R7-97, Table 36 (backward equation, region 4)"
IF97_35 = "IAPWS R7-97, Table 35 (saturation pressure, turned round)"
BOILING = "ITS-90 boiling point of water at 101.325 kPa, 99.974 °C"

# pressure MPa, temperature K, tolerance K, source, clause, kind
TABLE = [
    (0.1, 372.755919, 5e-7, IF97_36, "0.1 MPa", PUBLISHED),
    (1.0, 453.035632, 5e-7, IF97_36, "1 MPa", PUBLISHED),
    (10.0, 584.149488, 5e-7, IF97_36, "10 MPa", PUBLISHED),
    (0.353658941e-2, 300.0, 1e-6, IF97_35, "300 K", PUBLISHED),
    (0.263889776e1, 500.0, 1e-6, IF97_35, "500 K", PUBLISHED),
    (0.123443146e2, 600.0, 1e-6, IF97_35, "600 K", PUBLISHED),
    (0.101325, 273.15 + 99.974, 5e-4, BOILING, "one standard atmosphere", PUBLISHED),
]


@pytest.mark.parametrize(
    ("pressure_mpa", "expected_k", "tolerance_k"),
    [pytest.param(*row[:3], id=f"{row[3]}, {row[4]} [{row[5]}]") for row in TABLE],
)
def test_water_boils_at_the_published_temperature(
    pressure_mpa: float, expected_k: float, tolerance_k: float
) -> None:
    figure = saturation_k(pressure_mpa)
    assert figure.refusal == Refusal.NONE
    assert float(figure.value) == pytest.approx(expected_k, abs=tolerance_k)


@evidence(IF97_36, "0.1 MPa as a gauge shows it", PUBLISHED)
def test_a_gauge_shows_what_is_over_the_air_outside() -> None:
    # 0.1 MPa absolute is 1 bar, which a gauge under the standard atmosphere shows as −0.01325 bar
    assert float(saturation_c(-0.01325).value) == pytest.approx(372.755919 - 273.15, abs=1e-6)


@pytest.mark.parametrize(
    ("pressure_mpa", "reason"),
    [
        (0.000611, Refusal.OUT_OF_RANGE),
        (22.065, Refusal.OUT_OF_RANGE),
        (-1.0, Refusal.OUT_OF_RANGE),
        (math.inf, Refusal.OUT_OF_RANGE),
        (math.nan, Refusal.NO_NUMBER),
    ],
)
@evidence("IAPWS R7-97", "range of region 4", PUBLISHED)
def test_outside_its_range_the_formula_says_nothing(pressure_mpa: float, reason: Refusal) -> None:
    figure = saturation_k(pressure_mpa)
    assert figure.refusal == reason
    assert math.isnan(float(figure.value))
