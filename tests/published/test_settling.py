"""Settling against the step response of first order and of a transformer model."""

from datetime import datetime, timedelta

import pytest
from transformer_thermal_model.cooler import CoolerType
from transformer_thermal_model.model import Model
from transformer_thermal_model.schemas import InputProfile, UserTransformerSpecifications
from transformer_thermal_model.transformer import PowerTransformer

from service.physics.settling import (
    Settling,
    settled_share,
    settling_state,
    steady_rise,
    with_settling_allowance,
)
from tests.published.evidence import BY_HAND, LIBRARY, evidence, named

STEP = "First-order step response, s = 1 − e^(−m)"
# time constants, share, tolerance; source, clause, kind
SHARES = [
    (1, 0.6321, 5e-5, STEP, "m = 1", BY_HAND),
    (2, 0.8647, 5e-5, STEP, "m = 2", BY_HAND),
    (3, 0.9502, 5e-5, STEP, "m = 3", BY_HAND),
    (4, 0.9817, 5e-5, STEP, "m = 4", BY_HAND),
    (5, 0.9933, 5e-5, STEP, "m = 5", BY_HAND),
]


@pytest.mark.parametrize(("constants", "share", "tolerance"), named(SHARES))
def test_share_settled(constants: float, share: float, tolerance: float) -> None:
    assert float(settled_share(30.0 * constants, 30.0)) == pytest.approx(share, abs=tolerance)


@evidence(STEP, "10→40 K at 2τ", BY_HAND)
def test_steady_rise_from_one_that_still_moves() -> None:
    """From 10 K towards 40 K, read at 2τ: 35.94 K, which leads back to 40 K."""
    read = 40.0 + (10.0 - 40.0) * (1.0 - float(settled_share(2.0, 1.0)))
    assert read == pytest.approx(35.94, abs=5e-3)
    found = steady_rise(read, 10.0, minutes_at_load=2.0, time_constant_min=1.0)
    assert float(found.value) == pytest.approx(40.0, abs=1e-9)


@evidence(STEP, "missing at 3τ", BY_HAND)
def test_three_time_constants_leave_five_per_cent_of_the_steady_rise() -> None:
    """The missing 5 % of the steady rise are 5.24 % of the measured one."""
    missing = 1.0 - float(settled_share(3.0, 1.0))
    assert missing == pytest.approx(0.0498, abs=5e-5)
    most = float(with_settling_allowance(100.0, Settling.ACCEPTED).value)
    assert most == pytest.approx(100.0 / (1 - missing), rel=1e-12)
    assert most == pytest.approx(105.24, abs=5e-3)


@pytest.mark.parametrize(
    "constants",
    [1, 2, 3, 4, 5],
    ids=[f"IEC 60076-7 by transformer-thermal-model, {m}τ [{LIBRARY}]" for m in (1, 2, 3, 4, 5)],
)
def test_top_oil_of_a_transformer_after_a_step(constants: int) -> None:
    """Oil time constant 210 min, k11 = 0.5: the oil settles with 105 min in this form of the standard."""
    tau = 105.0
    minutes = [datetime(2026, 1, 1) + timedelta(minutes=n) for n in range(int(constants * tau) + 1)]
    model = Model(
        temperature_profile=InputProfile.create(
            datetime_index=minutes,
            load_profile=[1000.0] * len(minutes),
            ambient_temperature_profile=[20.0] * len(minutes),
        ),
        transformer=PowerTransformer(
            user_specs=UserTransformerSpecifications(
                load_loss=6000, no_load_loss=1000, nom_load_sec_side=1000, amb_temp_surcharge=0
            ),
            cooling_type=CoolerType.ONAN,
        ),
    )
    rise = float(model.run().top_oil_temp_profile.iloc[-1]) - 20.0
    assert rise / 60.0 == pytest.approx(float(settled_share(constants * tau, tau)), abs=1e-4)


@pytest.mark.parametrize(
    ("constants", "state"),
    [
        (2.99, Settling.NOT_SETTLED),
        (3.0, Settling.ACCEPTED),
        (4.99, Settling.ACCEPTED),
        (5.0, Settling.SETTLED),
    ],
    ids=lambda value: getattr(value, "name", f"{value}τ [common practice, no source]"),
)
def test_three_and_five_time_constants_part_the_states(constants: float, state: Settling) -> None:
    assert settling_state(constants * 40.0, 40.0) == state
