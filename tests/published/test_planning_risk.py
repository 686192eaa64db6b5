"""Delay-time shares and trend dates against closed forms; sources as named with each row.

The interval matrix, the counts of NAVAIR and the P–F example stand in `test_intervals.py`.
A knapsack stands nowhere: nothing in the planner solves one.
"""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import weibull_min

from service.planning.delay_time import (
    averted_by_going_now,
    caught_shares,
    missed_share,
    risk_that_stays,
    weibull_delays,
)
from service.planning.priorities import priority_scores, pulled_forward
from tests.published.evidence import BY_HAND, LIBRARY, MEMORY, PRACTICE, evidence, named

CHRISTER_WALLER = "Christer & Waller 1984"
FINE = 400

# βT; missed share; source, clause, kind
EXPONENTIAL = [
    (1.0, 0.3679, CHRISTER_WALLER, "1 − (1 − e^−βT)/βT at βT = 1", MEMORY),
    (2.0, 0.5677, CHRISTER_WALLER, "βT = 2", MEMORY),
    (0.75, 0.2965, CHRISTER_WALLER, "βT = 0.75", MEMORY),
]


@pytest.mark.parametrize(("beta_t", "expected"), named(EXPONENTIAL))
def test_share_missed_with_exponential_delay(beta_t: float, expected: float) -> None:
    delays = weibull_delays([1.0], 4000, shape=1.0)
    assert missed_share(delays, beta_t, offsets=FINE)[0] == pytest.approx(expected, abs=5e-4)


# delays, interval; missed share; source, clause, kind
PLAIN = [
    (np.array([[4.0]]), 12.0, 2 / 3, CHRISTER_WALLER, "fixed delay 4 of 12: (T − L)/T", BY_HAND),
    (
        (np.arange(FINE)[None, :] + 0.5) / FINE * 12.0,
        6.0,
        1 / 4,
        CHRISTER_WALLER,
        "uniform to 12, every 6: T/2H",
        BY_HAND,
    ),
]


@pytest.mark.parametrize(("delays", "interval", "expected"), named(PLAIN))
def test_share_missed_with_fixed_and_uniform_delay(
    delays: np.ndarray, interval: float, expected: float
) -> None:
    assert missed_share(delays, interval, offsets=300)[0] == pytest.approx(expected, abs=2e-3)


@evidence("Bernoulli trials", "fixed delay 12, every 4, found with 0.8: 0.2³", BY_HAND)
def test_three_looks_each_seeing_four_in_five_miss_one_in_125() -> None:
    assert missed_share([[12.0]], 4.0, found_share=0.8)[0] == pytest.approx(0.2**3, abs=1e-12)


@evidence("P–F rule", "at most half: a fault is always met at least once with the lead left", PRACTICE)
def test_reading_at_half_of_the_delay_misses_nothing_that_is_plain() -> None:
    assert missed_share([[6.0]], 3.0, lead_months=3.0)[0] == 0.0


# interval, early date, lead; expected; source, clause, kind
FORWARD = [
    (6.0, 18.0, 2.0, 6.0, "Own rule", "(18 − 2)/2 = 8 > 6", BY_HAND),
    (6.0, 4.0, 1.0, 1.5, "Own rule", "(4 − 1)/2", BY_HAND),
    (6.0, 2.2, 1.0, 1.0, "Own rule", "(2.2 − 1)/2 < 1", BY_HAND),
    (6.0, 1.0, 1.0, 0.0, "Own rule", "within the lead: no survey", BY_HAND),
    (6.0, float("inf"), 1.0, 6.0, "Own rule", "no date", BY_HAND),
]


@pytest.mark.parametrize(("interval", "early", "lead", "expected"), named(FORWARD))
def test_trend_pulls_an_interval_forward(interval: float, early: float, lead: float, expected: float) -> None:
    assert pulled_forward(interval, early, lead_months=lead) == expected


# criticality, since, interval, trending; expected; source, clause, kind
SCORES = [
    (4.0, 6.0, 6.0, False, 200, "Own rule", "100·2·1²", BY_HAND),
    (1.0, 9.0, 6.0, False, 338, "Own rule", "100·1.5²·1.5 = 337.5", BY_HAND),
    (1.0, 60.0, 6.0, False, 600, "Own rule", "lateness counts to 2: 100·4·1.5", BY_HAND),
    (1.0, 3.0, 6.0, True, 300, "Own rule", "4·25 + 200", BY_HAND),
]


@pytest.mark.parametrize(("weight", "since", "interval", "trending", "expected"), named(SCORES))
def test_priority_score(weight: float, since: float, interval: float, trending: bool, expected: int) -> None:
    found = priority_scores([weight], [since], interval_months=[interval], trending=[trending])
    assert found.tolist() == [expected]


@evidence("scipy.stats.weibull_min", "θ·c·λ·∫(F(u + 1) − F(u))du by quadrature", LIBRARY)
def test_faults_averted_by_going_now_agree_with_the_integral() -> None:
    law = weibull_min(2.0, scale=8.0 / 0.8862269254527580)
    area, _ = quad(lambda u: law.cdf(u + 1) - law.cdf(u), 0, 9.0)
    found = averted_by_going_now([0.24], [8.0], found_share=[0.5], months_since=[9.0], weight=[15.0])
    assert found[0] == pytest.approx(0.5 * 15 * 0.02 * area, rel=1e-9)


@evidence("Survival", "1 − (1 − 0.36)^(6/12) = 0.2", BY_HAND)
def test_risk_that_stays_takes_the_trend_where_it_is_the_larger() -> None:
    known = {"found_share": [0.9, 0.9], "months_since": [3.0, 3.0], "months_until": [6.0, 6.0]}
    found = risk_that_stays([0.04, 0.04], [8.0, 8.0], chance_12_months=[0.36, np.nan], **known)
    assert found.crossing[0] == pytest.approx(0.2)
    assert np.isnan(found.crossing[1])
    assert found.chance.tolist() == [found.crossing[0], found.failing[1]]


@evidence("Monte Carlo", "500,000 faults, seed 5", BY_HAND)
def test_share_caught_agrees_with_drawn_faults() -> None:
    """θ 0.7, mean 6 months, lead 0.5, every 4 months; first signs lead to the fault in 6 of 10 cases."""
    draw = np.random.default_rng(5)
    delay = 6.0 / 0.8862269254527580 * draw.weibull(2.0, 500_000)
    begin, missed = draw.uniform(0, 4.0, delay.size), np.ones(delay.size, dtype=bool)
    for k in range(8):
        age = begin + 4.0 * k
        clear = np.clip((age / delay - 0.15) / 0.35, 0, 1)
        seen = 0.7 * (clear + (1 - clear) * 0.6 * (age / delay >= 0.15))
        missed &= ~((draw.random(delay.size) < seen) & (age <= delay - 0.5))
    found = caught_shares(
        np.array([6.0]), np.array([0.7]), lead_months=np.array([0.5]), intervals_months=np.array([4.0])
    )
    assert found[0, 0] == pytest.approx(1 - missed.mean(), abs=0.01)
