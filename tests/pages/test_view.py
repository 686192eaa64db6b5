"""Numbers become words in one place: signs, units, dates, plurals, titles."""

from datetime import UTC, date, datetime

import pytest

from service.domain.words import PointKind, Trend
from service.errors import Problem
from service.pages import view
from service.pages.view import (
    PointNews,
    StandingCounts,
    TrendFacts,
    point_title,
    standing_title,
    trend_sentence,
)

G = "\u00a0"


@pytest.mark.parametrize(
    ("value", "said"),
    [(11.42, "11.4"), (-3.26, "−3.3"), (-0.04, "0.0"), (None, "–"), (float("nan"), "–"), (0, "0.0")],
)
def test_numbers_carry_a_true_minus_and_no_negative_zero(value: float | None, said: str) -> None:
    assert view.number(value) == said


def test_units_stick_to_their_number() -> None:
    assert view.kelvin(11.4) == f"11.4{G}K"
    assert view.celsius(-4) == f"−4.0{G}°C"
    assert view.amps(94.4) == f"94{G}A"
    assert view.amps(4.44) == f"4.4{G}A"
    assert view.percent(0.714) == f"71{G}%"
    assert view.kelvin(None) == view.amps(None) == view.percent(None) == "–"


def test_uncertainty_is_printed_only_where_known() -> None:
    assert view.measured(11.4, 0.7) == f"11.4 ± 1.4{G}K"
    assert view.measured(11.4) == f"11.4{G}K"


def test_an_action_line_is_printed_as_its_source_prints_it() -> None:
    assert view.line_value(15.0) == f"15{G}K"
    assert view.line_value(3.5) == f"3.5{G}K"


def test_ranges_say_their_unit_once_and_signs_show() -> None:
    assert view.kelvin_range(0.8, 1.0) == f"0.8 to 1.0{G}K"
    assert view.signed(0.9) == "+0.9"
    assert view.signed(-0.9) == "−0.9"
    assert view.signed(0.0) == "0.0"


def test_dates_are_written_for_people() -> None:
    assert view.day(date(2026, 11, 7)) == "7 Nov 2026"
    assert view.short_day(date(2026, 11, 7)) == "7 Nov"
    assert view.long_day(date(2026, 12, 8)) == "Tuesday 8 December 2026"
    assert view.month(date(2027, 3, 1)) == "March 2027"
    assert view.day(None) == "–"


def test_a_moment_is_told_on_the_sites_clock() -> None:
    late = datetime(2026, 6, 30, 23, 30, tzinfo=UTC)
    assert view.day(late, "Europe/Paris") == "1 Jul 2026"
    assert view.clock(late, "Europe/Paris") == "01:30"
    assert view.moment(late, "UTC") == "30 Jun 2026, 23:30"


def test_a_range_of_days_says_the_year_once_when_it_is_one() -> None:
    assert view.day_range(date(2027, 2, 7), date(2027, 5, 17)) == "7 Feb to 17 May 2027"
    assert view.day_range(date(2026, 12, 7), date(2027, 5, 17)) == "7 Dec 2026 to 17 May 2027"
    assert view.day_range(date(2027, 2, 7), date(2027, 2, 7)) == "7 Feb 2027"


@pytest.mark.parametrize(
    ("minutes", "said"),
    [(44, f"44{G}min"), (240, f"4{G}h"), (260, f"4{G}h{G}20"), (65, f"1{G}h{G}05"), (None, "–")],
)
def test_minutes(minutes: float | None, said: str) -> None:
    assert view.minutes(minutes) == said


def test_minute_of_day_is_a_clock() -> None:
    assert view.minute_of_day(515) == "08:35"


@pytest.mark.parametrize(
    ("count", "noun", "said"),
    [
        (1, "point", "1 point"),
        (0, "point", "0 points"),
        (2, "category", "2 categories"),
        (3, "bus", "3 buses"),
        (2, "day", "2 days"),
    ],
)
def test_plurals(count: int, noun: str, said: str) -> None:
    assert view.counted(count, noun) == said.replace(" ", G)


def test_large_counts_keep_a_gap() -> None:
    assert view.counted(20_000, "point") == f"20{G}000{G}points"
    assert view.thousands(9999) == "9999"


def test_lists_and_spans() -> None:
    assert view.listed(["a"]) == "a"
    assert view.listed(["a", "b", "c"]) == "a, b and c"
    assert view.listed([]) == ""
    assert view.span(date(2025, 3, 12), date(2026, 11, 24)) == f"20{G}months"
    assert view.span(date(2026, 11, 12), date(2026, 11, 24)) == f"12{G}days"
    assert view.span(date(2026, 10, 1), date(2026, 11, 24)) == f"8{G}weeks"


def test_what_is_said_once_is_not_said_again() -> None:
    assert view.place("Bearing, drive end", "Bearing, drive end") == "Bearing, drive end"
    assert view.place("Line terminal L2", "", "Feeder 07") == "Line terminal L2, Feeder 07"


def test_repairs_that_held_are_told_in_words() -> None:
    assert view.repairs_held(9, 11) == "Nine of the eleven repairs read again within the year have held."
    assert view.repairs_held(1, 1) == "The one repair read again within the year has held."
    assert view.repairs_held(0, 1) == "The one repair read again within the year has not held."
    assert view.repairs_held(3, 3) == "All three repairs read again within the year have held."
    assert view.repairs_held(0, 2) == "None of the two repairs read again within the year has held."


def test_kinds_are_counted_with_the_most_first() -> None:
    kinds = {PointKind.JOINT: 1, PointKind.BEARING: 2, PointKind.COUPLING: 2}
    assert view.kinds_counted(kinds) == "two bearings, two couplings or belts and one joint"


def test_levels_say_at_least_and_their_place() -> None:
    assert view.level_word(2) == "Plan repair"
    assert view.level_word(2, True) == "at least Plan repair"
    assert view.level_word(None) == view.level_word(None, True) == "No verdict"
    assert view.level_of(3) == "3 of 4"
    assert view.level_of(None) == ""


@pytest.mark.parametrize(
    ("trend", "said"),
    [
        (TrendFacts(Trend.TOO_FEW_VISITS, visits=3), "Trend after 4 visits; three so far."),
        (TrendFacts(Trend.CANNOT_TELL, visits=5), f"5{G}visits cannot tell a rise from scatter."),
        (TrendFacts(Trend.STEADY, visits=12), f"Steady over 12{G}visits."),
        (
            TrendFacts(Trend.RISING, 0.9, 0.8, 1.0, 10),
            f"Rising 0.9{G}K a month (0.8 to 1.0), over 10{G}visits.",
        ),
        (
            TrendFacts(Trend.EASING, -0.3, -0.5, -0.1, 9),
            f"Easing by 0.3{G}K a month (0.5 to 0.1), over 9{G}visits.",
        ),
        (
            TrendFacts(Trend.RISING, 0.04, 0.02, 0.07, 30),
            f"Rising 0.04{G}K a month (0.02 to 0.07), over 30{G}visits.",
        ),
        (TrendFacts(Trend.RISING, 0.9, pending=True), "The trend is being worked out again."),
    ],
)
def test_trend_sentences(trend: TrendFacts, said: str) -> None:
    assert trend_sentence(trend) == said


@pytest.mark.parametrize(
    ("levels", "no_verdict", "said"),
    [
        ((583, 21, 6, 0, 2), 36, "Two points are past their line. Six more need a repair planned."),
        ((5, 0, 0, 1, 1), 0, "One point is past its line. One more should be repaired soon."),
        ((5, 0, 0, 2, 0), 0, "Nothing is past its line. Two points should be repaired soon."),
        ((5, 0, 1, 0, 0), 0, "Nothing is past its line. One point needs a repair planned."),
        ((600, 4, 0, 0, 0), 12, "Nothing is past its line."),
        ((0, 0, 0, 0, 0), 9, "No verdict on any point yet."),
        ((0, 0, 0, 0, 0), 0, "No points in the register yet."),
        ((0, 0, 0, 0, 13), 0, "13 points are past their line."),
    ],
)
def test_standing_titles(levels: tuple[int, int, int, int, int], no_verdict: int, said: str) -> None:
    assert standing_title(StandingCounts(levels, no_verdict)) == said


def test_a_forecast_in_the_title_says_may() -> None:
    counts = StandingCounts((10, 0, 3, 0, 2))
    assert (
        standing_title(counts, 3, date(2027, 6, 1))
        == "Two points are past their line. Three more may reach theirs by June 2027."
    )
    calm = StandingCounts((10, 0, 3, 0, 0))
    assert (
        standing_title(calm, 1, date(2027, 6, 1))
        == "Nothing is past its line. One point may reach its by June 2027."
    )


def news(**change: object) -> PointNews:
    fields: dict[str, object] = {
        "name": "Line terminal L2",
        "level": 2,
        "trend": TrendFacts(Trend.STEADY, visits=9),
    }
    return PointNews(**(fields | change))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("point", "said"),
    [
        (news(), "Line terminal L2 stands at Plan repair, and steady"),
        (news(level=0), "Line terminal L2: nothing found, and steady"),
        (news(level=0, trend=TrendFacts(Trend.TOO_FEW_VISITS)), "Line terminal L2: nothing found"),
        (news(at_least=True), "Line terminal L2 stands at Plan repair at least, and steady"),
        (news(level=None, reason="off"), "Line terminal L2: no verdict, off"),
        (news(read=False), "Line terminal L2 has not been read yet"),
        (
            news(trend=TrendFacts(Trend.RISING), at_least=True),
            "Line terminal L2 is rising: at least Plan repair",
        ),
        (
            news(level=1, trend=TrendFacts(Trend.FIRST_SIGN)),
            "Line terminal L2 shows a first sign of rising: Look again",
        ),
        (
            news(trend=TrendFacts(Trend.RISING), repaired_on=date(2025, 3, 12), today=date(2026, 11, 24)),
            f"Line terminal L2 is rising, 20{G}months after its repair: Plan repair",
        ),
    ],
)
def test_point_titles(point: PointNews, said: str) -> None:
    assert point_title(point) == said


def test_a_pending_trend_is_not_told_as_rising() -> None:
    assert "rising" not in point_title(news(trend=TrendFacts(Trend.RISING, pending=True)))


def test_problems_are_placed_and_matched_to_their_fields() -> None:
    problem = Problem("row 14", "rated_current_a", "x", "Not a number.", "Type one.")
    assert view.place_of(problem) == "Row 14, rated current a:"
    assert view.of_field([problem], "rated_current_a") == [problem]
    assert view.of_field([problem], "tag") == []
    assert view.field_id("row[3].L2") == "row-3--L2"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("mon-fri 07:00-11:30; sat 08:00-12:00", "Mon to Fri 07:00 to 11:30; Sat 08:00 to 12:00"),
        ("mon-sun 06:00-22:00", "Mon to Sun 06:00 to 22:00"),
        ("daily 06:00-22:00", "every day 06:00 to 22:00"),
        ("", ""),
    ],
)
def test_load_hours_are_told_in_words(typed: str, said: str) -> None:
    assert view.load_hours_words(typed) == said
