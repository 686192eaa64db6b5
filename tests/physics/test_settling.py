"""Settling: what is accepted, what is refused, and that an allowance only ever adds."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.physics.refusals import Refusal
from service.physics.settling import (
    Settling,
    settled_share,
    settling_state,
    steady_rise,
    with_settling_allowance,
)

NAN = float("nan")
MINUTES = st.floats(0.0, 1e5)
TAU = st.floats(0.1, 1e4)


@settings(max_examples=40)
@given(MINUTES, MINUTES, TAU)
def test_more_time_settles_more(one: float, other: float, tau: float) -> None:
    early, late = sorted((one, other))
    assert settled_share(early, tau) <= settled_share(late, tau)
    assert settling_state(early, tau) <= settling_state(late, tau)


@settings(max_examples=40)
@given(MINUTES, TAU)
def test_an_accepted_rise_with_its_allowance_is_never_below_the_steady_one(
    minutes: float, tau: float
) -> None:
    state = settling_state(minutes, tau)
    measured = 20.0 * settled_share(minutes, tau)
    most = with_settling_allowance(measured, state)
    if state == Settling.ACCEPTED:
        assert most.value >= 20.0 - 1e-6
    elif state == Settling.NOT_SETTLED:
        assert np.isnan(most.value)
        assert most.refusal == Refusal.NOT_SETTLED


@pytest.mark.parametrize(("minutes", "tau"), [(NAN, 30.0), (60.0, NAN), (-1.0, 30.0), (60.0, 0.0)])
def test_what_is_not_known_is_not_settled_and_not_unsettled(minutes: float, tau: float) -> None:
    assert settling_state(minutes, tau) == Settling.UNKNOWN
    assert np.isnan(settled_share(minutes, tau))
    assert with_settling_allowance(10.0, Settling.UNKNOWN).refusal == Refusal.NOT_SETTLED


def test_a_negative_rise_gets_no_allowance() -> None:
    assert with_settling_allowance(-4.0, Settling.ACCEPTED).value == -4.0


def test_a_steady_rise_is_not_estimated_before_two_time_constants() -> None:
    found = steady_rise(
        [20.0, 20.0, NAN, 20.0],
        [5.0, 5.0, 5.0, NAN],
        minutes_at_load=[19.9, 20.0, 40.0, 40.0],
        time_constant_min=10.0,
    )
    assert found.refusal.tolist() == [
        Refusal.NOT_SETTLED,
        Refusal.NONE,
        Refusal.NO_NUMBER,
        Refusal.NO_NUMBER,
    ]
    assert np.isnan(found.value[[0, 2, 3]]).all()


@settings(max_examples=40)
@given(st.floats(0.0, 60.0), st.floats(0.0, 60.0), st.floats(2.0, 8.0))
def test_the_estimate_undoes_the_step_response(start: float, steady: float, constants: float) -> None:
    read = steady + (start - steady) * np.exp(-constants)
    found = steady_rise(read, start, minutes_at_load=10 * constants, time_constant_min=10.0)
    assert found.value == pytest.approx(steady, abs=1e-9)
