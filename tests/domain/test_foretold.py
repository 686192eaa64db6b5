"""Worse than foretold: the fan between its steps, and points that were to stay."""

from datetime import date

import pytest

from service.domain.foretold import OF_FAN, OF_STEADY, Foretold, foretold_from_dict, worse_than
from service.domain.trending import FanStep
from service.domain.words import Trend

FAN = Foretold(
    Trend.RISING,
    (
        FanStep(date(2026, 11, 1), 4.0, 4.5, 5.0, 5.5, 6.0),
        FanStep(date(2026, 12, 1), 5.0, 5.5, 7.0, 8.0, 10.0),
    ),
)
STAYS = Foretold(Trend.STEADY, (), 2.0, 0.3)


@pytest.mark.parametrize(
    ("foretold", "on", "u_k", "most_k"),
    [
        # worked by hand: on a step, 5 + sqrt(1² + (1.6449 x 0.5)²)
        (FAN, date(2026, 11, 1), 0.5, 5 + (1 + (OF_FAN * 0.5) ** 2) ** 0.5),
        # half way: middle 6, upper end 8
        (FAN, date(2026, 11, 16), 0.5, 6 + (4 + (OF_FAN * 0.5) ** 2) ** 0.5),
        # a point that was to stay: 2 + 2.3263 x sqrt(0.3² + 0.4²) = 2 + 2.3263 x 0.5
        (STAYS, date(2027, 3, 1), 0.4, 2 + OF_STEADY * 0.5),
    ],
)
def test_the_most_that_was_foretold_is_where_the_hand_finds_it(
    foretold: Foretold, on: date, u_k: float, most_k: float
) -> None:
    assert worse_than(foretold, most_k - 1e-9, u_k, on=on) is None
    worse = worse_than(foretold, most_k + 0.5, u_k, on=on)
    assert worse is not None
    assert worse.most_k == pytest.approx(most_k)
    assert worse.above_k == pytest.approx(0.5)


@pytest.mark.parametrize("on", [date(2026, 10, 31), date(2026, 12, 2)])
def test_outside_its_fan_nothing_was_foretold(on: date) -> None:
    assert worse_than(FAN, 90.0, 0.5, on=on) is None


def test_a_reading_without_its_uncertainty_is_not_held_against_it() -> None:
    assert worse_than(STAYS, 90.0, None, on=date(2026, 12, 1)) is None


def test_a_cooler_reading_is_never_told() -> None:
    assert worse_than(FAN, -3.0, 0.5, on=date(2026, 11, 16)) is None


@pytest.mark.parametrize("foretold", [FAN, STAYS])
def test_what_is_kept_comes_back_the_same(foretold: Foretold) -> None:
    assert foretold_from_dict(foretold.to_dict()) == foretold
