"""Intervals against the published tables; sources as named in each table."""

import math

import pytest

from service.planning.intervals import (
    ELECTRICAL_CEILING_MONTHS,
    WORST_CONDITION_CEILING_MONTHS,
    inspections_per_pf,
    interval_rule,
    neta_months,
)
from tests.published.evidence import PUBLISHED, evidence

NETA = "ANSI/NETA MTS App. B"
CAPPED = "the same under NFPA 70B-2023 Table 9.2.2"
NAVAIR = "NAVAIR 00-25-403"

#: need → months for poor, average, good condition; then capped at 12
MATRIX = {
    "low": ((12, 24, 30), (12, 12, 12)),
    "medium": ((6, 12, 18), (6, 12, 12)),
    "high": ((3, 6, 9), (3, 6, 9)),
}
CELLS = [
    (need, condition, free[k], capped[k])
    for need, (free, capped) in MATRIX.items()
    for k, condition in enumerate(("poor", "average", "good"))
]


@pytest.mark.parametrize(
    ("need", "condition", "free", "capped"), CELLS, ids=[f"{c[0]} need, {c[1]}" for c in CELLS]
)
@evidence(NETA, "multipliers x 12 months", PUBLISHED)
def test_interval_by_need_and_condition(need, condition, free, capped):
    assert neta_months(need, condition) == free
    assert interval_rule(need, condition, electrical=True).months == capped, CAPPED


@pytest.mark.parametrize(("base", "months"), [(1, 0.5), (12, 6), (24, 12)])
@evidence(NETA, "vacuum breaker", PUBLISHED)
def test_vacuum_breaker_of_high_need_and_average_condition(base, months):
    """Worked example to ANSI/NETA MTS App. B [published]: multiplier 0.5, half-monthly, 6, 12."""
    assert neta_months("high", "average", base_months=base) == months


@evidence("NFPA 70B-2023", "Table 9.2.2", PUBLISHED)
def test_electrical_ceiling_is_twelve_months_and_six_in_the_worst_condition():
    """NFPA 70B-2023 Table 9.2.2 [published]."""
    assert (ELECTRICAL_CEILING_MONTHS, WORST_CONDITION_CEILING_MONTHS) == (12, 6)
    assert interval_rule("low", "good", electrical=True).months == 12
    assert interval_rule("low", "good", electrical=True, worst_condition=True).months == 6


@pytest.mark.parametrize(
    ("accepted_miss", "found_share", "raw", "n", "months"),
    [
        (0.01, 0.9, 2.0, 2, 6),
        (0.05, 0.8, 1.86, 2, 6),
        (0.001, 0.9, 3.0, 3, 4),
        (0.01, 0.8, 2.86, 3, 4),
        (0.1, 0.7, 1.91, 2, 6),
    ],
    ids=lambda value: str(value),
)
@evidence(NAVAIR, "n = ln P/ln(1 − θ)", PUBLISHED)
def test_readings_per_pf_interval_of_twelve_months(accepted_miss, found_share, raw, n, months):
    """Source: NAVAIR. In floating point the first raw figure misses 2 by 4e-16: needs the slack."""
    assert math.log(accepted_miss) / math.log(1 - found_share) == pytest.approx(raw, abs=5e-3), NAVAIR
    assert inspections_per_pf(accepted_miss, found_share) == n, NAVAIR
    assert 12 / n == months


@evidence("P–F example", "6 months, monthly", PUBLISHED)
def test_pf_of_six_months_read_monthly_leaves_five():
    """P–F example [published]: what is left for the repair is P–F minus the interval."""
    found = interval_rule("high", "poor", electrical=False, pf_months=6, override_months=1)
    assert found.months == 1
    assert 6 - found.months == 5


@evidence("P–F rule", "at most half", PUBLISHED)
def test_interval_is_at_most_half_of_the_pf_interval():
    """P–F rule [published, common practice]: at most half."""
    assert interval_rule("low", "good", electrical=True, pf_months=8).months == 4
