"""Boxes that only some kinds ask for, from files and messages: read by kind, refused by row."""

from datetime import date
from typing import Any

import pytest

from service.domain.readings import ExpectedRound, ExpectedRow
from service.domain.round_columns import BY_NAME
from service.domain.words import PointKind, VisitKind
from service.errors import Invalid, Problem
from service.intake.collecting import Problems
from service.intake.matched_rows import ReadRows, match_rows
from service.intake.parsed_rows import parse_rows
from service.intake.raw_rows import RawRows, Ways, rows_of_records, rows_of_tables
from service.intake.tables import read_tables

KINDS = (PointKind.BEARING, PointKind.STEAM_TRAP, PointKind.JOINT)
ROUND = ExpectedRound(
    1,
    "MW-260708-1",
    date(2026, 7, 8),
    420,
    5,
    tuple(
        ExpectedRow(n, f"r{n}", 1, 1, n, 100 + n, 1, "ABC"[n], "", "", kind, VisitKind.ROUTINE, "Europe/London", None)
        for n, kind in enumerate(KINDS)
    ),
    {1: ("S1", "Site 1", "Europe/London")},
    {},
)  # fmt: skip


def read(raw: RawRows) -> tuple[ReadRows, list[Problem]]:
    problems = Problems()
    found = match_rows(parse_rows(raw, problems), ROUND, problems)
    return found, problems.in_row_order


def csv_of(*rows: dict[str, str], titles: dict[str, str] | None = None) -> bytes:
    names = list(
        dict.fromkeys(["round_code", "row_uid", "point_tag", *(name for row in rows for name in row)])
    )
    lines = [";".join((titles or {}).get(name, BY_NAME[name].header) for name in names)]
    lines += [";".join(row.get(name, "") for name in names) for row in rows]
    return "\n".join(lines).encode()


def from_csv(
    *rows: dict[str, str], ways: Ways | None = None, **titles: str
) -> tuple[ReadRows, list[Problem]]:
    return read(rows_of_tables(read_tables(csv_of(*rows, titles=titles)), ways or Ways()))


def test_each_row_answers_the_boxes_of_its_own_kind() -> None:
    found, problems = from_csv(
        {"row_uid": "r0", "temperature_c": "61,5", "speed_rpm": "1485", "second_method": "Vibration"},
        {"row_uid": "r1", "temperature_c": "150,5", "inlet_c": "158,2", "discharge_heard": "in turns"},
        {"row_uid": "r2", "temperature_c": "36,7", "discoloured": "no"},
        {"round_code": "MW-260708-1", "row_uid": "r2", "temperature_c": ""},
    )
    assert not problems
    assert [row.boxes for row in found.rows] == [
        {"speed_rpm": 1485.0, "second_method": "vibration"},
        {"inlet_c": 158.2, "discharge_heard": "in turns"},
        {"discoloured": False},
    ]
    assert found.rows[1].typed["inlet_c"] == "158,2"
    assert found.blank == 1


def test_a_box_of_another_kind_is_a_problem_that_names_its_row_and_column() -> None:
    _, problems = from_csv(
        {"row_uid": "r0", "temperature_c": "61.5", "inlet_c": "158"},
        {"row_uid": "r1", "temperature_c": "150", "inlet_c": "hot", "outlet_c": "900"},
        {"row_uid": "r2", "temperature_c": "36.7", "discoloured": "perhaps"},
    )
    assert [(p.where, p.field, p.found) for p in problems] == [
        ("row 2", "inlet_c", "158"),
        ("row 3", "inlet_c", "hot"),
        ("row 3", "outlet_c", "900"),
        ("row 4", "discoloured", "perhaps"),
    ]
    assert all(p.remedy for p in problems)
    assert "bearing" in problems[0].message


@pytest.mark.parametrize(
    "titles",
    [
        {"temperature_c": "Temperature °F", "inlet_c": "Inlet pipe °F"},
        {"temperature_c": "Temperature °F", "inlet_c": "Inlet pipe °F", "ambient_c": "Ambient °C"},
    ],
    ids=["all", "an empty column may say °C"],
)
def test_a_file_in_fahrenheit_converts_temperatures_in_boxes_and_nothing_else(titles: dict[str, str]) -> None:
    """Temperatures by (t - 32)/1.8; shares, pressures and hours stay (worked by hand)."""
    cells = {"row_uid": "r1", "temperature_c": "302", "inlet_c": "316.76", "line_pressure_bar": "5.5",
             "window_c": "86", "window_transmission": "0.8", "emissivity": "0.9", "distance_m": "3"}  # fmt: skip
    names = (
        titles | {"window_c": "Window °F"} | ({"ambient_c": "Ambient °C"} if "ambient_c" in titles else {})
    )
    cells |= {"ambient_c": ""} if "ambient_c" in titles else {}
    found, problems = read(rows_of_tables(read_tables(csv_of(cells, titles=names)), Ways()))
    assert not problems
    (row,) = found.rows
    assert (row.temperature_c, row.window_c) == (150.0, 30.0)
    assert row.boxes == {"inlet_c": 158.2, "line_pressure_bar": 5.5}
    assert (row.window_transmission, row.emissivity, row.distance_m) == (0.8, 0.9, 3.0)


def test_titles_in_two_units_are_asked_about_and_never_guessed() -> None:
    with pytest.raises(Invalid) as caught:
        from_csv({"row_uid": "r1", "temperature_c": "302", "window_c": "30"}, temperature_c="Temperature °F")
    (problem,) = caught.value.problems
    assert (problem.where, problem.field, problem.found) == (
        "row 1",
        "Window °C",
        "Temperature °F and Window °C",
    )
    found, problems = from_csv(
        {"row_uid": "r1", "temperature_c": "302", "window_c": "86"},
        ways=Ways(temperature_unit="°F"),
        temperature_c="Temperature °F",
    )
    assert not problems
    assert found.rows[0].window_c == 30.0


def test_a_decimal_sign_shows_in_boxes_too() -> None:
    found, problems = from_csv({"row_uid": "r1", "temperature_c": "150", "inlet_c": "158,25"})
    assert not problems
    assert found.rows[0].boxes == {"inlet_c": 158.25}
    _, problems = from_csv({"row_uid": "r1", "temperature_c": "150.5", "inlet_c": "158,25"})
    assert ("file", "decimal") in {(p.where, p.field) for p in problems}


def test_answers_alone_are_no_reading_and_are_not_dropped() -> None:
    _, problems = from_csv({"row_uid": "r1", "temperature_c": "", "inlet_c": "158"})
    assert [(p.where, p.field) for p in problems] == [("row 2", "temperature_c")]


def test_a_hot_part_off_the_round_has_no_boxes() -> None:
    _, problems = from_csv({"place": "over P2", "temperature_c": "88", "inlet_c": "158"})
    assert [(p.where, p.field) for p in problems] == [("row 2", "inlet_c")]


def from_json(*boxes: Any) -> tuple[ReadRows, list[Problem]]:
    records = [{"row_uid": f"r{n}", "temperature_c": 60, "boxes": b} for n, b in enumerate(boxes)]
    return read(rows_of_records(records, Ways()))


def test_a_message_gives_boxes_by_key() -> None:
    found, problems = from_json({"speed_rpm": 1485, "second_method": None}, {"inlet_c": 158.2}, {})
    assert not problems
    assert [row.boxes for row in found.rows] == [{"speed_rpm": 1485.0}, {"inlet_c": 158.2}, None]


@pytest.mark.parametrize(
    ("boxes", "field"),
    [
        ([1], "boxes"),
        ("speed", "boxes"),
        ({"speed_rpm": [1]}, "speed_rpm"),
        ({"speed_rpm": {"a": 1}}, "speed_rpm"),
        ({"speed_rpm": "1485"}, "speed_rpm"),
        ({"speed_rpm": 10**400}, "speed_rpm"),
        ({"speed_rpm": 10**2000}, "boxes"),
        ({"second_method_agrees": 0}, "second_method_agrees"),
        ({"second_method": 7}, "second_method"),
        ({"colour": [1]}, "boxes"),
        ({"speed_rpm": True}, "speed_rpm"),
        ({"inlet_c": 158.2}, "inlet_c"),
        ({"colour": "red"}, "colour"),
        ({"second_method_agrees": True}, "second_method"),
        ({"second_method": "\ud800"}, "boxes"),
        ({"a" * 2000: 1}, "boxes"),
    ],
    ids=lambda value: str(value)[:24].encode("ascii", "replace").decode(),
)
def test_what_is_no_answer_is_told_with_its_row(boxes: Any, field: str) -> None:
    _, problems = from_json(boxes)
    assert [(p.where, p.field) for p in problems] == [("row 1", field)]


def test_boxes_are_part_of_the_content_in_any_order() -> None:
    names = [
        from_json(boxes)[0].rows[0].content_hash
        for boxes in (
            None,
            {},
            {"speed_rpm": 1485, "second_method": "vibration"},
            {"second_method": "vibration", "speed_rpm": 1485.0},
            {"speed_rpm": 1486, "second_method": "vibration"},
        )
    ]
    assert names[0] == names[1] != names[2] == names[3] != names[4]
