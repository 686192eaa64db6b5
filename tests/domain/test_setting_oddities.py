"""What is asked about in how a part was seen, and what is left alone."""

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import pytest

from service.domain.oddities import Oddity, OddityCode
from service.domain.setting_oddities import odd_in_settings, overdue
from service.domain.settings import NO_SETTINGS, Instrument, PointOptics, resolve
from service.domain.words import SettingSource

CAMERA = Instrument("IR-1", range_low_c=-20.0, range_high_c=120.0, ifov_mrad=2.7271)


@dataclass(frozen=True)
class Seen:
    """A reading with nothing odd in it."""

    temperature_c: float | None = 41.0
    ambient_c: float | None = 22.0
    reflected_c: float | None = 24.0
    reflected_standing: SettingSource | None = None
    humidity_percent: float | None = 45.0
    wind_m_s: float | None = None
    current_a: float | None = 90.0
    distance_m: float | None = 1.0
    minutes_at_load: float | None = None
    emissivity: float | None = None
    emissivity_standing: SettingSource | None = None
    emissivity_set: float | None = 0.95
    reflected_set_c: float | None = 20.0
    transmission_set: float | None = None
    through_window: bool | None = None
    window_transmission: float | None = None
    window_c: float | None = None
    path_transmission: float | None = None


SMALL = PointOptics(target_mm=10.0)


@dataclass(frozen=True)
class Part:
    emissivity: float | None = None
    optics: PointOptics = SMALL
    common_load_a: float | None = 100.0
    rated_current_a: float | None = None


def odd(part: Part | None = None, *, outdoor: bool = False, **seen: Any) -> list[Oddity]:
    inputs = resolve(replace(Seen(), **seen), part or Part(), of_round=NO_SETTINGS, instrument=CAMERA)
    return odd_in_settings(inputs, CAMERA, outdoor=outdoor)


def test_an_ordinary_reading_raises_no_question() -> None:
    assert odd() == []


def test_a_reading_without_any_setting_raises_no_question() -> None:
    nothing: dict[str, Any] = dict.fromkeys(Seen.__dataclass_fields__) | {"temperature_c": 41.0}
    assert odd(**nothing) == []


def test_a_row_that_could_not_be_read_raises_none_either() -> None:
    assert odd(temperature_c=None, emissivity_set=0.05, distance_m=50.0, through_window=True) == []


@pytest.mark.parametrize(
    ("seen", "code", "field", "says"),
    [
        ({"emissivity_set": 0.19}, OddityCode.EMISSIVITY, "emissivity_set", "0.19 is set"),
        ({"emissivity": 0.29}, OddityCode.EMISSIVITY, "emissivity", "like parts only"),
        ({"reflected_c": 37.1}, OddityCode.REFLECTED, "reflected_c", "15 K away"),
        ({"reflected_c": -10.0}, OddityCode.REFLECTED, "reflected_c", "32 K away"),
        ({"reflected_set_c": 60.0}, OddityCode.REFLECTED, "reflected_set_c", "38 K away"),
        ({"temperature_c": 120.0}, OddityCode.END_OF_RANGE, "temperature_c", "may be hotter"),
        ({"temperature_c": -20.0}, OddityCode.END_OF_RANGE, "temperature_c", "may be colder"),
    ],
    ids=["set too low", "bare metal", "reflected", "cold sky indoors", "reflected set", "top", "bottom"],
)  # fmt: skip
def test_what_is_odd_is_asked_about_in_its_own_box(
    seen: dict[str, Any], code: OddityCode, field: str, says: str
) -> None:
    (asked,) = odd(**seen)
    assert (asked.code, asked.field) == (code, field)
    assert says in asked.sentence
    assert asked.remedy.endswith(".")


@pytest.mark.parametrize(
    "seen",
    [
        {"emissivity_set": 0.2},
        {"emissivity_set": 1.0},
        {"emissivity": 0.3},
        {"reflected_c": 37.0},
        {"reflected_c": 7.0},
        {"reflected_c": 60.0, "ambient_c": None},
        {"temperature_c": 119.9},
        {"distance_m": 1.22},
        {"window_c": 30.0},
        {"through_window": False},
    ],
    ids=str,
)
def test_what_lies_on_the_line_is_left_alone(seen: dict[str, Any]) -> None:
    assert odd(**seen) == []


def test_outdoors_the_sky_may_be_colder_than_the_air() -> None:
    assert odd(reflected_c=-30.0, outdoor=True) == []


def test_the_next_range_is_the_remedy_at_the_end_of_a_range() -> None:
    assert "next higher range" in odd(temperature_c=250.0)[0].remedy
    bottom = odd(temperature_c=-25.0)[0].remedy
    assert "next lower range" in bottom
    assert "No verdict" in bottom


@pytest.mark.parametrize(
    ("distance_m", "target_mm", "says"),
    [(3.0, 10.0, ("25 mm wide", "closer than 1.2 m")), (0.5, 2.0, ("4 mm wide", "closer than 0.24 m"))],
    ids=["25° over 160 px: 10 mm up to 1.22 m", "2 mm up to 0.244 m"],
)
def test_a_part_smaller_than_the_spot_is_told_with_the_distance_that_would_do(
    distance_m: float, target_mm: float, says: tuple[str, str]
) -> None:
    """25° over 160 pixels is 2.7271 mrad: three pixels are 24.54 mm at 3 m, 10 mm fill them up to
    1.22 m (worked by hand: d = target / (3 IFOV)); three pixels are common practice."""
    (asked,) = odd(Part(optics=PointOptics(target_mm=target_mm)), distance_m=distance_m)
    assert (asked.code, asked.field) == (OddityCode.SPOT, "distance_m")
    assert says[0] in asked.sentence
    assert says[1] in asked.remedy


def test_the_distance_of_the_register_counts_where_none_is_typed() -> None:
    (asked,) = odd(Part(optics=PointOptics(target_mm=10.0, distance_m=3.0)), distance_m=None)
    assert asked.code is OddityCode.SPOT


BEHIND = Part(optics=PointOptics(through_window=True))


@pytest.mark.parametrize(
    ("seen", "field", "says"),
    [
        ({}, "window_transmission", "Type both; otherwise it is kept as No verdict."),
        ({"window_c": 30.0}, "window_transmission", "Type it; otherwise it is kept as No verdict."),
        ({"window_transmission": 0.8}, "window_c", "Type it; otherwise it is kept as No verdict."),
        ({"window_transmission": 0.29, "window_c": 30.0}, "window_transmission", "Check the figure;"),
    ],
    ids=["both", "transmission", "temperature", "dim"],
)
def test_a_window_wants_transmission_and_temperature(seen: dict[str, Any], field: str, says: str) -> None:
    (asked,) = odd(BEHIND, **seen)
    assert (asked.code, asked.field) == (OddityCode.WINDOW, field)
    assert asked.remedy.startswith(says)


@pytest.mark.parametrize(
    "seen",
    [{"window_c": 30.0, "window_transmission": 0.8}, {"through_window": False}],
    ids=["described", "through an open cover"],
)
def test_a_window_that_is_described_or_open_is_left_alone(seen: dict[str, Any]) -> None:
    assert odd(BEHIND, **seen) == []


def test_an_overdue_calibration_is_told_with_its_day_and_number() -> None:
    one = overdue("Camera 1", "IR-1", date(2026, 10, 1), readings=1)
    many = overdue("Camera 1", "IR-1", date(2026, 10, 1), readings=40)
    assert "Camera 1 (IR-1) was due for calibration on 1 Oct 2026; 1 reading was taken" in one.sentence
    assert "40 readings were taken" in many.sentence
