"""Surface temperatures: there and back, what is refused, and what is only flagged."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.physics.cautions import CAUTION_WORDS, Caution, has, indicative
from service.physics.optics import Optics
from service.physics.radiance import BAND_7_5_13, BAND_8_14, Band, band_radiance
from service.physics.refusals import REFUSAL_WORDS, Refusal
from service.physics.sensitivities import sensitivities
from service.physics.surface import apparent_temperature, corrected_temperature, surface_temperature

BANDS = st.sampled_from([BAND_8_14, BAND_7_5_13])
EPSILON = st.floats(0.3, 1.0)
SURROUNDINGS = st.floats(-60.0, 100.0)
WINDOWS = st.one_of(
    st.just({}),
    st.builds(
        lambda through, left, window_c, mirrored_c: {
            "window": True,
            "window_transmission": through,
            "window_reflection": left * (1.0 - through),
            "window_c": window_c,
            "window_reflected_c": mirrored_c,
        },
        st.floats(0.3, 1.0),
        st.floats(0.0, 1.0),
        st.floats(-20.0, 80.0),
        st.floats(-20.0, 60.0),
    ),
)
OPTICS = st.builds(
    lambda eps, reflected_c, tau, air_c, window: Optics(eps, reflected_c, tau, air_c, **window),
    EPSILON,
    SURROUNDINGS,
    st.floats(0.8, 1.0),
    st.floats(-40.0, 60.0),
    WINDOWS,
)
SURFACE_C = st.floats(-20.0, 500.0)
PLAIN = Optics(0.95, 25.0)


@given(SURFACE_C, OPTICS, BANDS)
def test_there_and_back_within_ten_millikelvin(surface_c: float, optics: Optics, band: Band) -> None:
    seen = apparent_temperature(surface_c, optics, band=band)
    assert seen.refusal == Refusal.NONE
    found = surface_temperature(seen.value, optics, band=band)
    assert found.refusal == Refusal.NONE
    assert float(found.value_c) == pytest.approx(surface_c, abs=0.01)


@given(SURFACE_C, st.floats(0.001, 50.0), OPTICS, BANDS)
def test_a_higher_reading_is_a_warmer_surface(
    surface_c: float, step_k: float, optics: Optics, band: Band
) -> None:
    seen = float(apparent_temperature(surface_c, optics, band=band).value)
    found = surface_temperature([seen, seen + step_k], optics, band=band)
    assert found.value_c[0] < found.value_c[1] or found.refusal[1] == Refusal.UNDEFINED


@given(st.floats(-60.0, 200.0), st.floats(0.01, 1.0), BANDS)
def test_a_reading_at_the_reflected_temperature_is_that_at_every_emissivity(
    celsius: float, eps: float, band: Band
) -> None:
    found = surface_temperature(celsius, Optics(eps, celsius), band=band)
    assert float(found.value_c) == pytest.approx(celsius, abs=1e-4)


@given(st.floats(-100.0, 1000.0), st.floats(0.001, 1.0), st.floats(-100.0, 1000.0))
def test_a_surface_is_never_told_beyond_the_range(apparent_c: float, eps: float, reflected_c: float) -> None:
    found = surface_temperature(apparent_c, Optics(eps, reflected_c))
    if found.refusal == Refusal.NONE:
        assert -100.0 - 1e-6 <= found.value_c <= 1000.0 + 1e-6
    else:
        assert found.refusal == Refusal.UNDEFINED
        assert np.isnan(found.value_c)


def test_what_no_surface_explains_is_neither_clamped_nor_extrapolated() -> None:
    hot = surface_temperature([700.0, 10.0], Optics([0.3, 0.1], 25.0))
    assert hot.refusal.tolist() == [Refusal.UNDEFINED, Refusal.UNDEFINED]
    assert np.isnan(hot.value_c).all()


@given(SURFACE_C, OPTICS)
def test_settings_of_the_instrument_do_not_matter_once_they_are_undone(
    surface_c: float, applied: Optics
) -> None:
    truth = Optics(0.9, 20.0)
    seen = apparent_temperature(surface_c, truth).value
    shown = surface_temperature(seen, applied)
    if shown.refusal == Refusal.NONE:
        found = corrected_temperature(shown.value_c, applied=applied, optics=truth)
        assert float(found.value_c) == pytest.approx(surface_c, abs=0.01)


WINDOW = Optics(0.95, 25.0, window=True, window_transmission=0.8, window_c=25.0)
REFUSED = [
    (np.nan, PLAIN, Refusal.NO_NUMBER),
    (60.0, Optics(np.nan, 25.0), Refusal.NO_EMISSIVITY),
    (60.0, Optics(0.0, 25.0), Refusal.BAD_EMISSIVITY),
    (60.0, Optics(-0.1, 25.0), Refusal.BAD_EMISSIVITY),
    (60.0, Optics(1.001, 25.0), Refusal.BAD_EMISSIVITY),
    (60.0, Optics(0.95, np.nan), Refusal.NO_REFLECTED),
    (60.0, Optics(0.95, 25.0, transmission=0.0, air_c=20.0), Refusal.BAD_TRANSMISSION),
    (60.0, Optics(0.95, 25.0, transmission=1.01, air_c=20.0), Refusal.BAD_TRANSMISSION),
    (60.0, Optics(0.95, 25.0, transmission=np.nan, air_c=20.0), Refusal.BAD_TRANSMISSION),
    (60.0, Optics(0.95, 25.0, transmission=0.99), Refusal.NO_AIR),
    (60.0, WINDOW._replace(window_transmission=np.nan), Refusal.NO_WINDOW_TRANSMISSION),
    (60.0, WINDOW._replace(window_c=np.nan), Refusal.NO_WINDOW_TEMPERATURE),
    (60.0, WINDOW._replace(window_reflection=0.1), Refusal.NO_WINDOW_REFLECTED),
    (60.0, WINDOW._replace(window_reflection=0.21, window_reflected_c=20.0), Refusal.BAD_TRANSMISSION),
    (60.0, WINDOW._replace(window_reflection=-0.1, window_reflected_c=20.0), Refusal.BAD_TRANSMISSION),
    (60.0, WINDOW._replace(window_transmission=1.2), Refusal.BAD_TRANSMISSION),
    (60.0, WINDOW._replace(window_transmission=0.29), Refusal.WINDOW_OPAQUE),
    (1001.0, PLAIN, Refusal.OUT_OF_RANGE),
    (-101.0, PLAIN, Refusal.OUT_OF_RANGE),
    (np.inf, PLAIN, Refusal.OUT_OF_RANGE),
    (60.0, Optics(0.95, 2000.0), Refusal.OUT_OF_RANGE),
    (60.0, Optics(0.95, 25.0, 0.99, -200.0), Refusal.OUT_OF_RANGE),
    (60.0, WINDOW._replace(window_c=1200.0), Refusal.OUT_OF_RANGE),
]


@pytest.mark.parametrize(
    ("reading", "optics", "reason"), REFUSED, ids=[f"{k} {row[2].name}" for k, row in enumerate(REFUSED)]
)
def test_a_figure_that_cannot_be_given_says_why(reading: float, optics: Optics, reason: Refusal) -> None:
    found, seen = surface_temperature(reading, optics), apparent_temperature(reading, optics)
    assert (found.refusal, seen.refusal) == (reason, reason)
    assert np.isnan([found.value_c, seen.value]).all()
    assert REFUSAL_WORDS[reason]


def test_what_is_not_used_need_not_be_known() -> None:
    black = Optics(1.0, np.nan)
    assert surface_temperature(60.0, black).refusal == Refusal.NONE
    ignored = PLAIN._replace(window_transmission=0.0, window_reflection=np.nan)
    assert float(surface_temperature(60.0, ignored).value_c) == pytest.approx(61.605, abs=1e-3)


def test_a_loaded_part_that_looks_no_warmer_than_its_surroundings_has_no_temperature() -> None:
    optics = Optics([0.95, 0.95, 0.1], 25.0)
    found = surface_temperature([24.9, 25.1, 10.0], optics, should_be_hot=True)
    assert found.refusal.tolist() == [Refusal.NOT_ABOVE_REFLECTED, Refusal.NONE, Refusal.NOT_ABOVE_REFLECTED]
    assert surface_temperature(25.0, PLAIN, should_be_hot=True).refusal == Refusal.NOT_ABOVE_REFLECTED
    assert surface_temperature(24.9, PLAIN).refusal == Refusal.NONE


def test_what_counts_as_warmer_is_what_leaves_the_part_not_what_arrives() -> None:
    """Through warm air a part cooler than its surroundings reads above them."""
    optics = Optics(0.9, 25.0, transmission=0.8, air_c=60.0)
    seen = apparent_temperature(20.0, optics).value
    assert seen > 25.0
    assert surface_temperature(seen, optics, should_be_hot=True).refusal == Refusal.NOT_ABOVE_REFLECTED


def test_the_reason_of_the_first_step_is_told() -> None:
    found = corrected_temperature([60.0, 60.0], applied=Optics([1.2, 0.95], 20.0), optics=PLAIN)
    assert found.refusal.tolist() == [Refusal.BAD_EMISSIVITY, Refusal.NONE]


def test_settings_and_readings_broadcast_against_each_other() -> None:
    optics = Optics(np.array([[0.95], [0.8]]), 25.0, 0.99, 20.0)
    found = surface_temperature([60.0, 70.0, 80.0], optics)
    assert {part.shape for part in found} == {(2, 3)}
    assert {part.shape for part in sensitivities([60.0, 70.0, 80.0], found.value_c, optics)} == {(2, 3)}
    one = surface_temperature(70.0, Optics(0.8, 25.0, 0.99, 20.0))
    assert {part.shape for part in one} == {()}
    assert found.value_c[1, 1] == one.value_c


CAUTIONED = [
    (PLAIN, Caution.NONE),
    (Optics(0.45, 25.0), Caution.LOW_EMISSIVITY | Caution.HIGH_GAIN),
    (Optics(0.2, 25.0), Caution.LOW_EMISSIVITY | Caution.COMPARISON_ONLY | Caution.HIGH_GAIN),
    (PLAIN._replace(distance_m=30.0), Caution.NONE),
    (PLAIN._replace(distance_m=30.1), Caution.LONG_PATH),
    (WINDOW._replace(window_transmission=0.45), Caution.WEAK_WINDOW | Caution.HIGH_GAIN),
    (PLAIN._replace(window_transmission=0.45), Caution.NONE),
]


@pytest.mark.parametrize(("optics", "caution"), CAUTIONED, ids=[str(row[1]) for row in CAUTIONED])
def test_a_doubtful_figure_is_given_and_flagged(optics: Optics, caution: Caution) -> None:
    found = surface_temperature(60.0, optics)
    assert found.refusal == Refusal.NONE
    assert Caution(int(found.caution)) == caution
    assert bool(indicative(found.caution)) == (caution != Caution.NONE)


def test_every_caution_has_its_words() -> None:
    assert set(CAUTION_WORDS) == set(Caution)
    assert set(REFUSAL_WORDS) == set(Refusal)
    assert not indicative([Caution.COMPARISON_ONLY, Caution.UNDERFILLED]).any()
    assert has(Caution.LONG_PATH, Caution.LONG_PATH | Caution.WEAK_WINDOW)


def test_an_unknown_air_temperature_leaves_only_its_own_coefficient_unknown() -> None:
    found = sensitivities(60.0, surface_temperature(60.0, PLAIN).value_c, PLAIN)
    assert np.isnan(found.per_transmission)
    assert not np.isnan([part for name, part in found._asdict().items() if name != "per_transmission"]).any()


def test_sensitivities_of_a_refused_figure_are_no_numbers() -> None:
    found = sensitivities(10.0, surface_temperature(10.0, Optics(0.1, 25.0)).value_c, Optics(0.1, 25.0))
    assert np.isnan(found.gain)


@given(SURFACE_C, OPTICS)
def test_a_reading_lies_between_the_part_and_what_it_is_mixed_with(surface_c: float, optics: Optics) -> None:
    seen = float(apparent_temperature(surface_c, optics).value)
    mixed = [surface_c, optics.reflected_c, optics.air_c]
    if optics.window:
        mixed += [optics.window_c, optics.window_reflected_c]
    assert min(mixed) - 1e-4 <= seen <= max(mixed) + 1e-4
    assert band_radiance(seen) > 0
