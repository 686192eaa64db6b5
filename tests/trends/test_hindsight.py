"""A look back tells what would have been told, by what was known then, and when it ended."""

from dataclasses import replace

import numpy as np
import pytest

from service.trends.engine import assess
from service.trends.hindsight import look_back
from service.trends.policy import DAYS_PER_MONTH, OVER_AIR, OVER_LIKE_PARTS
from service.trends.words import WORDS
from tests.trends.fleets import block_of, like_parts

MONTHLY = np.arange(40) * DAYS_PER_MONTH
RISES = [0, 0.2, -0.1, 0.1, 0, 0.2, 2, 4, 6, 8.0]


def rates(looks, shifts):
    """Flags per 100 points a year by how much higher every line had been; NaN where nobody watched."""
    years = sum(look.watched_years for look in looks)
    counts = [sum(len(look.flags(shift).series) for look in looks) for shift in shifts]
    return np.array(counts) / years * 100 if years > 0 else np.full(len(shifts), np.nan)


def block(rises, *, episode=None, u_k=0.5):
    return block_of(MONTHLY[: len(rises)], np.array([rises], dtype=float), episode=episode, u_k=u_k)


def test_a_flag_begins_at_the_visit_that_first_told_it():
    flags = look_back(block(RISES), OVER_LIKE_PARTS).flags()
    assert flags.series.tolist() == [0]
    assert flags.first_day[0] in MONTHLY[6:8]
    assert flags.confirmed_day[0] in MONTHLY[7:9]
    assert np.isnan(flags.ended_day[0])
    assert not flags.cut[0]


def test_what_comes_later_changes_nothing_of_what_was_told():
    whole = look_back(block([*RISES, 0, 0, 0, 0]), OVER_LIKE_PARTS).flags()
    until = look_back(block(RISES), OVER_LIKE_PARTS).flags()
    assert whole.first_day[0] == until.first_day[0]
    assert whole.confirmed_day[0] == until.confirmed_day[0]
    assert whole.ended_day[0] > MONTHLY[9]


def test_a_flag_that_a_repair_ended_says_so_and_ends_with_the_next_visit():
    episode = np.array([[0] * 10 + [1] * 5])
    flags = look_back(block([*RISES, *[0.1] * 5], episode=episode), OVER_LIKE_PARTS).flags()
    assert flags.cut.tolist() == [True]
    assert flags.ended_day[0] == MONTHLY[10]


def test_stricter_lines_never_flag_more():
    fleet = like_parts(31, views=120, visits=40)
    look = look_back(fleet.until(40), OVER_LIKE_PARTS)
    counts = rates([look], (-1.0, 0.0, 1.0, 3.0))
    assert counts[0] > counts[2]
    assert list(counts) == sorted(counts, reverse=True)


def test_the_last_visit_of_a_look_back_is_what_the_engine_says_today():
    fleet = like_parts(32, views=84, visits=30)
    now = assess(fleet.until(30), OVER_LIKE_PARTS)
    flags = look_back(fleet.until(30), OVER_LIKE_PARTS).flags()
    standing = set(flags.series[np.isnan(flags.ended_day)].tolist())
    told = {
        k
        for k, word in enumerate(now.word_index)
        if WORDS.index("first sign") <= word <= WORDS.index("stepped up")
    }
    assert len(standing ^ told) <= 0.2 * max(len(standing | told), 5)


def test_the_range_that_was_told_is_that_of_the_visits_until_then():
    with_line = replace(block(RISES), line_k=np.array([15.0]))
    look = look_back(with_line, OVER_LIKE_PARTS)
    day = float(look.flags().confirmed_day[0])
    told = look.forecast(0, day)
    assert told is not None
    assert day < told[0] < told[1]
    assert look.forecast(0, day + 1) is None
    assert look_back(block(RISES), OVER_LIKE_PARTS).forecast(0, day) is None


def test_nobody_who_was_never_read_twice_counts_as_watched():
    look = look_back(block([1.0]), OVER_AIR)
    assert look.watched_years == 0
    assert np.isnan(rates([look], (0.0,))).all()
    assert look.flags().series.size == 0


@pytest.mark.parametrize("order", [[0, 1, 2], [2, 0, 1]])
def test_the_order_of_points_changes_nothing(order):
    series = np.array([RISES, [0.1] * 10, [0.3, *RISES[1:]]])[order]
    found = look_back(block_of(MONTHLY[:10], series, u_k=0.5), OVER_LIKE_PARTS).flags()
    assert sorted(order[k] for k in found.series) == [0, 2]
