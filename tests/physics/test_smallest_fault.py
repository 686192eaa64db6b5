"""What a clean visit could have missed: never less than what it could."""

import numpy as np
import pytest

from service.physics.assumptions import Assumptions
from service.physics.budget_terms import surface_terms
from service.physics.compared_uncertainty import over_twin
from service.physics.monte_carlo import propagate_over_air, propagate_over_like_parts
from service.physics.optics import Optics
from service.physics.refusals import Refusal
from service.physics.settling import settled_share
from service.physics.smallest_fault import (
    SEEN_FROM,
    SEEN_QUANTILE,
    Conditions,
    SmallestFault,
    smallest_fault,
    smallest_fault_over_air,
    smallest_fault_over_like_parts,
)
from service.physics.surface import apparent_temperature

GIVEN = Assumptions()
OPTICS = Optics(0.95, 20.0)
NAN = float("nan")


def over_like_parts(
    conditions: Conditions | None = None,
    *,
    parts: object = 3,
    optics: Optics = OPTICS,
    given: Assumptions = GIVEN,
) -> SmallestFault:
    return smallest_fault_over_like_parts(
        35.0,
        optics,
        parts=parts,
        line_k=1.0,
        conditions=Conditions(1.0, 1.0) if conditions is None else conditions,
        assumptions=given,
    )


@pytest.mark.parametrize("parts", [2, 3, 4, 5])
@pytest.mark.parametrize("emissivity", [0.95, 0.7])
def test_a_fault_of_this_size_is_seen_in_nine_of_ten_trials(parts: int, emissivity: float) -> None:
    """The whole model by Monte Carlo, healthy parts truly equal: the case in which the median hides most."""
    optics, exact = Optics(emissivity, 20.0), Assumptions(current_half_width_share=0.0)
    shown = float(over_like_parts(parts=parts, optics=optics, given=exact).as_measured_k)
    surfaces = np.array([35.0 + shown] + [35.0] * (parts - 1))
    apparent = apparent_temperature(surfaces, optics).value
    found = propagate_over_like_parts(apparent, optics, assumptions=exact, trials=30_000)
    seen = float((found.trials > 1.0).mean())
    assert SEEN_FROM - 0.006 <= seen <= 0.985


def test_a_rise_of_this_size_over_air_is_seen_in_nine_of_ten_trials() -> None:
    conditions, exact = Conditions(1.0, 1.0), Assumptions(current_half_width_share=0.0)
    shown = smallest_fault_over_air(20.0, OPTICS, line_k=20.0, conditions=conditions, assumptions=exact)
    apparent = float(apparent_temperature(20.0 + shown.as_measured_k, OPTICS).value)
    found = propagate_over_air(apparent, OPTICS, ambient_c=20.0, assumptions=exact, trials=30_000)
    assert float((found.trials > 20.0).mean()) == pytest.approx(SEEN_FROM, abs=0.02)


def test_the_fixed_point_is_one() -> None:
    shown = over_like_parts(parts=2).as_measured_k
    hot, like = (
        surface_terms(apparent_temperature(t, OPTICS).value, OPTICS, assumptions=GIVEN)
        for t in (35.0 + shown, 35.0)
    )
    u = np.hypot(over_twin(hot, like, assumptions=GIVEN).u, 2.0 * 0.03 / np.sqrt(3) * shown)
    assert shown == pytest.approx(1.0 + SEEN_QUANTILE * u, abs=1e-6)


def test_half_load_over_three_like_parts_hides_about_nine_kelvin() -> None:
    """The sentence of a page: at 52 % load a clean reading could hide a fault of 9 K, rounded up."""
    found = over_like_parts(Conditions(load_share=[1.0, 0.52, 0.4]))
    assert np.ceil(found.at_common_load_k).tolist() == [3.0, 9.0, 14.0]
    assert found.as_measured_k == pytest.approx(np.full(3, found.as_measured_k[0]))
    assert found.taken_as_settled.all()


@pytest.mark.parametrize("exponent", [1.6, 1.8, 2.0])
@pytest.mark.parametrize("share", [0.4, 0.7, 1.0, 1.3])
def test_it_is_never_less_than_what_the_load_would_have_shown(share: float, exponent: float) -> None:
    """Whatever the exponent within its band, such a fault shows as much or more."""
    found = over_like_parts(Conditions(share, 1.0))
    assert found.at_common_load_k * share**exponent >= found.as_measured_k - 1e-12


def test_worse_conditions_never_hide_less() -> None:
    load = over_like_parts(Conditions(np.linspace(0.4, 1.5, 60), 1.0)).at_common_load_k
    assert (np.diff(load) < 0).all()
    settled = over_like_parts(Conditions(1.0, np.linspace(0.87, 1.0, 60))).at_common_load_k
    assert (np.diff(settled) <= 0).all()
    filled = over_like_parts(Conditions(1.0, 1.0, np.linspace(0.5, 1.2, 60))).at_common_load_k
    assert (np.diff(filled) <= 0).all()
    dull = over_like_parts(optics=Optics(np.linspace(0.65, 1.0, 30), 20.0)).at_common_load_k
    assert (np.diff(dull) < 0).all()
    wide = [
        float(over_like_parts(given=Assumptions(camera_half_width_k=k)).at_common_load_k)
        for k in (1.0, 2.0, 3.0)
    ]
    assert wide == sorted(wide)
    apart = [
        float(over_like_parts(given=Assumptions(camera_correlation=r)).at_common_load_k)
        for r in (0.9, 0.5, 0.0)
    ]
    assert apart == sorted(apart)


@pytest.mark.parametrize("minutes", [20.0, 29.0, 30.0, 49.0, 50.0])
def test_a_part_still_warming_hides_at_least_what_it_has_yet_to_show(minutes: float) -> None:
    share = float(settled_share(minutes, 10.0))
    found = over_like_parts(Conditions(1.0, share))
    assert found.at_common_load_k * share >= found.as_measured_k - 1e-12
    assert not found.taken_as_settled


@pytest.mark.parametrize(
    ("conditions", "reason"),
    [
        (Conditions(NAN), Refusal.NO_CURRENT),
        (Conditions(0.0), Refusal.NO_CURRENT),
        (Conditions(0.39), Refusal.LOW_LOAD),
        (Conditions(1.0, wind_m_s=1.1), Refusal.WIND),
        (Conditions(1.0, wind_m_s=NAN), Refusal.WIND),
        (Conditions(1.0, fan_on_part=True), Refusal.WIND),
        (Conditions(1.0, settled_share=0.86), Refusal.NOT_SETTLED),
        (Conditions(1.0, filled_share=0.49), Refusal.SPOT_NOT_FILLED),
        (Conditions(1.0, filled_share=NAN), Refusal.SPOT_NOT_FILLED),
    ],
)
def test_where_nothing_can_be_said_nothing_is_said(conditions: Conditions, reason: Refusal) -> None:
    found = over_like_parts(conditions)
    assert found.refusal == reason
    assert np.isnan(found.at_common_load_k)
    assert np.isnan(found.as_measured_k)
    assert not found.taken_as_settled


@pytest.mark.parametrize(
    ("parts", "optics", "reason"),
    [
        (1, OPTICS, Refusal.NO_LIKE_PART),
        (3, Optics(0.4, 20.0), Refusal.INDICATIVE),
        (3, Optics(0.9, NAN), Refusal.NO_REFLECTED),
    ],
)
def test_optics_that_clear_nothing_promise_nothing(parts: int, optics: Optics, reason: Refusal) -> None:
    found = over_like_parts(parts=parts, optics=optics)
    assert found.refusal == reason
    assert np.isnan(found.at_common_load_k)


def test_without_a_line_nothing_is_said() -> None:
    found = smallest_fault(NAN, lambda k: 0 * k + 1, conditions=Conditions(1.0), assumptions=GIVEN)
    assert found.refusal == Refusal.NO_NUMBER


def test_many_visits_at_once_are_those_one_by_one() -> None:
    loads, parts = np.array([0.5, 0.8, 0.3]), np.array([2, 3, 3])
    many = over_like_parts(Conditions(loads), parts=parts)
    one = [
        float(over_like_parts(Conditions(a), parts=k).at_common_load_k)
        for a, k in zip(loads, parts, strict=True)
    ]
    assert many.at_common_load_k == pytest.approx(one, nan_ok=True)
    assert many.refusal.tolist() == [Refusal.NONE, Refusal.NONE, Refusal.LOW_LOAD]
