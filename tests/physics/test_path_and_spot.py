"""Air path and spot size: what is assumed, what is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.physics.cautions import Caution
from service.physics.optics import Optics
from service.physics.path import air_path, fitted_transmission, saturation_pressure_pa, vapour_g_m3
from service.physics.refusals import Refusal
from service.physics.spot import farthest_m, filling, ifov_mrad, mixed_temperature, spot_mm
from service.physics.surface import surface_temperature

KNOWN = st.tuples(st.floats(0.5, 100.0), st.floats(0.0, 40.0), st.floats(20.0, 80.0))


@given(KNOWN, st.floats(1.0, 2.0))
def test_a_longer_path_lets_less_through(known: tuple[float, float, float], longer: float) -> None:
    distance, air, humidity = known
    near, far = air_path([distance, min(distance * longer, 100.0)], air, humidity).transmission
    assert 0.7 < far <= near < 1.0


@given(KNOWN)
def test_the_half_width_reaches_the_lower_bound_and_is_never_too_good(
    known: tuple[float, float, float],
) -> None:
    found = air_path(*known)
    middle, lower = fitted_transmission(known[0], vapour_g_m3(*known[1:]))
    assert found.half_width == pytest.approx(max(0.005, float(middle - lower)), abs=1e-12)
    assert not found.assumed


REFUSED = [
    ({"distance_m": 100.1, "air_c": 20.0, "humidity_percent": 50.0}, Refusal.OUT_OF_RANGE),
    ({"distance_m": 0.0}, Refusal.OUT_OF_RANGE),
    ({"distance_m": -1.0}, Refusal.OUT_OF_RANGE),
    ({"distance_m": np.inf}, Refusal.OUT_OF_RANGE),
    ({"air_c": 61.0}, Refusal.OUT_OF_RANGE),
    ({"air_c": -46.0}, Refusal.OUT_OF_RANGE),
    ({"humidity_percent": 101.0}, Refusal.OUT_OF_RANGE),
    ({"humidity_percent": -1.0}, Refusal.OUT_OF_RANGE),
    ({"typed_transmission": 0.0}, Refusal.BAD_TRANSMISSION),
    ({"typed_transmission": 1.1}, Refusal.BAD_TRANSMISSION),
    ({"rain_or_fog": True}, Refusal.BAD_WEATHER),
]


@pytest.mark.parametrize(
    ("known", "reason"), REFUSED, ids=[f"{k} {row[1].name}" for k, row in enumerate(REFUSED)]
)
def test_a_path_that_cannot_be_told_says_why(known: dict[str, float], reason: Refusal) -> None:
    found = air_path(**known)
    assert found.refusal == reason
    assert np.isnan([found.transmission, found.half_width]).all()
    assert found.caution == Caution.NONE


# distance, air, humidity, caution
UNUSUAL = [
    pytest.param(0.3, 25.0, 50.0, Caution.NONE, id="under half a metre"),
    pytest.param(0.3, 50.0, 90.0, Caution.NONE, id="under half a metre of thick air"),
    pytest.param(2.0, -10.0, 60.0, Caution.NONE, id="2 m of cold air"),
    pytest.param(2.0, 20.0, 2.0, Caution.NONE, id="2 m of dry air"),
    pytest.param(10.0, -10.0, 60.0, Caution.LONG_PATH, id="10 m of cold air"),
    pytest.param(2.0, 45.0, 50.0, Caution.LONG_PATH, id="2 m of hot air"),
    pytest.param(2.0, 40.0, 100.0, Caution.LONG_PATH, id="2 m of steam"),
    pytest.param(np.nan, 45.0, 50.0, Caution.LONG_PATH, id="hot air, distance not known"),
    pytest.param(40.0, np.nan, np.nan, Caution.LONG_PATH, id="40 m, air not known"),
]


@pytest.mark.parametrize(("distance", "air", "humidity", "caution"), UNUSUAL)
def test_outside_the_fit_the_assumed_value_stands_and_the_formula_is_not_stretched(
    distance: float, air: float, humidity: float, caution: Caution
) -> None:
    found = air_path(distance, air, humidity)
    assert bool(found.assumed)
    assert (float(found.transmission), float(found.half_width)) == (0.996, 0.006)
    assert found.caution == caution


def test_humidity_beyond_the_fitted_share_counts_while_the_vapour_is_within() -> None:
    assert not air_path(5.0, 25.0, 95.0).assumed


def test_a_typed_transmission_goes_before_all_else() -> None:
    found = air_path(10.0, 25.0, 50.0, typed_transmission=0.97)
    assert (float(found.transmission), float(found.half_width)) == (0.97, 0.005)
    assert not found.assumed


def test_a_path_brings_all_that_the_surface_asks_of_it() -> None:
    for path in (air_path(), air_path(5.0, 30.0, 40.0), air_path(typed_transmission=0.98)):
        optics = Optics(0.95, 25.0, transmission=path.transmission, air_c=path.air_c)
        assert surface_temperature(60.0, optics).refusal == Refusal.NONE
    assert (float(air_path().air_c), float(air_path().air_half_width_k)) == (20.0, 20.0)
    assert (float(air_path(air_c=31.0).air_c), float(air_path(air_c=31.0).air_half_width_k)) == (31.0, 0.0)


def test_saturation_pressure_is_given_for_air_of_a_survey_only() -> None:
    assert np.isnan(saturation_pressure_pa([-45.1, 60.1, np.nan])).all()


@given(st.floats(0.1, 20.0), st.floats(0.1, 100.0))
def test_at_the_farthest_distance_a_part_just_fills_three_pixels(angle_mrad: float, part_mm: float) -> None:
    distance = farthest_m(angle_mrad, part_mm)
    assert float(spot_mm(angle_mrad, distance)) == pytest.approx(part_mm, rel=1e-12)
    assert filling(part_mm, angle_mrad, distance).caution == Caution.NONE
    assert filling(part_mm, angle_mrad, distance * 1.001).caution == Caution.UNDERFILLED


@given(st.floats(-50.0, 300.0), st.floats(-50.0, 300.0), st.floats(0.0, 1.0))
def test_a_mixed_reading_lies_between_its_parts(part: float, behind: float, share: float) -> None:
    found = float(mixed_temperature(part, behind, share).value)
    assert min(part, behind) - 1e-5 <= found <= max(part, behind) + 1e-5


@pytest.mark.parametrize("wrong", [0.0, -1.0, np.nan, np.inf])
def test_no_size_without_an_angle_a_distance_and_an_extent(wrong: float) -> None:
    assert np.isnan(
        [spot_mm(wrong, 1.0), spot_mm(1.0, wrong), farthest_m(wrong, 1.0), farthest_m(1.0, wrong)]
    ).all()
    found = filling([wrong, 10.0, 10.0], [1.0, wrong, 1.0], [1.0, 1.0, wrong])
    assert found.refusal.tolist() == [Refusal.NO_NUMBER] * 3
    assert found.caution.tolist() == [Caution.NONE] * 3
    assert np.isnan(ifov_mrad(wrong, 320))


@pytest.mark.parametrize(("angle", "pixels"), [(180.0, 320), (24.0, 0.5)])
def test_no_angle_of_a_pixel_for_no_picture(angle: float, pixels: float) -> None:
    assert np.isnan(ifov_mrad(angle, pixels))


@pytest.mark.parametrize("share", [-0.01, 1.01, np.nan])
def test_a_share_is_none_below_nothing_or_above_all(share: float) -> None:
    found = mixed_temperature(100.0, 30.0, share)
    assert found.refusal == Refusal.OUT_OF_RANGE
    assert np.isnan(found.value)
