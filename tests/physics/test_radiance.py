"""Radiance: where it is given, where it is not, and from many threads at once."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.physics.radiance import (
    BAND_7_5_13,
    BAND_8_14,
    Band,
    band_radiance,
    exact_band_radiance,
    fraction_below,
    radiance_slope,
    spectral_radiance,
    temperature_of,
)

BANDS = st.sampled_from([BAND_8_14, BAND_7_5_13, Band(3.0, 5.0)])
CELSIUS = st.floats(-100.0, 1000.0)


@given(CELSIUS, BANDS)
def test_a_radiance_leads_back_to_its_temperature(celsius: float, band: Band) -> None:
    assert float(temperature_of(band_radiance(celsius, band), band)) == pytest.approx(celsius, abs=1e-5)


@given(CELSIUS, CELSIUS, BANDS)
def test_radiance_rises_with_temperature(one: float, other: float, band: Band) -> None:
    low, high = sorted((one, other))
    if high - low > 1e-6:
        assert band_radiance(low, band) < band_radiance(high, band)
    assert radiance_slope(low, band) > 0


@pytest.mark.parametrize("celsius", [-100.001, 1000.001, -273.15, -300.0, np.nan, np.inf, -np.inf])
def test_no_radiance_beyond_the_range(celsius: float) -> None:
    assert np.isnan([f(celsius) for f in (band_radiance, exact_band_radiance, radiance_slope)]).all()
    assert np.isnan(spectral_radiance(10.0, celsius))


@pytest.mark.parametrize("band", [BAND_8_14, BAND_7_5_13], ids=str)
def test_no_temperature_beyond_the_radiances_of_the_range(band: Band) -> None:
    ends = exact_band_radiance([-100.0, 1000.0], band)
    assert temperature_of(ends, band).tolist() == pytest.approx([-100.0, 1000.0], abs=1e-9)
    beyond = [ends[0] * (1 - 1e-9), ends[1] * (1 + 1e-9), 0.0, -5.0, np.nan, np.inf]
    assert np.isnan(temperature_of(beyond, band)).all()


@pytest.mark.parametrize("product", [0.0, -1.0, 100_001.0, np.nan, np.inf])
def test_no_share_beyond_the_range(product: float) -> None:
    assert np.isnan(fraction_below(product))


@given(st.floats(1e-300, 1e5), st.floats(1e-300, 1e5))
def test_the_share_rises_from_nothing_towards_all(one: float, other: float) -> None:
    low, high = fraction_below(sorted((one, other)))
    assert 0.0 <= low <= high + 1e-15
    assert high < 1.0


@pytest.mark.parametrize("micron", [0.99, 30.01, 0.0, -5.0, np.nan])
def test_no_spectral_radiance_beyond_the_range(micron: float) -> None:
    assert np.isnan(spectral_radiance(micron, 25.0))


def test_a_band_adds_up_of_its_parts() -> None:
    parts = exact_band_radiance(80.0, Band(8.0, 10.0)) + exact_band_radiance(80.0, Band(10.0, 14.0))
    assert float(parts) == pytest.approx(float(exact_band_radiance(80.0)), rel=1e-13)


@pytest.mark.parametrize("edges", [(14.0, 8.0), (8.0, 8.0), (0.5, 14.0), (8.0, 31.0), (float("nan"), 14.0)])
def test_a_band_runs_upwards_within_one_to_thirty_micrometres(edges: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="band"):
        Band(*edges)


def test_a_band_cannot_be_changed() -> None:
    with pytest.raises(AttributeError):
        BAND_8_14.lower_um = 7.0  # type: ignore[misc]


def test_an_empty_array_has_an_empty_radiance() -> None:
    assert exact_band_radiance(np.zeros(0)).shape == (0,)
    assert temperature_of(band_radiance(np.zeros((0, 3)))).shape == (0, 3)


def test_threads_that_meet_a_new_band_get_what_one_thread_gets() -> None:
    band, celsius = Band(8.0, 13.37), np.linspace(-50.0, 500.0, 2001)
    start = Barrier(8)

    def ask(_: int) -> bytes:
        start.wait()
        return temperature_of(band_radiance(celsius, band), band).tobytes()

    with ThreadPoolExecutor(8) as pool:
        answers = set(pool.map(ask, range(8)))
    assert len(answers) == 1
    assert np.frombuffer(answers.pop()) == pytest.approx(celsius, abs=1e-5)
