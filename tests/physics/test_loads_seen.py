"""Common load learned from visits, and unequal currents."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.physics.load import over_like_parts_at_common_load, to_common_load
from service.physics.loads_seen import common_load_seen
from service.physics.refusals import Refusal
from service.physics.rise import over_like_parts

NAN = float("nan")
CURRENTS = st.lists(st.floats(10.0, 25.0), min_size=5, max_size=12)


@settings(max_examples=40)
@given(CURRENTS)
def test_it_is_the_high_quantile_of_the_currents_seen(currents: list[float]) -> None:
    found = common_load_seen(currents)
    assert found.current_a == pytest.approx(np.quantile(currents, 0.9))
    assert found.visits == len(currents)
    assert found.current_a <= found.highest_a == max(currents)


@settings(max_examples=40)
@given(CURRENTS, st.floats(100.0, 1e4))
def test_a_lost_decimal_mark_changes_nothing(currents: list[float], slip: float) -> None:
    assert common_load_seen([*currents, slip]) == common_load_seen([*currents, NAN])


def test_few_visits_give_no_common_load_and_say_how_many() -> None:
    found = common_load_seen([[50.0, 60.0, NAN, 0.0, -5.0], [50.0, 60.0, 55.0, 58.0, 61.0]])
    assert np.isnan(found.current_a[0])
    assert found.refusal.tolist() == [Refusal.TOO_FEW_VISITS, Refusal.NONE]
    assert found.visits.tolist() == [2, 5]
    assert found.highest_a.tolist() == [60.0, 61.0]


@pytest.mark.parametrize("visits", [[], [NAN], [NAN] * 6])
def test_a_circuit_never_measured_has_none(visits: list[float]) -> None:
    found = common_load_seen(np.array(visits, dtype=float))
    assert np.isnan(found.current_a)
    assert np.isnan(found.highest_a)
    assert found.visits == 0


def test_one_part_that_cannot_be_scaled_does_not_take_the_others_along() -> None:
    found = over_like_parts_at_common_load([30.0, 20.0, 5.0], [80.0, 80.0, 30.0], common_load_a=100.0)
    assert found.refusal.tolist() == [Refusal.NONE, Refusal.NONE, Refusal.LOW_LOAD]
    assert found.value[:2] == pytest.approx([10.0 * 1.25**1.8, 0.0])


def test_alone_with_a_known_current_there_is_nothing_to_compare() -> None:
    found = over_like_parts_at_common_load([30.0, 20.0], [80.0, NAN], common_load_a=100.0)
    assert found.refusal.tolist() == [Refusal.NO_LIKE_PART, Refusal.NO_CURRENT]


@settings(max_examples=40)
@given(st.lists(st.floats(5.0, 60.0), min_size=2, max_size=5), st.floats(40.0, 120.0))
def test_with_equal_currents_both_ways_of_scaling_agree(rises: list[float], amps: float) -> None:
    own = over_like_parts_at_common_load(rises, amps, common_load_a=100.0).value
    shared = to_common_load(over_like_parts(rises).value, amps, common_load_a=100.0).rise_k
    assert own == pytest.approx(shared, abs=1e-9)
