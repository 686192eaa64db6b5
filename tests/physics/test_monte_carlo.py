"""Trials: seeded, in blocks, in agreement with the closed form, cut where physics cuts."""

import numpy as np
import pytest

from service.physics import monte_carlo
from service.physics.assumptions import Assumptions
from service.physics.budget_terms import over_air_terms, surface_terms
from service.physics.compared_uncertainty import over_like_parts
from service.physics.coverage import interval_95
from service.physics.monte_carlo import (
    Load,
    Propagated,
    propagate_over_air,
    propagate_over_like_parts,
    summary_of_trials,
    validate,
)
from service.physics.optics import Optics
from service.physics.severity import band_chances, band_chances_of_trials
from service.physics.uncertainty import Budget, at_common_load, budget_of

GIVEN = Assumptions()
TRIALS = 30_000
DULL = Optics(0.8, 25.0)


def trials_over_air(optics: Optics = DULL, **changed: object) -> Propagated:
    asked = {"ambient_c": 25.0, "assumptions": GIVEN, "trials": TRIALS} | changed
    return propagate_over_air(60.0, optics, **asked)


def closed_over_air(optics: Optics = DULL, assumptions: Assumptions = GIVEN) -> Budget:
    return budget_of(over_air_terms(60.0, optics, ambient_c=25.0, assumptions=assumptions))


def test_the_same_seed_gives_the_same_trials_and_another_others() -> None:
    one, again, other = trials_over_air(), trials_over_air(), trials_over_air(seed=7)
    assert (one.trials == again.trials).all()
    assert not (one.trials == other.trials).any()
    assert other.sd == pytest.approx(one.sd, rel=0.02)


def test_more_trials_than_a_block_are_all_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(monte_carlo, "BLOCK", 700)
    assert trials_over_air(trials=1_500).trials.size == 1_500


@pytest.mark.parametrize("emissivity", [0.9, 0.7, 0.5])
def test_the_closed_form_agrees_with_the_trials_over_air(emissivity: float) -> None:
    closed, found = closed_over_air(Optics(emissivity, 25.0)), trials_over_air(Optics(emissivity, 25.0))
    assert found.mean == pytest.approx(float(closed.value), abs=0.15 * float(closed.u))
    assert found.sd == pytest.approx(float(closed.u), rel=0.02)


@pytest.mark.parametrize("r", [0.0, 0.5, 0.9, 1.0])
@pytest.mark.parametrize("apparent", [(60.0, 45.0), (60.0, 47.0, 45.0), (60.0, 50.0, 45.0, 40.0)])
def test_the_closed_form_agrees_with_the_trials_over_like_parts(
    apparent: tuple[float, ...], r: float
) -> None:
    given = Assumptions(camera_correlation=r, emissivity_correlation=r)
    closed = over_like_parts(surface_terms(apparent, DULL, assumptions=given), assumptions=given)
    found = propagate_over_like_parts(apparent, DULL, assumptions=given, trials=TRIALS)
    assert found.mean == pytest.approx(closed.value[0], abs=0.25 * closed.u[0])
    # parts 2 K apart may change places by chance, which makes the median a little steadier
    assert 0.9 * closed.u[0] < found.sd < 1.02 * closed.u[0]


def test_a_part_in_the_middle_scatters_less_than_its_budget_says() -> None:
    apparent = [60.0, 60.0, 60.0]
    closed = over_like_parts(surface_terms(apparent, DULL, assumptions=GIVEN), assumptions=GIVEN)
    found = propagate_over_like_parts(apparent, DULL, assumptions=GIVEN, trials=TRIALS)
    assert 0 < found.sd < closed.u[0]


def test_a_scaled_rise_has_the_interval_of_the_log_normal_form() -> None:
    scaled = at_common_load(closed_over_air(), 60.0, common_load_a=100.0, assumptions=GIVEN)
    closed, found = interval_95(scaled), trials_over_air(load=Load(60.0, 100.0))
    assert (found.low, found.high) == pytest.approx((closed.low, closed.high), rel=0.015)
    assert found.shortest_high - found.shortest_low <= found.high - found.low


def test_emissivity_and_transmission_do_not_pass_one() -> None:
    black = trials_over_air(Optics(1.0, 25.0, transmission=1.0))
    assert black.refused == 0.0
    assert black.mean > float(closed_over_air(Optics(1.0, 25.0)).value)


def test_trials_without_a_solution_are_counted() -> None:
    found = propagate_over_air(
        10.0,
        Optics(0.15, 25.0),
        ambient_c=5.0,
        assumptions=Assumptions(reflected_half_width_k=40.0),
        trials=TRIALS,
    )
    assert 0.05 < found.refused < 0.95
    assert found.trials.size == pytest.approx((1 - found.refused) * TRIALS)


def test_a_reading_that_cannot_be_has_no_trials() -> None:
    found = propagate_over_air(10.0, Optics(0.1, 60.0), ambient_c=5.0, assumptions=GIVEN, trials=500)
    assert found.refused == 1.0
    assert np.isnan([found.mean, found.sd, found.low, found.shortest_high]).all()


def test_a_window_scatters_as_its_budget_says() -> None:
    behind = Optics(
        0.95,
        25.0,
        window=True,
        window_transmission=0.7,
        window_c=30.0,
        window_reflection=0.05,
        window_reflected_c=25.0,
    )
    assert trials_over_air(behind).sd == pytest.approx(float(closed_over_air(behind).u), rel=0.02)


def test_an_unknown_waveband_scatters_as_its_budget_says() -> None:
    unknown = Assumptions(band_known=False)
    closed = closed_over_air(Optics(0.5, 25.0), unknown)
    assert trials_over_air(Optics(0.5, 25.0), assumptions=unknown).sd == pytest.approx(
        float(closed.u), rel=0.02
    )


def test_each_part_may_have_its_own_emissivity() -> None:
    optics = Optics(np.array([0.9, 0.7]), 25.0)
    closed = over_like_parts(surface_terms([60.0, 45.0], optics, assumptions=GIVEN), assumptions=GIVEN)
    found = propagate_over_like_parts([60.0, 45.0], optics, assumptions=GIVEN, trials=TRIALS)
    assert found.mean == pytest.approx(closed.value[0], abs=0.1)
    assert found.sd == pytest.approx(closed.u[0], rel=0.03)


def test_bands_of_trials_are_those_of_the_closed_form_where_it_holds() -> None:
    closed = closed_over_air()
    by_form = band_chances(closed.value, closed.u, edges=[40.0, 43.0])
    by_trials = band_chances_of_trials(trials_over_air().trials, float(closed.value), edges=[40.0, 43.0])
    assert by_trials.chance == pytest.approx(by_form.chance, abs=0.03)


@pytest.mark.parametrize(
    ("u", "tolerance"), [(2.0, 0.05), (0.87, 0.005), (31.66, 0.5), (9.96, 0.5), (0.0996, 0.005), (1.0, 0.05)]
)
def test_the_tolerance_is_half_a_unit_of_the_second_digit(u: float, tolerance: float) -> None:
    found = summary_of_trials([0.0, 1.0, 2.0])
    assert validate(0.0, 2.0, u, found).tolerance == pytest.approx(tolerance)


def test_an_interval_too_far_off_at_either_end_is_not_agreed_with() -> None:
    found = summary_of_trials(np.linspace(-10.0, 10.0, 10_001))
    assert validate(found.low, found.high, 2.0, found).agrees
    assert not validate(found.low - 0.06, found.high, 2.0, found).agrees
    assert not validate(found.low, found.high + 0.06, 2.0, found).agrees


def test_the_shortest_interval_of_a_skewed_law_lies_lower() -> None:
    found = summary_of_trials(np.random.default_rng(2).exponential(size=TRIALS))
    assert found.shortest_low < found.low
    assert found.shortest_high == pytest.approx(-np.log(0.05), abs=0.1)
