"""Absolute limits: the lower of two coatings, the side of 1 kV, and classes that never accuse."""

import pytest

from service.domain.bands import HIGH_VOLTAGE, LOW_VOLTAGE, Confidence, Limit
from service.domain.limits import INSULATION_CLASSES_C, LimitBook, coatings_of, insulation_words, voltage_side
from service.domain.presets import TWO_COLUMN
from service.domain.words import PointKind, ReferenceKind
from tests.domain.views import alone


def limit(total_c: float, *, voltage: str = "", coating: str = "") -> Limit:
    return Limit(
        "bolted joint", ("bolted",), coating, "air", total_c, None, "own", Confidence.OWN, voltage=voltage
    )


@pytest.mark.parametrize(
    ("coating", "total_c"), [("bare", 90), ("silver", 115), ("bare / silver", 90), ("Ag+Sn", 105), ("", None)]
)
def test_of_two_coatings_in_one_joint_the_lower_limit_holds(coating: str, total_c: float | None) -> None:
    # IEC 60694 Table 3, bolted joints in air: bare 90, tin 105, silver 115 °C
    found = TWO_COLUMN.book.find("Bolted joint", coating, "air")
    assert (found and found.total_c) == total_c


def test_a_limit_of_one_side_of_1_kv_holds_there_only() -> None:
    book = LimitBook([limit(80, voltage=LOW_VOLTAGE), limit(95, voltage=HIGH_VOLTAGE), limit(120)])
    found = [book.find("bolted lug", "", "air", told) for told in ("400 V", "11 kV", "", "auxiliary")]
    assert [one and one.total_c for one in found] == [80, 95, 120, 120]


@pytest.mark.parametrize(
    ("told", "side"),
    [
        ("400 V", LOW_VOLTAGE),
        ("0,4 kV", LOW_VOLTAGE),
        ("1000 V", LOW_VOLTAGE),
        ("11 kV", HIGH_VOLTAGE),
        ("11/0.4 kV", HIGH_VOLTAGE),
        ("low voltage", LOW_VOLTAGE),
        ("MV", HIGH_VOLTAGE),
        ("", ""),
        ("B2", ""),
    ],
)
def test_a_voltage_in_words_lies_on_one_side_of_1_kv_or_does_not_say(told: str, side: str) -> None:
    assert voltage_side(told) == side


@pytest.mark.parametrize("insulation_class", INSULATION_CLASSES_C)
def test_no_casing_is_held_against_the_class_of_its_insulation(insulation_class: str) -> None:
    assert "no casing shows" in insulation_words(insulation_class)
    past = INSULATION_CLASSES_C[insulation_class] + 40.0 - 20.0
    verdict = alone(past, kind=PointKind.MOTOR, component=f"frame, class {insulation_class}")
    assert verdict.rule != "1a.2 limit"
    assert verdict.level is None
    assert verdict.reference is ReferenceKind.AIR


def test_a_class_nobody_knows_says_nothing() -> None:
    assert insulation_words("Z") == ""


def test_coatings_are_read_from_words_and_signs() -> None:
    assert coatings_of("tinned copper / silver-plated") == ("tin", "silver")
    assert coatings_of("Cu, Sn") == ("bare", "tin")
    assert coatings_of("painted") == ()
