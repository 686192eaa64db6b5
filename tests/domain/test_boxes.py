"""Boxes by kind of point: every kind has them, and answers are read with all problems told."""

import json

import pytest

from service.domain.boxes import Answer, BoxValue, box_keys, boxes_of, read_boxes
from service.domain.words import PointKind

ANSWERS: dict[BoxValue, Answer] = {
    BoxValue.TEMPERATURE: 21.5,
    BoxValue.NUMBER: 1.0,
    BoxValue.YES_OR_NO: False,
    BoxValue.TEXT: "9b",
}


@pytest.mark.parametrize("kind", PointKind)
def test_every_kind_asks_and_says_why(kind: PointKind) -> None:
    boxes = boxes_of(kind)
    assert boxes
    assert len({box.key for box in boxes}) == len(boxes)
    for box in boxes:
        assert box.label
        assert box.why.endswith(".")
        numeric = box.value in (BoxValue.NUMBER, BoxValue.TEMPERATURE)
        assert numeric == (box.low < box.high)
        assert (box.value is BoxValue.WORD) == bool(box.words)


@pytest.mark.parametrize("kind", PointKind)
def test_answers_are_read_alike_again_after_json(kind: PointKind) -> None:
    typed = {box.key: box.words[0] if box.words else ANSWERS[box.value] for box in boxes_of(kind)}
    values, problems = read_boxes(kind, typed)
    assert problems == []
    assert values == typed
    assert read_boxes(kind, json.loads(json.dumps(values))) == (values, [])


def test_one_key_is_one_question_in_every_kind_that_asks_it() -> None:
    asked: dict[str, object] = {}
    for kind in PointKind:
        for box in boxes_of(kind):
            assert asked.setdefault(box.key, box) == box
    assert set(box_keys()) == set(asked)


def test_a_box_of_one_component_is_asked_of_it_only() -> None:
    belt = {box.key for box in boxes_of(PointKind.COUPLING, "V-belt")}
    assert belt - {box.key for box in boxes_of(PointKind.COUPLING, "jaw coupling")} == {"slip_seen"}
    assert "main_tank_c" in {box.key for box in boxes_of(PointKind.TRANSFORMER, "Tap changer tank")}


def test_every_problem_of_a_row_is_told_at_once() -> None:
    values, problems = read_boxes(
        PointKind.STEAM_TRAP,
        {
            "inlet_c": "hot",
            "outlet_c": 900,
            "line_pressure_bar": True,
            "discharge_heard": "hissing",
            "wind": 3,
        },
        where="row 14",
    )
    assert values == {}
    assert [(p.where, p.field) for p in problems] == [
        ("row 14", field) for field in ("inlet_c", "outlet_c", "line_pressure_bar", "discharge_heard", "wind")
    ]
    assert all(p.message and p.remedy for p in problems)


def test_fahrenheit_is_kept_as_celsius_and_other_numbers_as_they_are() -> None:
    typed = {"inlet_c": "327.2", "line_pressure_bar": "7"}
    values, problems = read_boxes(PointKind.STEAM_TRAP, typed, fahrenheit=True)
    assert problems == []
    assert values == {"inlet_c": pytest.approx(164.0), "line_pressure_bar": 7.0}


def test_a_method_that_agrees_has_a_name() -> None:
    _, problems = read_boxes(PointKind.BEARING, {"second_method_agrees": "yes"})
    assert [p.field for p in problems] == ["second_method"]
    named = {"second_method": "Vibration", "second_method_agrees": "yes"}
    assert read_boxes(PointKind.BEARING, named) == (
        {"second_method": "vibration", "second_method_agrees": True},
        [],
    )


@pytest.mark.parametrize("cell", ["x" * 121, "9\x00", True])
def test_a_text_that_no_database_holds_is_refused(cell: str | bool) -> None:
    values, problems = read_boxes(PointKind.TRANSFORMER, {"load_tap": cell})
    assert values == {}
    assert [p.field for p in problems] == ["load_tap"]


def test_a_tap_typed_as_a_number_is_its_text() -> None:
    assert read_boxes(PointKind.TRANSFORMER, {"load_tap": 9.0}) == ({"load_tap": "9"}, [])


def test_empty_boxes_are_no_answers() -> None:
    assert read_boxes(PointKind.FUSE, {"warm_end": " ", "fuse_rating_a": None, "kettle": ""}) == ({}, [])
