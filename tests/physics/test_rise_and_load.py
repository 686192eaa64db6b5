"""Rises and load scaling: what is given, and what is refused with its reason."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.physics.load import current_for_rise, share_of_rated_rise, to_common_load
from service.physics.refusals import Refusal
from service.physics.rise import over_air, over_like_parts, relative_difference
from tests.domain.views import judged, phases

ALIKE = st.lists(st.floats(0.0, 2.9), min_size=2, max_size=6)
READINGS = st.lists(st.floats(20.0, 120.0).map(lambda t: round(t, 1)), min_size=2, max_size=6)


def test_the_neighbours_of_a_cold_part_are_not_hot() -> None:
    assert over_like_parts([30.0, 30.0, 15.0]).value.tolist() == [0.0, 0.0, -15.0]


def test_of_two_the_cooler_is_the_reference() -> None:
    assert over_like_parts([30.0, 42.0]).value.tolist() == [0.0, 12.0]


def test_only_like_currents_enter_the_median() -> None:
    found = over_like_parts([30.0, 40.0, 50.0], current_a=[100.0, 60.0, 105.0])
    assert found.value.tolist() == pytest.approx([0.0, np.nan, 20.0], nan_ok=True)
    assert found.refusal.tolist() == [Refusal.NONE, Refusal.NO_LIKE_PART, Refusal.NONE]


def test_an_unread_part_is_no_reference() -> None:
    found = over_like_parts([[30.0, np.nan, 36.0], [np.nan, np.nan, 30.0]])
    assert found.value[0].tolist() == pytest.approx([0.0, np.nan, 6.0], nan_ok=True)
    assert found.refusal[1].tolist() == [Refusal.NO_NUMBER, Refusal.NO_NUMBER, Refusal.NO_LIKE_PART]


@given(READINGS, st.floats(-20.0, 20.0))
def test_rise_over_the_median_does_not_change_when_the_camera_is_off(
    readings: list[float], offset_k: float
) -> None:
    found = over_like_parts(readings).value
    shifted = over_like_parts([t + offset_k for t in readings]).value
    assert shifted == pytest.approx(found, abs=1e-9)


def test_one_wild_reading_among_four_does_not_move_the_others() -> None:
    assert over_like_parts([30.0, 30.0, 30.0, 900.0]).value.tolist() == [0.0, 0.0, 0.0, 870.0]


@given(ALIKE, st.floats(0.0, 60.0))
def test_the_judge_and_the_array_function_take_the_same_rise(offsets: list[float], hotter_k: float) -> None:
    readings = [40.0 + offset for offset in offsets]
    readings[0] += hotter_k
    arrays = over_like_parts(readings).value
    assert [v.value_k for v in judged(phases(*readings))] == pytest.approx(arrays, abs=1e-5)


def test_low_load_is_not_scaled() -> None:
    found = to_common_load([12.0, 12.0], [39.9, 40.0], common_load_a=100.0)
    assert np.isnan(found.rise_k[0])
    assert found.refusal.tolist() == [Refusal.LOW_LOAD, Refusal.NONE]


def test_a_missing_current_is_not_scaled() -> None:
    found = to_common_load([12.0, 12.0, np.nan], [np.nan, 80.0, 80.0], common_load_a=[100.0, 0.0, 100.0])
    assert np.isnan(found.rise_k).all()
    assert found.refusal.tolist() == [Refusal.NO_CURRENT, Refusal.NO_CURRENT, Refusal.NO_NUMBER]


@given(st.floats(0.4, 2.0), st.floats(-20.0, 80.0))
def test_the_band_of_the_exponent_holds_the_scaled_rise(share: float, rise_k: float) -> None:
    found = to_common_load(rise_k, 100.0 * share, common_load_a=100.0)
    assert found.low_k - 1e-9 <= found.rise_k <= found.high_k + 1e-9


def test_share_of_rated_rise_needs_current_rating_and_rated_rise() -> None:
    found = share_of_rated_rise(
        [20.0, 20.0, 20.0, np.nan],
        [60.0, 0.0, 60.0, 60.0],
        rated_current_a=[100.0, 100.0, 100.0, 100.0],
        rated_rise_k=[50.0, 50.0, 0.0, 50.0],
    )
    assert np.isnan(found.value[1:]).all()
    assert found.refusal.tolist() == [
        Refusal.NONE,
        Refusal.NO_CURRENT,
        Refusal.NO_NUMBER,
        Refusal.NO_NUMBER,
    ]


def test_relative_difference_needs_a_rise_of_ten_kelvin() -> None:
    found = relative_difference([34.0, 35.0, 60.0], [30.0, 30.0, np.nan], air_c=25.0)
    assert found.refusal.tolist() == [Refusal.TOO_COOL, Refusal.NONE, Refusal.NO_NUMBER]
    assert np.isnan(found.value[[0, 2]]).all()


@pytest.mark.parametrize("temperature_c", [float("nan"), float("inf"), -273.0, 2500.0])
def test_no_surface_is_that_hot_or_cold(temperature_c: float) -> None:
    assert over_air(temperature_c, 20.0).refusal == Refusal.NO_NUMBER


def test_a_current_for_no_rise_is_refused() -> None:
    assert np.isnan(
        current_for_rise([100.0, 0.0, 100.0], [0.0, 10.0, 10.0], wanted_rise_k=[5.0, 5.0, -1.0])
    ).all()
