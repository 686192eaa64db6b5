"""Thermal classes of insulation: what a plate's letter means, told and never compared."""

import pytest

from service.domain.limits import INSULATION_CLASSES_C, insulation_words

PUBLISHED = "published"
SOURCE = "IEC 60085, thermal classes"

TABLE = [("Y", 90), ("A", 105), ("E", 120), ("B", 130), ("F", 155), ("H", 180)]


@pytest.mark.parametrize(
    ("letter", "limit_c"),
    [pytest.param(*row, id=f"{SOURCE}, class {row[0]} [{PUBLISHED}]") for row in TABLE],
)
def test_a_class_is_told_with_its_published_temperature(letter: str, limit_c: int) -> None:
    assert f"{limit_c} °C in the winding" in insulation_words(letter)


def test_no_class_is_told_that_the_standard_does_not_name_here() -> None:
    assert dict(TABLE) == INSULATION_CLASSES_C


def test_class_f_is_its_air_its_rise_and_its_hot_spot() -> None:
    # rise by resistance at service factor 1.0, NEMA MG 1: 40 °C of air + 105 K + 10 K hot spot
    assert INSULATION_CLASSES_C["F"] == 40 + 105 + 10
