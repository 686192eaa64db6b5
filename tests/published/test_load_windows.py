"""Limits of a share of visits, against Clopper and Pearson's definition and scipy's test."""

import pytest
from scipy.stats import binomtest

from service.physics.load_windows import share_limits
from tests.published.evidence import BY_HAND, LIBRARY, named

PAPER = "Clopper & Pearson, Biometrika 26 (1934) 404"

# loaded, visits, lower, upper, source, clause, kind: all or none has a closed form, (1 − c)^(1/n)
CLOSED = [
    (5, 5, 0.1 ** (1 / 5), 1.0, PAPER, "all of 5: 0.1^(1/5) = 0.631", BY_HAND),
    (10, 10, 0.1 ** (1 / 10), 1.0, PAPER, "all of 10: 0.794", BY_HAND),
    (0, 5, 0.0, 1 - 0.1 ** (1 / 5), PAPER, "none of 5: 0.369", BY_HAND),
    (0, 0, 0.0, 1.0, PAPER, "no visit says nothing", BY_HAND),
]


@pytest.mark.parametrize(("loaded", "visits", "lower", "upper"), named(CLOSED))
def test_limits_in_closed_form(loaded: int, visits: int, lower: float, upper: float) -> None:
    assert share_limits(loaded, visits).tolist() == pytest.approx([lower, upper], abs=1e-12)


REFEREED = [
    (loaded, visits, "scipy", f"binomtest exact, {loaded} of {visits}", LIBRARY)
    for loaded, visits in ((1, 5), (4, 5), (8, 10), (13, 20), (36, 40))
]


@pytest.mark.parametrize(("loaded", "visits"), named(REFEREED))
def test_limits_against_the_exact_test(loaded: int, visits: int) -> None:
    """Kind: reference library; a two-sided interval of 80 % has these two limits of 90 %."""
    range_ = binomtest(loaded, visits).proportion_ci(confidence_level=0.8, method="exact")
    assert share_limits(loaded, visits).tolist() == pytest.approx([range_.low, range_.high], abs=1e-9)
