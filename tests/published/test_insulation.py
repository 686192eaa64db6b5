"""Thermal classes of insulation: what a plate's letter means, told and never compared."""

import pytest

from service.domain.limits import INSULATION_CLASSES_C, insulation_words
from service.domain.words import PointKind
from tests.domain.views import AIR_C, alone
from tests.published.evidence import GUARD, MEMORY, PRACTICE, PUBLISHED, evidence, named, told

SOURCE = "IEC 60085, thermal classes"

TABLE = [("Y", 90), ("A", 105), ("E", 120), ("B", 130), ("F", 155), ("H", 180)]


@pytest.mark.parametrize(
    ("letter", "limit_c"),
    [pytest.param(*row, id=told(SOURCE, f"class {row[0]}", PUBLISHED)) for row in TABLE],
)
def test_a_class_is_told_with_its_published_temperature(letter: str, limit_c: int) -> None:
    assert f"{limit_c} °C in the winding" in insulation_words(letter)


@evidence(SOURCE, "every class", GUARD)
def test_no_class_is_told_that_the_standard_does_not_name_here() -> None:
    assert dict(TABLE) == INSULATION_CLASSES_C


NEMA = "NEMA MG 1, rise by resistance at 40 °C, service factor 1.0"
# class, rise K, allowance for the hot spot K; source, clause, kind
MOTORS = [
    ("A", 60, 5, NEMA, "class A: 60 K", MEMORY),
    ("B", 80, 10, NEMA, "class B: 80 K", MEMORY),
    ("F", 105, 10, NEMA, "class F: 105 K", PUBLISHED),
    ("H", 125, 15, NEMA, "class H: 125 K", MEMORY),
]


@pytest.mark.parametrize(("letter", "rise_k", "hot_spot_k"), named(MOTORS))
def test_a_class_is_its_air_its_rise_and_its_hot_spot(letter: str, rise_k: int, hot_spot_k: int) -> None:
    """The rises are published; of the allowances only that of class F was read in a source."""
    assert INSULATION_CLASSES_C[letter] == 40 + rise_k + hot_spot_k


# K that a casing is cooler than its winding; source, clause, kind
CASINGS = [
    (20.0, "Casing and winding", "a casing 20 K cooler", PRACTICE),
    (25.0, "Casing and winding", "a casing 25 K cooler", PRACTICE),
]


@pytest.mark.parametrize("cooler_k", named(CASINGS))
@pytest.mark.parametrize("letter", INSULATION_CLASSES_C)
def test_a_casing_is_never_held_against_the_class(letter: str, cooler_k: float) -> None:
    """A winding at the limit of its class or 30 K past it: the casing alone gives no limit."""
    for past_k in (0.0, 30.0):
        casing_c = INSULATION_CLASSES_C[letter] + past_k - cooler_k
        verdict = alone(casing_c - AIR_C, kind=PointKind.MOTOR, boxes={"insulation_class": letter})
        assert (verdict.level, verdict.rule != "1a.2 limit") == (None, True)


@evidence(SOURCE, "class F: 40 + 105 + 10 = 155", PUBLISHED)
def test_class_f_is_its_air_its_rise_and_its_hot_spot() -> None:
    # rise by resistance at service factor 1.0, NEMA MG 1: 40 °C of air + 105 K + 10 K hot spot
    assert INSULATION_CLASSES_C["F"] == 40 + 105 + 10
