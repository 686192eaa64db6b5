"""The figure of a sheet row above which control is told (standards.md §1a *Trigger*)."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.presets import TWO_COLUMN
from service.domain.triggers import RowPoint, Trigger, trigger
from service.domain.words import PointKind, ReferenceKind

LIKE, AIR = ReferenceKind.LIKE_PARTS, ReferenceKind.AIR
OWN, SHARE = ReferenceKind.BASELINE, ReferenceKind.RATED_SHARE


def row(kind: PointKind = PointKind.JOINT, reference: ReferenceKind = LIKE, **fields: Any) -> Trigger | None:
    return trigger(RowPoint(kind=kind, reference=reference, **fields), TWO_COLUMN)


@pytest.mark.parametrize(
    ("kind", "reference", "fields", "at_expected", "at_least_load"),
    [
        (PointKind.JOINT, LIKE, {"expected_load": 1.0}, 15, 2),
        (PointKind.JOINT, LIKE, {"expected_load": 0.8}, 9, 2),
        (PointKind.JOINT, LIKE, {"expected_load": 1.2}, 15, 2),
        (PointKind.JOINT, LIKE, {"expected_load": 0.1}, 2, 2),
        (PointKind.JOINT, LIKE, {}, 15, 2),
        (PointKind.JOINT, AIR, {"expected_load": 0.5}, 10, 6),
        (PointKind.JOINT, OWN, {"expected_load": 1.0, "baseline_k": 12.5}, 52, 8),
        (PointKind.JOINT, SHARE, {"expected_load": 1.0, "rated_rise_k": 50.0}, 60, 9),
        (
            PointKind.JOINT,
            SHARE,
            {"expected_load": 1.0, "rated_rise_k": 50.0, "common_to_rating": 0.5},
            15,
            2,
        ),
        (PointKind.JOINT, SHARE, {"rated_rise_k": 50.0, "common_to_rating": 1.5}, 60, 9),
        (PointKind.TRANSFORMER, LIKE, {"expected_load": 0.5}, 15, 15),
        (PointKind.TRANSFORMER, SHARE, {"rated_rise_k": 60.0, "common_to_rating": 0.5}, 72, 72),
        (PointKind.MOTOR, OWN, {"baseline_k": 22.7}, 62, 62),
        (PointKind.BEARING, OWN, {"baseline_k": 15.0, "expected_load": 0.5}, 55, 55),
    ],
)
def test_figure(
    kind: PointKind, reference: ReferenceKind, fields: dict[str, Any], at_expected: int, at_least_load: int
) -> None:
    found = row(kind, reference, **fields)
    assert found is not None
    assert (found.at_expected_load_k, found.at_least_load_k) == (at_expected, at_least_load)


@pytest.mark.parametrize(
    ("kind", "reference", "fields"),
    [
        (PointKind.JOINT, OWN, {}),
        (PointKind.JOINT, SHARE, {}),
        (PointKind.MOTOR, AIR, {}),
        (PointKind.TRANSFORMER, AIR, {}),
        (PointKind.STEAM_TRAP, AIR, {}),
        (PointKind.TRANSFORMER, LIKE, {"component": "tap changer"}),
    ],
)
def test_a_row_without_a_line_has_no_figure(
    kind: PointKind, reference: ReferenceKind, fields: dict[str, Any]
) -> None:
    assert row(kind, reference, **fields) is None


def test_a_bearing_beside_another_is_told_over_air_and_not_over_its_neighbour() -> None:
    found = row(PointKind.BEARING, LIKE, baseline_k=15.0)
    assert found is not None
    assert "55 K over air" in found.sentence


def test_what_is_printed() -> None:
    scaled = row(expected_load=0.8)
    assert scaled is not None
    assert scaled.sentence == (
        "Tell control above 9 K over its like parts (2 K at 40 % load). Below it nothing is cleared."
    )
    bearing = row(PointKind.BEARING, OWN, baseline_k=15.0)
    assert bearing is not None
    assert bearing.sentence == (
        "Tell control above 55 K over air or 80 °C on the part. Below it nothing is cleared."
    )
    new = row(PointKind.BEARING, OWN)
    assert new is not None
    assert new.sentence == "Tell control above 80 °C on the part. Below it nothing is cleared."


@given(st.floats(0.4, 1.5))
def test_less_load_never_raises_the_figure_and_it_is_never_above_the_line(load: float) -> None:
    found = row(expected_load=load)
    assert found is not None
    assert found.at_least_load_k is not None
    assert found.at_expected_load_k is not None
    assert found.at_least_load_k <= found.at_expected_load_k <= 15
