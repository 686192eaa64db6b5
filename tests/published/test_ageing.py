"""What heat does to the life of insulation: the rule of 10 K beside the law that it stands for.

Background: the service tells nobody a life, and this is one reason. The rule depends on the material
and on the temperature at which it is used, and no casing shows the hot spot.
"""

import numpy as np
import pandas as pd
import pytest
from scipy import constants
from transformer_thermal_model.aging import aging_rate_profile  # type: ignore[import-untyped]
from transformer_thermal_model.transformer import PaperInsulationType  # type: ignore[import-untyped]

from service.domain.limits import INSULATION_CLASSES_C
from tests.published.evidence import LIBRARY, MEMORY, PRACTICE, named

ORDINARY, UPGRADED = PaperInsulationType.NORMAL, PaperInsulationType.THERMAL_UPGRADED
TABLE_2 = "IEC 60076-7 Table 2, relative ageing rate"
BY_LIBRARY = "IEC 60076-7 by transformer-thermal-model"
TEN_KELVIN = "Rule of 10 K"
#: ln of the ageing rate falls by this over 1/T of thermally upgraded paper [K], IEC 60076-7
UPGRADED_K = 15_000.0
ZERO_OF_THE_STANDARD_C = 273.0


def rate(hot_spot_c: float, paper: PaperInsulationType) -> float:
    """Ageing relative to that at 98 °C (ordinary paper) or 110 °C (thermally upgraded)."""
    return float(aging_rate_profile(pd.Series([hot_spot_c]), paper).iloc[0])


def halving_k(temperature_k: float, *, slope_k: float) -> float:
    """Step that halves a life of Arrhenius' law, ln 2·T²/B, at a temperature [K]."""
    return float(np.log(2.0)) * temperature_k**2 / slope_k


# hot spot °C, rate of ordinary and of upgraded paper, tolerance of the second: the last digit printed
RATES = [
    (80.0, 0.125, 0.036, 5e-4, TABLE_2, "80 °C: .125 and .036", MEMORY),
    (98.0, 1.0, 0.282, 5e-4, TABLE_2, "98 °C: 1 and .282", MEMORY),
    (110.0, 4.0, 1.0, 5e-4, TABLE_2, "110 °C: 4 and 1", MEMORY),
    (140.0, 128.0, 17.2, 0.05, TABLE_2, "140 °C: 128 and 17.2", MEMORY),
]


@pytest.mark.parametrize(("hot_spot_c", "ordinary", "upgraded", "tolerance"), named(RATES))
def test_ageing_of_paper(hot_spot_c: float, ordinary: float, upgraded: float, tolerance: float) -> None:
    assert rate(hot_spot_c, ORDINARY) == pytest.approx(ordinary, rel=1e-9)
    assert rate(hot_spot_c, UPGRADED) == pytest.approx(upgraded, abs=tolerance)


# paper, hot spot °C, K that halve the life there; source, clause, kind
STEPS = [
    (ORDINARY, 98.0, 6.0, BY_LIBRARY, "ordinary paper halves its life per 6 K", LIBRARY),
    (UPGRADED, 98.0, 6.36, BY_LIBRARY, "upgraded paper at 98 °C: per 6.4 K", LIBRARY),
    (UPGRADED, 110.0, 6.78, BY_LIBRARY, "upgraded paper at 110 °C: per 6.8 K", LIBRARY),
    (UPGRADED, 140.0, 7.88, BY_LIBRARY, "upgraded paper at 140 °C: per 7.9 K", LIBRARY),
]


@pytest.mark.parametrize(("paper", "hot_spot_c", "step_k"), named(STEPS))
def test_paper_in_oil_halves_its_life_in_less_than_ten_kelvin(
    paper: PaperInsulationType, hot_spot_c: float, step_k: float
) -> None:
    """The rule of 10 K would be too kind to a transformer: 10 K cost it more than half its life."""
    around_k = 0.005
    growth = np.log(rate(hot_spot_c + around_k, paper) / rate(hot_spot_c - around_k, paper))
    assert 2.0 * around_k * np.log(2.0) / growth == pytest.approx(step_k, abs=5e-3)
    if paper is UPGRADED:
        closed = halving_k(hot_spot_c + ZERO_OF_THE_STANDARD_C, slope_k=UPGRADED_K)
        assert closed == pytest.approx(step_k, abs=5e-3)
    assert rate(hot_spot_c + 10.0, paper) > 2.0 * rate(hot_spot_c, paper)


# thermal class, K that halve the life there; source, clause, kind
CLASSES = [
    ("A", 8.5, TEN_KELVIN, "Arrhenius of 1 eV at 105 °C: 8.5 K", PRACTICE),
    ("B", 9.7, TEN_KELVIN, "Arrhenius of 1 eV at 130 °C: 9.7 K", PRACTICE),
    ("F", 10.9, TEN_KELVIN, "Arrhenius of 1 eV at 155 °C: 10.9 K", PRACTICE),
]


@pytest.mark.parametrize(("letter", "step_k"), named(CLASSES))
def test_the_rule_of_ten_kelvin_is_arrhenius_law_near_the_classes(letter: str, step_k: float) -> None:
    """An activation energy of 1 eV is the round figure of the trade; the rule holds within 1.5 K."""
    limit_c = float(INSULATION_CLASSES_C[letter])
    slope_k = constants.electron_volt / constants.k
    found = halving_k(constants.convert_temperature(limit_c, "C", "K"), slope_k=slope_k)
    assert found == pytest.approx(step_k, abs=0.06)
    assert found == pytest.approx(10.0, abs=1.5)
