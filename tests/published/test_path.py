"""Air path: the open model against its printed table, the vapour continuum and steam tables."""

import numpy as np
import pytest

from service.physics.cautions import Caution
from service.physics.path import (
    ASSUMED_HALF_WIDTH,
    ASSUMED_TRANSMISSION,
    air_path,
    fitted_transmission,
    saturation_pressure_pa,
    vapour_g_m3,
)
from service.physics.radiance import ZERO_C, spectral_radiance
from tests.published.evidence import BY_HAND, MEMORY, PRACTICE, evidence, named

FIT = "open model of the air path"
DISTANCES = (1, 3, 10, 30, 100)

# air, distance, τ, τ_mid − τ_lo, source, clause, kind
TABLE = [
    (air, distance, tau, half, FIT, f"{air} °C 50 %, {distance} m", BY_HAND)
    for air, taus, halves in (
        (10, (0.9986, 0.9970, 0.9931, 0.9852, 0.9655), (0.0014, 0.0029, 0.0065, 0.0134, 0.0296)),
        (25, (0.9977, 0.9951, 0.9884, 0.9747, 0.9400), (0.0022, 0.0044, 0.0096, 0.0193, 0.0405)),
        (40, (0.9960, 0.9911, 0.9785, 0.9508, 0.8776), (0.0033, 0.0066, 0.0139, 0.0266, 0.0508)),
    )
    for distance, tau, half in zip(DISTANCES, taus, halves, strict=True)
]


@pytest.mark.parametrize(("air", "distance", "tau", "half"), named(TABLE))
def test_transmission_of_air(air: float, distance: float, tau: float, half: float) -> None:
    middle, lower = fitted_transmission(distance, vapour_g_m3(air, 50.0))
    assert float(middle) == pytest.approx(tau, abs=5.1e-5)
    assert float(middle - lower) == pytest.approx(half, abs=5.1e-5)
    found = air_path(distance, air, 50.0)
    assert float(found.transmission) == float(middle)
    assert float(found.half_width) == pytest.approx(max(0.005, half), abs=5.1e-5)


# air, g/m³, source, clause, kind
VAPOUR = [
    (10.0, 4.69, "Magnus, WMO-No. 8", "10 °C 50 %", MEMORY),
    (25.0, 11.48, "Magnus, WMO-No. 8", "25 °C 50 %", MEMORY),
    (40.0, 25.49, "Magnus, WMO-No. 8", "40 °C 50 %", MEMORY),
]


@pytest.mark.parametrize(("air", "grams"), named(VAPOUR))
def test_absolute_humidity(air: float, grams: float) -> None:
    assert float(vapour_g_m3(air, 50.0)) == pytest.approx(grams, abs=0.01)


# air, Pa, source, clause, kind
STEAM = [
    (celsius, pascal, "Steam tables, saturation", f"{celsius:g} °C", MEMORY)
    for celsius, pascal in ((0.01, 611.7), (10.0, 1228.0), (20.0, 2339.0), (25.0, 3169.0), (40.0, 7384.0))
]


@pytest.mark.parametrize(("air", "pascal"), named(STEAM))
def test_saturation_pressure(air: float, pascal: float) -> None:
    assert float(saturation_pressure_pa(air)) == pytest.approx(pascal, rel=4e-3)


def continuum_transmission(
    distance_m: float,
    air_c: float,
    humidity: float,
    *,
    band_um: tuple[float, float] = (8.0, 14.0),
    seen_c: float = 30.0,
) -> float:
    """Vapour continuum alone: Roberts, Selby & Biberman, Appl. Opt. 15 (1976)."""
    micron = np.linspace(*band_um, 601)
    strength = 4.18 + 5578.0 * np.exp(-0.00787 * 1e4 / micron)
    vapour_atm = humidity / 100.0 * float(saturation_pressure_pa(air_c)) / 101_325.0
    pressure = vapour_atm + 0.002 * (1.0 - vapour_atm)
    warmth = np.exp(1800.0 * (1.0 / (air_c + ZERO_C) - 1.0 / 296.0))
    column_g_cm2 = float(vapour_g_m3(air_c, humidity)) * distance_m * 1e-4
    through = np.exp(-strength * warmth * pressure * column_g_cm2)
    weight = spectral_radiance(micron, seen_c)
    return float(np.trapezoid(weight * through, micron) / np.trapezoid(weight, micron))


@pytest.mark.parametrize("humidity", [20.0, 50.0, 80.0])
@pytest.mark.parametrize("air", [0.0, 10.0, 25.0, 40.0])
@pytest.mark.parametrize("distance", [0.5, *DISTANCES])
@evidence("Roberts, Selby & Biberman, vapour continuum", "8–14 µm", MEMORY)
def test_the_vapour_continuum_alone_is_the_upper_bound_of_the_fit(
    distance: float, air: float, humidity: float
) -> None:
    """Coefficients of the continuum from memory; the fit errs by at most .0043 (middle), .0050 (lower)."""
    middle, lower = (float(tau) for tau in fitted_transmission(distance, vapour_g_m3(air, humidity)))
    upper = continuum_transmission(distance, air, humidity)
    assert lower < middle < upper + 0.0043
    assert 2 * middle - lower == pytest.approx(upper, abs=0.0093)


@evidence("Roberts, Selby & Biberman, vapour continuum", "100 m, 40 °C, 90 %, 820–1180 cm⁻¹: .849", MEMORY)
def test_continuum_where_it_lies_farthest_from_a_full_absorption() -> None:
    found = continuum_transmission(100.0, 40.0, 90.0, band_um=(1e4 / 1180.0, 1e4 / 820.0), seen_c=40.0)
    assert found == pytest.approx(0.849, abs=5e-4)


# distance, air, humidity, assumed, caution, source, clause, kind
DEFAULTS = [
    (3.0, 25.0, 50.0, False, 0, FIT, "all known", PRACTICE),
    (np.nan, 25.0, 50.0, True, 0, FIT, "distance not known", PRACTICE),
    (3.0, np.nan, 50.0, True, 0, FIT, "air not known, 3 m", PRACTICE),
    (3.0, 25.0, np.nan, True, 0, FIT, "humidity not known, 3 m", PRACTICE),
    (np.nan, np.nan, np.nan, True, 0, FIT, "nothing known", PRACTICE),
    (30.0, 25.0, 50.0, False, 0, FIT, "30 m", PRACTICE),
    (30.1, 25.0, 50.0, False, Caution.LONG_PATH, FIT, "over 30 m is indicative", PRACTICE),
    (10.0, 25.0, np.nan, True, Caution.LONG_PATH, FIT, "10 m, humidity not known", PRACTICE),
]


@pytest.mark.parametrize(("distance", "air", "humidity", "assumed", "caution"), named(DEFAULTS))
def test_transmission_where_something_is_not_known(
    distance: float, air: float, humidity: float, assumed: bool, caution: int
) -> None:
    found = air_path(distance, air, humidity)
    assert bool(found.assumed) is assumed
    assert int(found.caution) == caution
    if assumed:
        assert (float(found.transmission), float(found.half_width)) == (0.996, 0.006)


@pytest.mark.parametrize("distance", [2.0, 2.5, 3.0])
@evidence(FIT, "20 °C, 30–60 %", BY_HAND)
def test_the_assumed_transmission_holds_two_to_three_metres_indoors(distance: float) -> None:
    """Own fit, 20 °C at 30–60 % [worked by hand]."""
    for humidity in (30.0, 50.0, 60.0):
        middle, lower = fitted_transmission(distance, vapour_g_m3(20.0, humidity))
        assert abs(float(middle) - ASSUMED_TRANSMISSION) < ASSUMED_HALF_WIDTH
        assert abs(float(lower) - ASSUMED_TRANSMISSION) < ASSUMED_HALF_WIDTH
