"""Temperatures in the unit of their reader: °C → °F is ×9/5 + 32, a difference is ×9/5 alone.

Values worked by hand; 0 °C = 32 °F, 100 °C = 212 °F and −40 of both are common knowledge.
"""

from collections.abc import Iterator

import pytest

from service.domain.words import TemperatureUnit, Trend
from service.errors import Problem
from service.pages import view
from service.pages.templating import environment, in_own_words
from service.pages.view import TrendFacts, units

G = "\u00a0"


@pytest.fixture
def fahrenheit() -> Iterator[None]:
    units.read_in(TemperatureUnit.FAHRENHEIT)
    yield
    units.read_in(TemperatureUnit.CELSIUS)


@pytest.mark.usefixtures("fahrenheit")
@pytest.mark.parametrize(
    ("celsius", "said"), [(100, "212.0"), (0, "32.0"), (-40, "−40.0"), (36.7, "98.1"), (None, "–")]
)
def test_a_temperature_is_told_by_nine_fifths_and_thirty_two(celsius: float | None, said: str) -> None:
    assert view.bare_celsius(celsius) == said
    assert view.celsius(celsius) == (said if celsius is None else f"{said}{G}°F")


@pytest.mark.usefixtures("fahrenheit")
def test_a_difference_is_told_by_nine_fifths_alone() -> None:
    assert view.kelvin(10.0) == f"18.0{G}°F"
    assert view.kelvin(0.0) == f"0.0{G}°F"
    assert view.kelvin_range(1.0, 2.0) == f"1.8 to 3.6{G}°F"
    assert view.signed_kelvin(-5.0) == "−9.0"
    assert view.line_value(15.0) == f"27{G}°F"
    assert view.line_value(3.5) == f"6.3{G}°F"
    assert view.line_value(80.0, "°C") == f"176{G}°F"
    assert view.plain_with_unit(5.0, "K") == f"9{G}°F"


@pytest.mark.usefixtures("fahrenheit")
def test_an_uncertainty_is_a_difference_even_beside_a_temperature() -> None:
    # u 0.5 K: U = 1.0 K = 1.8 °F, and never 33.8
    assert view.measured(100.0, 0.5, "°C") == f"212.0 ± 1.8{G}°F"
    assert view.measured(10.0, 0.5) == f"18.0 ± 1.8{G}°F"


@pytest.mark.usefixtures("fahrenheit")
def test_digits_are_decided_on_the_figure_that_is_told() -> None:
    # u 3 K: U = 6.0 K by its two digits, but 10.8 °F is told as 11, and the figure to the same place
    assert view.measured(20.0, 3.0) == f"36 ± 11{G}°F"
    # what could be missed is rounded up after it is converted: 1.2 K is 2.16 °F
    assert view.at_most_hidden(1.2) == f"3{G}°F"
    assert view.at_most_hidden(1.0) == f"1.8{G}°F"


@pytest.mark.usefixtures("fahrenheit")
def test_a_slope_is_a_difference_too() -> None:
    assert view.slope(0.5, 0.4, 0.6) == f"0.9{G}°F a month (0.7 to 1.1)"
    assert view.slope(0.055) == f"0.1{G}°F a month"
    facts = TrendFacts(Trend.RISING, slope_k_month=0.5, low=0.4, high=0.6, visits=9)
    assert "0.9" in view.trend_sentence(facts)


def test_who_chose_nothing_reads_celsius_and_kelvin() -> None:
    assert view.celsius(100.0) == f"100.0{G}°C"
    assert view.kelvin(10.0) == f"10.0{G}K"
    assert view.own_words("12.0 K over air") == "12.0 K over air"
    assert view.unboxed("36,7", "°C") == "36,7"


@pytest.mark.usefixtures("fahrenheit")
@pytest.mark.parametrize(
    ("kept", "told"),
    [
        ("At least Plan repair: 12.0 K over its like parts, load 30 %.", "21.6 °F over its like parts, load 30 %"),
        ("3 probable: 4–15 K", "3 probable: 7.2–27 °F"),
        ("over 10 to 20 K", "over 18 to 36 °F"),
        ("must be between -90 and 1000 °C.", "must be between -130 and 1832 °F."),
        ("Hot part (120.5 °C, now 30.0 °C)", "(248.9 °F, now 86.0 °F)"),
        ("Bearings up to 80 °C [common practice, no source]", "up to 176 °F ["),
        ("Look again: 3 K: locked", "5.4 °F: locked"),
        ("K: locked or no permit; Pump 3", "K: locked or no permit; Pump 3"),
        ("cable K2 and 5 KV", "cable K2 and 5 KV"),
    ],
)  # fmt: skip
def test_a_kept_sentence_is_told_in_the_readers_unit(kept: str, told: str) -> None:
    assert told in view.own_words(kept)


@pytest.mark.usefixtures("fahrenheit")
def test_only_a_title_of_ours_is_translated() -> None:
    assert view.own_title("Hot part off the round, 100 °C") == "Hot part off the round, 212 °F"
    assert view.own_title("Seen at 100 °C by Ann") == "Seen at 100 °C by Ann"


@pytest.mark.usefixtures("fahrenheit")
@pytest.mark.parametrize(
    "kept", ["36.7", "0", "-17.12345", "100", "1234.5", "99.444444444", "36.71234567891"]
)
def test_what_a_box_shows_comes_back_as_it_was_kept(kept: str) -> None:
    for unit in ("°C", "K"):
        assert view.unboxed(view.boxed(kept, unit), unit, kept=kept) == kept
    if len(kept.partition(".")[2]) <= 5:
        assert view.unboxed(view.boxed(kept, "°C"), "°C") == kept


@pytest.mark.usefixtures("fahrenheit")
@pytest.mark.parametrize("typed", ["212", "211", "98.6", "0", "-40", "98,6", "1000.123456"])
def test_what_is_typed_in_fahrenheit_is_shown_as_typed_afterwards(typed: str) -> None:
    assert view.boxed(view.unboxed(typed, "°C"), "°C") == typed.replace(",", ".")
    assert view.boxed(view.unboxed(typed, "K"), "K") == typed.replace(",", ".")


@pytest.mark.usefixtures("fahrenheit")
def test_what_is_no_number_is_left_for_its_reader_to_refuse() -> None:
    for text in ("", "hot", "1e999", "NaN", "36.7 °F", "−"):
        assert view.unboxed(text, "°C") == text
    assert view.unboxed("5", "A") == "5"


@pytest.mark.usefixtures("fahrenheit")
def test_a_problem_tells_the_range_in_the_unit_that_was_typed() -> None:
    refused = Problem("row 1", "ambient_c", "148.888888889", "Outside -60 to 80 °C.", "Correct it.")
    told = in_own_words([refused], {"ambient_c": "300"})
    assert (told[0].found, told[0].message) == ("300", "Outside -76 to 176 °F.")


def test_a_template_is_compiled_for_no_ones_unit() -> None:
    page = environment().from_string(
        '{% import "parts/fields.html" as fields %}{{ kelvin_word() }}{{ fields.number("x", "X", "1", unit="K") }}'
    )
    units.read_in(TemperatureUnit.FAHRENHEIT)
    first = page.render(problems=())
    units.read_in(TemperatureUnit.CELSIUS)
    second = page.render(problems=())
    assert first.count("°F") == 2
    assert "°F" not in second
