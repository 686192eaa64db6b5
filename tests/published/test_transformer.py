"""Why transformers are not scaled like joints: IEC 60076-7 by another program."""

from datetime import datetime, timedelta
from functools import cache

import numpy as np
import pytest
from transformer_thermal_model.cooler import CoolerType
from transformer_thermal_model.model import Model
from transformer_thermal_model.schemas import InputProfile, UserTransformerSpecifications
from transformer_thermal_model.transformer import DistributionTransformer, PowerTransformer

from service.physics.load import EXPONENT_LOW, to_common_load
from tests.published.evidence import LIBRARY, evidence, named

TRANSFORMER = "IEC 60076-7 by transformer-thermal-model"
# load, top oil °C, hot spot °C at air of 20 °C
STEADY = [
    (0.4, 41.671, 48.386),
    (0.6, 51.756, 63.132),
    (0.8, 64.663, 81.198),
    (1.0, 80.000, 102.100),
    (1.2, 97.506, 125.517),
]


@cache
def steady_transformer(load: float) -> tuple[float, float]:
    """Top oil and hot spot of an ONAN transformer with loss ratio 6 after ten days [°C]."""
    hours = [datetime(2026, 1, 1) + timedelta(hours=n) for n in range(240)]
    model = Model(
        temperature_profile=InputProfile.create(
            datetime_index=hours,
            load_profile=[load * 1000.0] * len(hours),
            ambient_temperature_profile=[20.0] * len(hours),
        ),
        transformer=PowerTransformer(
            user_specs=UserTransformerSpecifications(
                load_loss=6000, no_load_loss=1000, nom_load_sec_side=1000, amb_temp_surcharge=0
            ),
            cooling_type=CoolerType.ONAN,
        ),
    )
    result = model.run()
    return float(result.top_oil_temp_profile.iloc[-1]), float(result.hot_spot_temp_profile.iloc[-1])


@pytest.mark.parametrize(
    ("load", "top_oil_c", "hot_spot_c"),
    STEADY,
    ids=[f"{TRANSFORMER}, K = {k} [{LIBRARY}]" for k, *_ in STEADY],
)
def test_transformer_follows_its_own_law(load: float, top_oil_c: float, hot_spot_c: float) -> None:
    closed = 20 + 60 * ((1 + 6 * load**2) / 7) ** 0.8
    assert steady_transformer(load) == pytest.approx((top_oil_c, hot_spot_c), abs=1e-3)
    assert closed == pytest.approx(top_oil_c, abs=1e-3)
    assert closed + 1.3 * 17 * load**1.3 == pytest.approx(hot_spot_c, abs=1e-3)


# load, n of the top-oil rise from it to full load; source, clause, kind
OIL = [
    (0.4, 1.11, TRANSFORMER, "n of the top oil from 40 %", LIBRARY),
    (0.6, 1.25, TRANSFORMER, "n of the top oil from 60 %", LIBRARY),
    (0.8, 1.32, TRANSFORMER, "n of the top oil from 80 %", LIBRARY),
]


@pytest.mark.parametrize(("load", "exponent"), named(OIL))
def test_oil_rises_less_with_load_than_a_joint(load: float, exponent: float) -> None:
    part, full = (steady_transformer(k)[0] - 20.0 for k in (load, 1.0))
    assert np.log(full / part) / np.log(1.0 / load) == pytest.approx(exponent, abs=5e-3)
    assert exponent < EXPONENT_LOW


# transformer, value of each setting; source, clause, kind
ONAN = {
    "top_oil_temp_rise": 60,
    "oil_exp_x": 0.8,
    "winding_exp_y": 1.3,
    "winding_oil_gradient": 17,
    "hot_spot_fac": 1.3,
    "oil_const_k11": 0.5,
    "time_const_oil": 210,
    "time_const_windings": 10,
}
SETTINGS = [
    (PowerTransformer, CoolerType.ONAN, ONAN, TRANSFORMER, "settings of ONAN", LIBRARY),
    (
        PowerTransformer,
        CoolerType.ONAF,
        {"time_const_oil": 150, "time_const_windings": 7},
        TRANSFORMER,
        "settings of ONAF",
        LIBRARY,
    ),
    (
        DistributionTransformer,
        None,
        {"time_const_oil": 180, "time_const_windings": 4, "winding_exp_y": 1.6},
        TRANSFORMER,
        "settings of a distribution transformer",
        LIBRARY,
    ),
]


@pytest.mark.parametrize(("kind", "cooling", "settings"), named(SETTINGS))
def test_settings_of_a_transformer(
    kind: type[PowerTransformer | DistributionTransformer],
    cooling: CoolerType | None,
    settings: dict[str, float],
) -> None:
    given = UserTransformerSpecifications(
        load_loss=6000, no_load_loss=1000, nom_load_sec_side=1000, amb_temp_surcharge=0
    )
    made = kind(user_specs=given) if cooling is None else kind(user_specs=given, cooling_type=cooling)
    assert {name: getattr(made.specs, name) for name in settings} == settings


@evidence(TRANSFORMER, "5.20 where the oil gives 2.77", LIBRARY)
def test_a_transformer_scaled_like_a_joint_would_be_overstated_nearly_twice() -> None:
    """Why transformers are never scaled: from 40 % load I^1.8 gives 5.20 where the oil gives 2.77."""
    joint = float(to_common_load(1.0, 0.4, common_load_a=1.0).rise_k)
    oil = (80.0 - 20.0) / (41.671 - 20.0)
    assert (joint, oil) == pytest.approx((5.20, 2.77), abs=5e-3)
    assert joint / oil == pytest.approx(1.9, abs=0.05)
