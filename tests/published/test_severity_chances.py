"""Chances of the bands of a column, against worked values and JCGM 106."""

import pytest
from scipy.stats import lognorm

from service.physics.severity import band_chances, band_chances_lognormal
from tests.published.evidence import BY_HAND, LIBRARY, MEMORY, evidence, named
from tests.published.test_severity import NETA_AIR, NETA_SIMILAR

SIMILAR_EDGES, AIR_EDGES = (1.0, 3.0, 15.0), (10.0, 20.0, 40.0)
JCGM_106 = "JCGM 106:2012 §7.4"

# y, u, edges, chances lowest band first, tolerance; source, clause, kind
CHANCES = [
    (14.0, 0.87, SIMILAR_EDGES, (0, 0, 0.8748, 0.1252), 5e-5, NETA_SIMILAR, "14 ± 0.87 K", BY_HAND),
    (2.5, 0.82, SIMILAR_EDGES, (0.0337, 0.6953, 0.2710, 0), 5e-5, NETA_SIMILAR, "2.5 ± 0.82 K", BY_HAND),
    (36.6, 1.69, AIR_EDGES, (0, 0, 0.9779, 0.0221), 5e-5, NETA_AIR, "36.6 ± 1.69 K", BY_HAND),
    (13.6, 1.8, (12.5, 16.3), (0.2706, 0.6626, 0.0668), 5e-5, JCGM_106, "13.6 ± 1.8 in 12.5–16.3", MEMORY),
]


@pytest.mark.parametrize(("value", "u", "edges", "expected", "tolerance"), named(CHANCES))
def test_chance_of_each_band(
    value: float, u: float, edges: tuple[float, ...], expected: tuple[float, ...], tolerance: float
) -> None:
    found = band_chances(value, u, edges=edges)
    assert found.chance.tolist() == pytest.approx(expected, abs=tolerance)
    assert found.chance.sum() == pytest.approx(1.0, abs=1e-12)


# u, least firm value above 15 K, largest firm value below
FIRM = [
    (0.5, 15.82, 14.18, NETA_SIMILAR, "firm about 15 K at u 0.5 K", BY_HAND),
    (1.0, 16.65, 13.36, NETA_SIMILAR, "firm about 15 K at u 1 K", BY_HAND),
    (2.0, 18.29, 11.71, NETA_SIMILAR, "firm about 15 K at u 2 K", BY_HAND),
]


@pytest.mark.parametrize(("u", "above", "below"), named(FIRM))
def test_a_band_is_firm_a_guard_band_away_from_its_edge(u: float, above: float, below: float) -> None:
    assert band_chances([above - 0.011, above + 0.005], u, edges=SIMILAR_EDGES).firm.tolist() == [False, True]
    assert band_chances([below + 0.011, below - 0.005], u, edges=SIMILAR_EDGES).firm.tolist() == [False, True]


@evidence("Normal law", "2 K / 3.92 = 0.51 K", BY_HAND)
def test_the_band_of_1_to_3_kelvin_needs_an_uncertainty_of_half_a_kelvin() -> None:
    """The band is 3.92 u wide at its narrowest."""
    assert band_chances(2.0, [0.510, 0.511], edges=SIMILAR_EDGES).firm.tolist() == [True, False]


@evidence("JCGM 106 §8.3", "1.645·u", BY_HAND)
def test_a_standing_falls_only_a_guard_band_under_its_line() -> None:
    """1.645·u: at u = 1 K a standing over 15 K may fall at 13.35 K, not at 13.36 K."""
    found = band_chances([13.35, 13.36], 1.0, edges=SIMILAR_EDGES)
    assert found.may_fall_below(3).tolist() == [True, False]


@evidence("scipy.stats.lognorm", "39.224 ± 3.406", LIBRARY)
def test_chances_of_a_scaled_rise_are_those_of_its_logarithm() -> None:
    """The log-normal law of scipy.stats."""
    found = band_chances_lognormal(39.224, 3.406, edges=(30.0, 40.0))
    low, high = lognorm.cdf([30.0, 40.0], 3.406 / 39.224, scale=39.224)
    assert found.chance.tolist() == pytest.approx([low, high - low, 1 - high], abs=1e-12)
