"""Load hours as people type them."""

import pytest

from service.domain.load_hours import load_hours_problem, parse_load_hours

FULL = ((0, 1440),)


@pytest.mark.parametrize(
    ("text", "monday", "saturday"),
    [
        ("mon-fri 07:00-11:30; 13:15-15:00", ((420, 690), (795, 900)), ()),
        ("mon-fri 07:00-11:30, 13:15-15:00", ((420, 690), (795, 900)), ()),
        ("07:00-18:00", ((420, 1080),), ((420, 1080),)),
        ("daily 0:00-24:00", FULL, FULL),
        ("Monday 7:00 - 8:00; sat, sun 9:00-10:00", ((420, 480),), ((540, 600),)),
        ("mon 22:00-06:00", ((1320, 1440),), ()),
        ("sun 22:00-06:00", ((0, 360),), ()),
        ("fri-mon 08:00-09:00", ((480, 540),), ((480, 540),)),
        ("mon 08:00-10:00; mon 09:30-11:00", ((480, 660),), ()),
        ("mon 08:00-10:00; mon 10:00-11:00", ((480, 660),), ()),
        ("mon–fri 07:00–11:30", ((420, 690),), ()),
    ],
)
def test_windows_per_weekday(text: str, monday: object, saturday: object) -> None:
    hours = parse_load_hours(text)
    assert hours is not None
    assert (hours.on(0), hours.on(5)) == (monday, saturday)


def test_empty_hours_are_not_known() -> None:
    assert parse_load_hours("  ") is None


def test_a_stay_must_lie_in_one_window() -> None:
    hours = parse_load_hours("mon-fri 07:00-11:30; 13:15-15:00")
    assert hours is not None
    assert hours.covers(0, 420, 690)
    assert not hours.covers(0, 680, 800)
    assert not hours.covers(5, 420, 480)


@pytest.mark.parametrize(
    "text",
    ["mon", "mon 7-8", "mon 25:00-26:00", "mon 07:60-08:00", "moonday 07:00-08:00", "mon 07:00-07:00", "x"],
)
def test_what_is_not_understood_is_told_with_an_example(text: str) -> None:
    problem = load_hours_problem(text, where="row 2", field="load_hours")
    assert problem is not None
    assert "mon-fri 07:00-11:30" in problem.remedy
