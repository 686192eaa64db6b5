"""What healthy and rising fleets are called through the engine's door, on seeds not used for thresholds."""

import numpy as np
import pytest

from service.trends.engine import assess
from service.trends.policy import OVER_LIKE_PARTS
from service.trends.words import EASING, FIRST_SIGN, HAS_RISEN, RISING, RISING_FASTER, STEPPED_UP, WORDS
from tests.trends.fleets import Fleet, like_parts

STANDS = (6, 8, 12, 20, 30, 45, 60)
CONFIRMED = [WORDS.index(word) for word in (HAS_RISEN, RISING, RISING_FASTER, STEPPED_UP)]


def share(fleet: Fleet, *words: int) -> float:
    """Share of the fleet at some words, mean over moments of its life."""
    found = [assess(fleet.until(n), OVER_LIKE_PARTS).word_index for n in STANDS]
    return float(np.mean([np.isin(at, words).mean() for at in found]))


@pytest.mark.parametrize("months", [1, 3, 6, 12])
def test_at_most_two_in_a_hundred_healthy_like_parts_stand_at_a_rise(months):
    """A false step stays until readings contradict it: about one flag per 100 points a year adds up."""
    fleet = like_parts(500 + months, views=350, visits=60, months=months)
    assert share(fleet, *CONFIRMED) <= 0.02
    assert share(fleet, WORDS.index(FIRST_SIGN)) <= 0.015
    assert share(fleet, WORDS.index(EASING)) <= 0.003


def test_low_load_visits_let_in_by_mistake_do_not_flood_the_list():
    fleet = like_parts(511, views=350, visits=60, least_load=0.0)
    assert share(fleet, *CONFIRMED) <= 0.025


def test_three_times_the_stated_scatter_would_break_the_promise():
    noisy = like_parts(512, views=350, visits=60, scatter_k=1.5)
    assert share(noisy, *CONFIRMED) > 0.04


def test_a_riser_of_nine_tenths_kelvin_a_month_is_confirmed_at_about_the_sixth_visit():
    """Counted in visits planned since the rise began, missed and low-load ones included."""
    onset, after = 12, 14
    fleet = like_parts(513, views=350, visits=onset + after, growth_k_per_month=0.9, onset=onset)
    seen = np.full(350, after + 1)
    for visits in range(after, 0, -1):
        word = assess(fleet.until(onset + visits), OVER_LIKE_PARTS).word_index[::3]
        seen[np.isin(word, CONFIRMED)] = visits
    assert np.median(seen) <= 7
    assert np.mean(seen <= 12) >= 0.97
