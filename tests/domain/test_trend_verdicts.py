"""Which verdicts are kept, and what is said to have changed them."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from service.domain.trend_verdicts import Cause, KeptVerdict, causes, worth_keeping
from service.domain.words import Trend

RISING = KeptVerdict(
    told_at=datetime(2026, 11, 25, 9, tzinfo=UTC),
    trend=Trend.RISING,
    slope_k_month=0.52,
    slope_low=0.41,
    slope_high=0.63,
    visits=12,
    fitted=6,
    risen_k=3.1,
    onset_on=date(2026, 5, 4),
    chance_6=0.12,
    chance_12=0.38,
    crossing_from=date(2027, 3, 2),
    crossing_to=date(2029, 5, 6),
    method="shape-bank/1",
    criteria_id=1,
    episode=0,
    newest_on=date(2026, 11, 20),
    round_id=7,
)
STEADY = replace(
    RISING, trend=Trend.STEADY, risen_k=None, onset_on=None, chance_6=None, chance_12=None,
    crossing_from=None, crossing_to=None,
)  # fmt: skip


@pytest.mark.parametrize(
    "change",
    [
        {"trend": Trend.RISING_FASTER},
        {"slope_k_month": 0.61},
        {"risen_k": 3.4},
        {"chance_12": 0.41},
        {"chance_12": None},
        {"crossing_from": date(2027, 4, 2)},
        {"crossing_to": None},
        {"method": "shape-bank/2"},
        {"criteria_id": 2},
    ],
    ids=str,
)
def test_whatever_the_page_says_otherwise_is_kept(change):
    assert worth_keeping(RISING, replace(RISING, **change))


@pytest.mark.parametrize(
    "change",
    [
        {"told_at": datetime(2026, 12, 25, 9, tzinfo=UTC)},
        {"slope_k_month": 0.5204},
        {"chance_12": 0.3801},
        {"crossing_from": date(2027, 3, 9)},
        {"newest_on": date(2026, 12, 20), "round_id": 8},
    ],
    ids=str,
)
def test_what_prints_the_same_is_not_kept_again(change):
    assert not worth_keeping(RISING, replace(RISING, **change))


def test_the_speed_of_a_trend_without_direction_is_not_said_and_not_kept():
    assert not worth_keeping(STEADY, replace(STEADY, slope_k_month=0.02, visits=13))
    assert worth_keeping(STEADY, RISING)


def test_of_a_point_of_which_nothing_could_be_said_yet_nothing_is_kept():
    few = replace(STEADY, trend=Trend.TOO_FEW_VISITS)
    assert not worth_keeping(None, few)
    assert worth_keeping(None, STEADY)
    assert worth_keeping(RISING, few)


@pytest.mark.parametrize(
    ("change", "cause"),
    [
        ({"method": "shape-bank/2"}, Cause.METHOD),
        ({"criteria_id": 2}, Cause.CRITERIA),
        ({"episode": 1}, Cause.CUT),
        ({"newest_on": date(2026, 12, 20)}, Cause.VISIT),
        ({"slope_k_month": 0.7}, Cause.REVISED),
        ({"newest_on": date(2026, 10, 20)}, Cause.REVISED),
    ],
    ids=str,
)
def test_each_cause_is_told_by_what_differs(change, cause):
    assert causes(RISING, replace(RISING, **change)) == (cause,)


def test_several_causes_are_all_told_and_the_first_verdict_has_none():
    both = replace(RISING, criteria_id=2, newest_on=date(2026, 12, 20))
    assert causes(RISING, both) == (Cause.CRITERIA, Cause.VISIT)
    assert causes(None, RISING) == ()
