"""The measured rates that the engine's docstring states, on seeds not used to choose thresholds."""

import numpy as np
import pytest

from service.trends.engine import assess
from service.trends.policy import OVER_LIKE_PARTS
from service.trends.words import EASING, RISING, WORDS
from tests.trends.fleets import Fleet, like_parts

STANDS = (6, 8, 12, 20, 30, 45, 60)


def share(fleet: Fleet, word: str) -> float:
    """Share of the fleet at a word, mean over moments of its life."""
    at = WORDS.index(word)
    return float(np.mean([np.mean(assess(fleet.until(n), OVER_LIKE_PARTS).word_index == at) for n in STANDS]))


@pytest.mark.parametrize("months", [1, 3, 6, 12])
def test_at_most_seven_in_a_thousand_healthy_like_parts_stand_at_rising(months):
    fleet = like_parts(500 + months, views=1000, visits=60, months=months)
    assert share(fleet, RISING) <= 0.007
    assert share(fleet, EASING) <= 0.002


def test_low_load_visits_let_in_by_mistake_do_not_flood_the_list():
    fleet = like_parts(511, views=1500, visits=60, least_load=0.0)
    assert share(fleet, RISING) <= 0.008


def test_three_times_the_scatter_would_break_the_promise():
    noisy = like_parts(512, views=1000, visits=60, scatter_k=1.5)
    assert share(noisy, RISING) > 0.012


def test_a_riser_of_nine_tenths_kelvin_a_month_is_seen_at_about_the_sixth_visit():
    """Counted in visits planned since the rise began, missed and low-load ones included."""
    onset, after = 12, 14
    fleet = like_parts(513, views=500, visits=onset + after, growth_k_per_month=0.9, onset=onset)
    rising = WORDS.index(RISING)
    seen = np.full(500, after + 1)
    for visits in range(after, 0, -1):
        called = assess(fleet.until(onset + visits), OVER_LIKE_PARTS).word_index == rising
        seen[called] = visits
    assert np.median(seen) <= 7
    assert np.mean(seen <= 12) >= 0.97
