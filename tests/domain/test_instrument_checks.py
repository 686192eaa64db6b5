"""A check against a reference: how far off, and whether that is within what the maker allows.

What is allowed is ± a temperature or ± a share of the reading, whichever is larger, as data sheets of
infrared instruments state it (common practice, no source); the figures are worked by hand.
"""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.domain.instrument_checks import (
    Accuracy,
    CheckedInstrument,
    CheckFields,
    InstrumentCheck,
    Occasion,
    Outcome,
    in_doubt,
    standing,
)

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def check(shown_c: float | None, reference_c: float | None = 35.0, **change: Any) -> InstrumentCheck:
    accuracy = change.pop("accuracy", Accuracy(2.0, 2.0))
    camera = CheckedInstrument(change.pop("instrument_id", 1), 1, "Camera", "IR-1", "camera", accuracy, False)
    fields: dict[str, Any] = {
        "id": 1, "instrument": camera, "round_id": None, "round_code": "", "at": NOW,
        "occasion": Occasion.START, "reference_c": reference_c, "shown_c": shown_c, "note": "", "by": "A",
    } | change  # fmt: skip
    return InstrumentCheck(**fields)


@pytest.mark.parametrize(
    ("accuracy", "shown_c", "allowed_k"),
    [
        (Accuracy(2.0, 2.0), 35.0, 2.0),  # 2 % of 35 °C is 0.7 K
        (Accuracy(2.0, 2.0), 150.0, 3.0),
        (Accuracy(2.0, None), 500.0, 2.0),
        (Accuracy(None, 1.0), -20.0, 0.2),
        (Accuracy(None, None), 35.0, None),
    ],
)
def test_the_larger_of_kelvin_and_share_is_allowed(
    accuracy: Accuracy, shown_c: float, allowed_k: float | None
) -> None:
    assert accuracy.allowed_k(shown_c) == (None if allowed_k is None else pytest.approx(allowed_k))


@pytest.mark.parametrize(
    ("shown_c", "outcome"),
    [
        (37.0, Outcome.WITHIN),
        (33.0, Outcome.WITHIN),
        (37.1, Outcome.OUTSIDE),
        (32.9, Outcome.OUTSIDE),
        (None, Outcome.UNKNOWN),
    ],
)
def test_a_deviation_up_to_the_accuracy_passes_and_beyond_it_fails_either_way(
    shown_c: float | None, outcome: Outcome
) -> None:
    assert check(shown_c).outcome is outcome


def test_two_kelvin_typed_as_tenths_are_two_kelvin() -> None:
    """32.2 − 30.2 is a little more than two in binary."""
    assert 32.2 - 30.2 > 2.0
    assert check(32.2, 30.2).outcome is Outcome.WITHIN


def test_without_an_accuracy_on_record_nothing_is_said_to_pass() -> None:
    assert check(35.0, accuracy=Accuracy(None, None)).outcome is Outcome.UNKNOWN


def test_a_check_that_is_repeated_stands_for_the_one_before() -> None:
    first = check(39.0)
    again = check(35.5, id=2, at=NOW + timedelta(minutes=20))
    end = check(38.0, id=3, at=NOW + timedelta(hours=5), occasion=Occasion.END)
    other = check(39.0, id=4, instrument_id=2)
    assert standing([end, again, first, other]) == (other, again, end)
    assert in_doubt([end, again, first, other]) == (other, end)


def test_every_problem_of_a_check_is_told_at_once() -> None:
    typed = CheckFields("sometime", NOW + timedelta(minutes=1), None, 5000.0)
    assert {problem.field for problem in typed.problems(NOW)} == {"occasion", "at", "reference_c", "shown_c"}
    assert CheckFields("end", NOW, 35.0, 35.2).problems(NOW) == []
