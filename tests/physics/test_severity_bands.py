"""Chances of bands: they sum to one, move the right way, and refuse what they cannot say."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.presets import AIR, SIMILAR
from service.physics.refusals import Refusal
from service.physics.severity import band_chances, band_chances_lognormal, band_chances_of_trials

EDGES = [1.0, 3.0, 15.0]
CLOSES_UP = [True, False, False]
NAN = float("nan")
RISES = st.floats(-50.0, 150.0)
UNCERTAINTIES = st.floats(0.01, 20.0)


@settings(max_examples=40)
@given(RISES, UNCERTAINTIES)
def test_chances_sum_to_one(value: float, u: float) -> None:
    found = band_chances(value, u, edges=EDGES)
    assert found.chance.sum() == pytest.approx(1.0, abs=1e-12)
    assert (found.chance >= 0).all()


@settings(max_examples=40)
@given(RISES, st.floats(0.0, 10.0), UNCERTAINTIES)
def test_a_hotter_part_is_never_less_likely_over_a_line(value: float, hotter: float, u: float) -> None:
    cool, warm = band_chances([value, value + hotter], u, edges=EDGES).chance
    for band in (1, 2, 3):
        assert warm[band:].sum() >= cool[band:].sum() - 1e-12


@settings(max_examples=40)
@given(RISES.map(lambda v: round(v, 2)), st.sampled_from([SIMILAR, AIR]))
def test_the_band_of_a_value_is_that_of_the_published_column(value: float, column) -> None:
    edges, closes_up = zip(*column.steps, strict=True)
    found = band_chances([value, *edges], 1.0, edges=edges, closes_up=closes_up)
    assert found.band.tolist() == [column.place(v) for v in (value, *edges)]


def test_without_uncertainty_the_band_of_the_value_is_certain_edges_and_all() -> None:
    found = band_chances([1.0, 3.0, 15.0, 15.1], 0.0, edges=EDGES, closes_up=CLOSES_UP)
    assert found.chance.argmax(axis=-1).tolist() == [1, 1, 2, 3]
    assert found.chance.max(axis=-1).tolist() == [1.0] * 4
    assert found.firm.all()


def test_what_is_missing_is_refused_and_never_firm() -> None:
    found = band_chances([NAN, 5.0, 5.0], [1.0, NAN, -1.0], edges=EDGES)
    assert found.refusal.tolist() == [Refusal.NO_NUMBER, Refusal.NO_UNCERTAINTY, Refusal.NO_UNCERTAINTY]
    assert np.isnan(found.chance).all()
    assert found.band.tolist() == found.neighbour.tolist() == [-1, -1, -1]
    assert not found.firm.any()
    assert not found.may_be_higher.any()
    assert not found.may_fall_below(0).any()


def test_a_reading_between_two_bands_names_both() -> None:
    found = band_chances([14.0, 3.4], [0.87, 0.82], edges=EDGES)
    assert found.band.tolist() == [2, 2]
    assert found.neighbour.tolist() == [3, 1]
    assert found.firm.tolist() == [False, False]
    assert found.may_be_higher.tolist() == [True, False]


def test_edges_may_differ_from_row_to_row() -> None:
    found = band_chances([14.0, 14.0], 0.87, edges=[[1.0, 3.0, 15.0], [10.0, 20.0, 40.0]])
    assert found.band.tolist() == [2, 1]


@settings(max_examples=40)
@given(st.floats(0.5, 100.0), st.floats(0.001, 0.02))
def test_for_a_small_uncertainty_both_laws_say_the_same(value: float, relative: float) -> None:
    one = band_chances(value, relative * value, edges=EDGES)
    other = band_chances_lognormal(value, relative * value, edges=EDGES)
    assert other.chance == pytest.approx(one.chance, abs=0.01)
    assert other.band == one.band


def test_a_scaled_rise_below_nothing_or_too_uncertain_is_refused() -> None:
    found = band_chances_lognormal([-1.0, 0.0, 10.0, 10.0], [0.1, 0.1, 3.1, 3.0], edges=EDGES)
    assert found.refusal.tolist() == [
        Refusal.OUT_OF_RANGE,
        Refusal.OUT_OF_RANGE,
        Refusal.TOO_WIDE,
        Refusal.NONE,
    ]


def test_shares_of_trials_come_near_the_closed_chances() -> None:
    trials = np.random.default_rng(5).normal(14.0, 0.87, 40_000)
    found = band_chances_of_trials(trials, 14.0, edges=EDGES, closes_up=CLOSES_UP)
    assert found.chance == pytest.approx(band_chances(14.0, 0.87, edges=EDGES).chance, abs=0.006)
    assert found.band == 2


def test_no_trials_give_no_chances() -> None:
    found = band_chances_of_trials([NAN], 14.0, edges=EDGES)
    assert found.refusal == Refusal.NO_NUMBER
    assert np.isnan(found.chance).all()
