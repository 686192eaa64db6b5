"""Mann-Kendall, Theil-Sen and Pettitt against published worked examples and tables.

Kind: *published* = the figures stand in the named source; *from memory* = the source is named
from memory and not opened here, the arithmetic was done again; *worked by hand* = recomputed
from the definition only.
"""

from dataclasses import dataclass

import numpy as np
import pymannkendall
import pytest
from scipy import stats

from service.trends.autocorrelation import related_ranks
from service.trends.fits import fit
from service.trends.level_changes import level_change
from service.trends.ranks import exact_upper_tail, one_sided_p, variance
from service.trends.unsaid import Unsaid
from tests.published.evidence import BY_HAND, GUARD, LIBRARY, MEMORY, PUBLISHED, evidence

LITTLE = "Little, lecture file 'Mann-Kendall by hand' (Holy Cross) [published]"
EPA = "EPA QA/G-9 (2000), Mann-Kendall example [from memory]"
HELSEL = "Helsel & Hirsch (2002), ch. 10, Theil-Sen example [from memory]"
TABLES = "Kendall (1975); Hollander & Wolfe; Gilbert (1987) table A18, by generating function [from memory]"
CRITICAL = "critical S, one-sided, as in Gilbert (1987) [from memory] and a data-base help page [published]"
NILE = "Nile at Aswan 1871-1970, data from memory, by pymannkendall [reference library]"

NILE_FLOW = (
    "1120 1160 963 1210 1160 1160 813 1230 1370 1140 995 935 1110 994 1020 960 1180 799 958 1140 "
    "1100 1210 1150 1250 1260 1220 1030 1100 774 840 874 694 940 833 701 916 692 1020 1050 969 "
    "831 726 456 824 702 1120 1100 832 764 821 768 845 864 862 698 845 744 796 1040 759 "
    "781 865 845 944 984 897 822 1010 771 676 649 846 812 742 801 1040 860 874 848 890 "
    "744 749 838 1050 918 986 797 923 975 815 1020 906 901 1170 912 746 919 718 714 740"
)


@dataclass(frozen=True)
class Series:
    """A published series with equal steps, and what its source says of it."""

    source: str
    values: str
    s: int
    p: float
    p_within: float
    var: float | None = None
    slope: float | None = None

    @property
    def row(self) -> np.ndarray:
        return np.array([self.values.split()], dtype=float)

    @property
    def steps(self) -> np.ndarray:
        return np.arange(1.0, self.row.size + 1)[None]


SERIES = (
    Series(
        LITTLE,
        "12.9 14.8 13.2 15.7 13.8 15.6 12.9 11.0 17.3 15.9 19.0 18.3 20.1 21.7",
        s=54,
        p=0.0018314,
        p_within=5e-8,
        var=332.667,
    ),
    Series(EPA, "5 6 11 8 10", s=6, p=0.1167, p_within=5e-5),
    # p: n = 7, S = 19 of 21 in the exact tables
    Series(HELSEL, "1 2 3 4 5 16 7", s=19, p=0.00139, p_within=5e-6, slope=1.0),
    Series(NILE, NILE_FLOW, s=-1387, p=1.8291e-5, p_within=5e-9, var=112728.33, slope=-2.6),
)
BY_SOURCE = pytest.mark.parametrize("case", SERIES, ids=lambda case: case.source)


@BY_SOURCE
def test_s_is_the_published_one(case):
    assert fit(case.steps, case.row).s[0] == case.s


@BY_SOURCE
def test_one_sided_p_is_the_published_one(case):
    assert fit(case.steps, case.row).p[0] == pytest.approx(case.p, abs=case.p_within)


@pytest.mark.parametrize("case", [c for c in SERIES if c.var], ids=lambda case: case.source)
def test_variance_is_the_published_one(case):
    assert variance(case.steps, np.sort(case.row, axis=1))[0] == pytest.approx(case.var, abs=5e-3)


@pytest.mark.parametrize("case", [c for c in SERIES if c.slope], ids=lambda case: case.source)
def test_theil_sen_slope_is_the_published_one(case):
    assert fit(case.steps, case.row).slope[0] == pytest.approx(case.slope, abs=1e-12)


@pytest.mark.parametrize(
    ("case", "z"), [(SERIES[0], 2.9058), (SERIES[3], 4.1281)], ids=[SERIES[0].source, SERIES[3].source]
)
def test_z_is_the_published_one(case, z):
    """Z = (|S| - 1) / sqrt(Var), of the Nile falling."""
    var = variance(case.steps, np.sort(case.row, axis=1))[0]
    assert (abs(case.s) - 1) / np.sqrt(var) == pytest.approx(z, abs=5e-5)


@evidence("Nile at Aswan 1871-1970", "pymannkendall.original_test", LIBRARY)
def test_the_figures_of_the_nile_are_those_of_pymannkendall():
    case = SERIES[3]
    theirs = pymannkendall.original_test(case.row[0])
    assert (theirs.s, theirs.slope) == (case.s, pytest.approx(case.slope, abs=1e-12))
    assert (theirs.var_s, theirs.z) == pytest.approx((case.var, -4.1281), abs=5e-3)
    assert theirs.p / 2 == pytest.approx(case.p, abs=case.p_within)


@evidence("Nile at Aswan 1871-1970", "95 % limits of the slope, scipy.stats.theilslopes", LIBRARY)
def test_the_slope_of_the_nile_has_the_limits_of_scipy():
    case = SERIES[3]
    found = fit(case.steps, case.row, confidence=0.95)
    theirs = stats.theilslopes(case.row[0], case.steps[0], 0.95)
    assert (theirs.low_slope, theirs.high_slope) == pytest.approx((-3.6279, -1.4286), abs=5e-5)
    assert (found.slope_lo[0], found.slope_hi[0]) == pytest.approx(theirs[2:], rel=1e-12)


# ---- neighbours that resemble each other --------------------------------------------------------------


@evidence("Nile at Aswan 1871-1970", "pymannkendall.hamed_rao_modification_test", LIBRARY)
def test_neighbours_of_the_nile_make_its_fall_less_sure():
    case = SERIES[3]
    found, theirs = (
        related_ranks(case.steps, case.row),
        pymannkendall.hamed_rao_modification_test(case.row[0]),
    )
    assert theirs.z == pytest.approx(-2.820, abs=5e-4)
    assert found.z[0] == pytest.approx(theirs.z, rel=1e-12)
    assert found.factor[0] * case.var == pytest.approx(theirs.var_s, rel=1e-6)
    assert 2 * found.p[0] == pytest.approx(theirs.p, rel=1e-9)


@evidence("Hamed and Rao (1998)", "random series, pymannkendall.hamed_rao_modification_test", LIBRARY)
def test_the_variance_for_neighbours_is_that_of_pymannkendall():
    rng = np.random.default_rng(12)
    steps = np.arange(1.0, 41)
    for _ in range(30):
        values = np.convolve(rng.normal(size=44), np.ones(5), "valid")
        found = related_ranks(steps[None], values[None])
        theirs = pymannkendall.hamed_rao_modification_test(values)
        assert found.z[0] == pytest.approx(theirs.z, rel=1e-9, abs=1e-12)


@evidence("Little, 14 values", "where pymannkendall grows surer, 2.906 to 3.208", LIBRARY)
def test_fourteen_visits_are_too_few_for_neighbours():
    """The correction makes a short series surer than it was: here it is not given below twenty."""
    case = SERIES[0]
    theirs = pymannkendall.hamed_rao_modification_test(case.row[0])
    assert (pymannkendall.original_test(case.row[0]).z, theirs.z) == pytest.approx((2.906, 3.208), abs=5e-4)
    found = related_ranks(case.steps, case.row)
    assert np.isnan([found.z[0], found.p[0], found.factor[0]]).all()
    assert found.reason[0] == Unsaid.TOO_FEW_VISITS


# ---- a change of level --------------------------------------------------------------------------------


@evidence("Nile at Aswan 1871-1970", "Pettitt, change after 1898", PUBLISHED)
def test_the_nile_changed_after_1898():
    assert 1871 + level_change(SERIES[3].row).last_before[0] == 1898


@evidence("Pettitt (1979), Nile at Aswan 1871-1970", "K = 1617, p = 3.591e-7", BY_HAND)
def test_how_surely_the_nile_changed():
    found = level_change(SERIES[3].row)
    assert found.size[0] == 1617
    assert found.p[0] == pytest.approx(3.591e-7, rel=5e-4)


@evidence("Nile at Aswan 1871-1970", "one change by least squares", BY_HAND)
def test_least_squares_put_the_change_where_the_ranks_do():
    flow = SERIES[3].row[0]
    spread = [flow[:k].var() * k + flow[k:].var() * (100 - k) for k in range(1, 100)]
    assert int(np.argmin(spread)) == level_change(SERIES[3].row).last_before[0] == 27


@evidence("Pettitt (1979)", "U_k as a sum of signs, with ties", BY_HAND)
def test_ranks_give_the_sum_of_signs():
    values = np.random.default_rng(4).integers(0, 9, 26).astype(float)
    signs = [np.sign(values[k:, None] - values[None, :k]).sum() for k in range(1, 26)]
    found = level_change(values[None])
    assert found.size[0] == max(abs(u) for u in signs)
    assert abs(signs[found.last_before[0]]) == found.size[0]


@evidence("Helsel & Hirsch (2002)", "ch. 10, pair slopes", MEMORY)
def test_pair_slopes_of_helsel_and_hirsch_run_from_minus_nine_to_eleven():
    """21 slopes, -9 to 11, median 1; ordinary least squares, which the outlier pulls, gives 1.7143."""
    case = SERIES[2]
    values, steps = case.row[0], case.steps[0]
    slopes = [(values[j] - values[i]) / (steps[j] - steps[i]) for i in range(7) for j in range(i + 1, 7)]
    assert (len(slopes), min(slopes), max(slopes), np.median(slopes)) == (21, -9, 11, 1)
    assert np.polyfit(steps, values, 1)[0] == pytest.approx(1.7143, abs=5e-5)
    assert fit(case.steps, case.row).slope[0] == np.median(slopes)


@evidence("Nile at Aswan 1871-1970", "means before and after 1898", GUARD)
def test_nile_values_are_the_known_series():
    """Means before and after 1898 (1097.75, 849.97): guards the typed data, not the engine."""
    flow = SERIES[3].row[0]
    assert flow.size == 100
    assert flow[:28].mean() == pytest.approx(1097.75, abs=5e-3)
    assert flow[28:].mean() == pytest.approx(849.97, abs=5e-3)


EXACT = {
    4: {0: 0.625, 2: 0.375, 4: 0.1667, 6: 0.0417},
    5: {0: 0.5917, 2: 0.4083, 4: 0.2417, 6: 0.1167, 8: 0.0417, 10: 0.00833},
    6: {1: 0.5, 3: 0.3597, 5: 0.2347, 7: 0.1361, 9: 0.0681, 11: 0.0278, 13: 0.00833, 15: 0.00139},
    7: {9: 0.1194, 11: 0.0681, 13: 0.0345, 15: 0.0151, 17: 0.00536, 19: 0.00139, 21: 0.000198},
    8: {12: 0.0894, 14: 0.0543, 16: 0.0305, 18: 0.0156, 20: 0.00707, 22: 0.00275},
    9: {18: 0.0376, 20: 0.0223, 22: 0.0124, 24: 0.00633},
    10: {19: 0.0542, 21: 0.0363, 23: 0.0233, 25: 0.0143, 27: 0.00833},
}


def half_digit(printed: float) -> float:
    """Half a unit of the last digit printed (four decimals, or three figures below .01)."""
    return 5e-5 if printed >= 0.01 else 0.5 * 10.0 ** (np.floor(np.log10(printed)) - 2)


@pytest.mark.parametrize(
    ("n", "s", "p"),
    [(n, s, p) for n, row in EXACT.items() for s, p in row.items()],
    ids=[f"n={n} S={s}: {TABLES}" for n, row in EXACT.items() for s in row],
)
def test_exact_chance_of_s_or_more_is_the_tabled_one(n, s, p):
    tail = exact_upper_tail(n)[(s + n * (n - 1) // 2) // 2]
    assert tail == pytest.approx(p, abs=1.02 * half_digit(p))


@pytest.mark.parametrize(
    ("n", "at_5", "at_1"),
    [(5, 8, 10), (6, 11, 13), (7, 13, 17), (8, 16, 20), (9, 18, 24), (10, 21, 27)],
    ids=lambda value: str(value),
)
@evidence("Help page of a data base, as Gilbert (1987)", "critical S", PUBLISHED)
def test_critical_s_at_five_and_one_per_cent_is_the_tabled_one(n, at_5, at_1):
    """Source: CRITICAL. At n = 9 the value 22 has p = .0124 and is not yet one per cent."""
    attainable = range(-(n * (n - 1) // 2), n * (n - 1) // 2 + 1, 2)
    tail = dict(zip(attainable, exact_upper_tail(n), strict=True))
    assert min(s for s, p in tail.items() if p <= 0.05) == at_5, CRITICAL
    assert min(s for s, p in tail.items() if p <= 0.01) == at_1, CRITICAL


@pytest.mark.parametrize(("n", "p"), [(3, 0.167), (4, 0.042), (5, 0.0083)])
@evidence("definition", "one order in n!", BY_HAND)
def test_smallest_attainable_p_is_why_no_verdict_comes_below_five_visits(n, p):
    """Worked by hand: one order in n! rises all the way."""
    rising = np.arange(float(n))[None]
    s = np.array([n * (n - 1) // 2])
    found, _ = one_sided_p(s, days=rising, rise_k=rising)
    assert found[0] == pytest.approx(p, abs=5e-4)
    assert found[0] == pytest.approx(1 / np.prod(np.arange(1, n + 1)), rel=1e-12)


@evidence("definition", "S = 6, n = 5, two-sided", BY_HAND)
def test_exact_p_where_a_library_uses_the_normal_law_at_five_values():
    """Two-sided .233 exact against .22 normal, S = 6, n = 5 (trends study, worked by hand)."""
    exact = 2 * fit(SERIES[1].steps, SERIES[1].row).p[0]
    assert exact == pytest.approx(0.2333, abs=5e-5)
