"""What is asked about in a returned row, and what is left alone."""

from dataclasses import dataclass
from datetime import date
from time import perf_counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.oddities import (
    OddityCode,
    PointPast,
    fahrenheit_in_file,
    odd_date,
    odd_in_row,
    odd_in_view,
)

USUAL = PointPast.of([34.2, 36.0, 38.1, 35.5])


@dataclass(frozen=True)
class Row:
    temperature_c: float | None = 36.7
    ambient_c: float | None = 21.0
    current_a: float | None = 180.0


def codes(row: Row, past: PointPast | None = USUAL, rated: float | None = 400.0) -> list[OddityCode]:
    return [odd.code for odd in odd_in_row(row, past, rated_current_a=rated)]


def test_an_ordinary_row_raises_no_question():
    assert codes(Row()) == []


def test_an_empty_row_raises_no_question():
    assert codes(Row(None, None, None)) == []


@pytest.mark.parametrize(
    ("typed", "mended"), [(367.0, "36.7"), (3.67, "36.7"), (3670.0, "36.7"), (0.367, "36.7")], ids=str
)
def test_a_slipped_digit_is_asked_about_with_the_likely_figure(typed, mended):
    (odd,) = odd_in_row(Row(typed, None), USUAL, rated_current_a=None)
    assert odd.code is OddityCode.DIGIT_SLIP
    assert odd.field == "temperature_c"
    assert f"was it {mended} °C?" in odd.sentence
    assert "35.75 °C" in odd.sentence


def test_a_real_fault_is_not_taken_for_a_slip():
    assert codes(Row(temperature_c=95.0)) == []
    assert codes(Row(temperature_c=52.0)) == []


def test_winter_readings_near_a_tenth_of_summer_ones_are_left_alone():
    yard = PointPast.of([4.0, 12.0, 28.0, 35.0])
    assert codes(Row(temperature_c=3.5, ambient_c=2.0), yard) == []


def test_a_point_never_read_cannot_have_slipped():
    assert codes(Row(temperature_c=240.0), None) == []


@pytest.mark.parametrize("typed", [-45.0, 400.0, 1200.0])
def test_an_unlikely_temperature_is_asked_about_even_without_a_past(typed):
    assert codes(Row(temperature_c=typed, ambient_c=None), None) == [OddityCode.UNLIKELY]


def test_a_furnace_wall_that_is_always_hot_is_not_unlikely():
    assert codes(Row(temperature_c=610.0), PointPast.of([595.0, 603.0])) == []


@pytest.mark.parametrize("air", [-40.0, 77.0])
def test_an_unlikely_air_temperature_is_asked_about(air):
    (odd,) = odd_in_row(Row(ambient_c=air), USUAL, rated_current_a=None)
    assert (odd.code, odd.field) == (OddityCode.UNLIKELY, "ambient_c")


@pytest.mark.parametrize(("air", "asked"), [(37.7, False), (37.8, True)])
def test_air_hotter_than_the_part_is_asked_about_beyond_one_kelvin(air, asked):
    assert (OddityCode.AIR_ABOVE_PART in codes(Row(ambient_c=air))) is asked


@pytest.mark.parametrize(("amps", "asked"), [(400.0, False), (400.1, True)])
def test_load_above_the_rating_is_asked_about(amps, asked):
    assert (OddityCode.ABOVE_RATING in codes(Row(current_a=amps))) is asked


def test_without_a_rating_no_load_is_above_it():
    assert codes(Row(current_a=9000.0), rated=None) == []


def test_two_things_wrong_in_one_row_are_both_asked_about():
    assert codes(Row(temperature_c=3.67, current_a=900.0)) == [
        OddityCode.DIGIT_SLIP,
        OddityCode.AIR_ABOVE_PART,
        OddityCode.ABOVE_RATING,
    ]


FIRST, LAST = date(2026, 12, 1), date(2026, 12, 8)


@pytest.mark.parametrize("day", [FIRST, date(2026, 12, 5), LAST])
def test_days_of_the_round_are_fine(day):
    assert odd_date(day, first_day=FIRST, last_day=LAST) is None


@pytest.mark.parametrize(
    ("day", "told"),
    [
        (date(2025, 12, 5), "Taken on 5 Dec 2025, before 1 Dec 2026: outside the round."),
        (date(2026, 12, 9), "Taken on 9 Dec 2026, after 8 Dec 2026: outside the round."),
    ],
    ids=["last year", "tomorrow"],
)
def test_a_day_outside_the_round_is_asked_about(day, told):
    odd = odd_date(day, first_day=FIRST, last_day=LAST)
    assert odd is not None
    assert (odd.code, odd.field, odd.sentence) == (OddityCode.OUTSIDE_ROUND, "taken_at", told)


def view_codes(now, last, currents=()) -> list[OddityCode]:
    return [odd.code for odd in odd_in_view(now, last, currents_a=currents)]


def test_three_phases_exactly_as_last_time_are_asked_about():
    (odd,) = odd_in_view([36.7, 38.1, 35.0], [36.7, 38.1, 35.0])
    assert odd.code is OddityCode.COPIED
    assert odd.sentence == "All as last time: 36.7 °C, 38.1 °C, 35 °C."


@pytest.mark.parametrize(
    ("now", "last"),
    [
        ([36.7, 38.1, 35.0], [36.7, 38.1, 35.1]),
        ([36.7, None, 35.0], [36.7, None, 35.0]),
        ([36.7, 38.1], [None, None]),
        ([36.7], [36.7]),
        ([], []),
    ],
    ids=["one changed", "one not read", "first visit", "a single part", "no part"],
)
def test_less_than_a_whole_view_alike_is_no_copy(now, last):
    assert view_codes(now, last) == []


@pytest.mark.parametrize(
    ("currents", "asked"),
    [
        ([180, 200, 190], False),
        ([179.9, 200, 190], True),
        ([200, None, 100], True),
        ([200, None, None], False),
        ([0, 0, 0], False),
        ([], False),
    ],
    ids=["ten per cent", "over ten", "two known", "one known", "off", "none"],
)
def test_phase_currents_over_ten_per_cent_apart_are_asked_about(currents, asked):
    """Ten per cent of the largest: the bound of like parts (standards.md §1a.0, §1a.5)."""
    found = view_codes([30.0, 31.0, 32.0], [None, None, None], currents)
    assert found == ([OddityCode.UNEQUAL_CURRENTS] if asked else [])


def test_a_file_in_fahrenheit_is_asked_about_once():
    usual = [36.0, 41.5, 33.0, 28.0, 52.0]
    odd = fahrenheit_in_file([(c * 1.8 + 32 + k - 2, c) for k, c in enumerate(usual)])
    assert odd is not None
    assert odd.code is OddityCode.FAHRENHEIT
    assert "5 of 5" in odd.sentence


@pytest.mark.parametrize(
    "rows",
    [
        [],
        [(97.0, 36.0), (104.0, 41.5)],
        [(36.0, 36.0), (41.0, 41.5), (97.0, 36.0), (34.0, 33.0)],
        [(95.0, 36.0), (36.5, 36.0), (34.0, 33.0), (30.0, 31.0)],
    ],
    ids=["empty", "two rows", "one of four", "one hot part"],
)
def test_a_file_in_celsius_is_left_alone(rows):
    assert fahrenheit_in_file(rows) is None


@given(
    typed=st.floats(-60, 2000),
    air=st.none() | st.floats(-60, 100),
    amps=st.none() | st.floats(0, 1e5),
    past=st.lists(st.floats(-60, 2000), max_size=6),
)
def test_every_question_names_its_field_and_ends_as_sentences_do(typed, air, amps, past):
    for odd in odd_in_row(Row(typed, air, amps), PointPast.of(past), rated_current_a=400.0):
        assert odd.field in {"temperature_c", "ambient_c", "current_a"}
        assert odd.sentence[-1] in ".?"
        assert odd.remedy.endswith(".")


def test_two_thousand_rows_are_looked_at_in_a_blink():
    """Goal 10 µs a row; ten times as much allowed here, for a busy machine."""
    rows = [Row(30.0 + k % 60, 20.0, 100.0 + k % 350) for k in range(2000)]
    begun = perf_counter()
    for row in rows:
        odd_in_row(row, USUAL, rated_current_a=400.0)
    assert perf_counter() - begun < 0.2
