"""Rounding to two significant digits of the uncertainty."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.physics.significant import decimal_places, significant

UNCERTAINTIES = st.floats(1e-6, 1e6)
VALUES = st.floats(-1e6, 1e6)


@pytest.mark.parametrize(
    ("value", "u", "printed", "u_printed"),
    [
        (15.6393, 0.8691, "15.64", "0.87"),
        (36.605, 1.686, "36.6", "1.7"),
        (91.807, 7.442, "91.8", "7.4"),
        (94.343, 8.358, "94.3", "8.4"),
        (50_000_838.0, 31.664, "50000838", "32"),
        (1234.5, 1234.0, "1200", "1200"),
        (5.0, 9.96, "5", "10"),
        (5.0, 0.0995, "5.00", "0.10"),
        (-0.04, 1.2, "0.0", "1.2"),
        (2.25, 1.5, "2.3", "1.5"),
        (-2.25, 1.5, "-2.3", "1.5"),
    ],
)
def test_both_stand_to_the_same_place(value: float, u: float, printed: str, u_printed: str) -> None:
    rounded = significant(value, u)
    assert rounded is not None
    assert (f"{rounded.value:f}", f"{rounded.uncertainty:f}") == (printed, u_printed)


@pytest.mark.parametrize(
    ("value", "u"), [(float("nan"), 1.0), (1.0, float("nan")), (1.0, 0.0), (1.0, -1.0), (float("inf"), 1.0)]
)
def test_nothing_is_printed_without_a_value_and_an_uncertainty(value: float, u: float) -> None:
    assert significant(value, u) is None


def test_a_thermometer_is_not_quoted_to_a_hundredth() -> None:
    rounded = significant(15.6393, 0.8691, most_decimals=1)
    assert rounded == (Decimal("15.6"), Decimal("0.9"), 1)
    assert significant(15.6393, 0.0123, most_decimals=1) == (Decimal("15.6"), Decimal("0.1"), 1)


@settings(max_examples=40)
@given(VALUES, UNCERTAINTIES)
def test_rounding_moves_neither_by_more_than_half_a_unit_of_the_last_place(value: float, u: float) -> None:
    rounded = significant(value, u)
    assert rounded is not None
    half = Decimal(5).scaleb(-rounded.decimals - 1)
    assert abs(rounded.value - Decimal(repr(value))) <= half
    assert abs(rounded.uncertainty - Decimal(repr(u))) <= half
    assert len(rounded.uncertainty.as_tuple().digits) == 2


@settings(max_examples=40)
@given(st.lists(UNCERTAINTIES, min_size=1, max_size=8))
def test_arrays_choose_the_same_place(uncertainties: list[float]) -> None:
    one_by_one = [significant(0.0, u) for u in uncertainties]
    assert decimal_places(uncertainties).tolist() == [r.decimals for r in one_by_one if r is not None]


def test_without_an_uncertainty_no_place_is_chosen() -> None:
    assert decimal_places([np.nan, 0.0, -1.0]).tolist() == [0, 0, 0]
