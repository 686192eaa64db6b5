"""A point's history: seams cut it, honest marks, labels in words, forecast as fan and bracket."""

import itertools
import re
from datetime import date, timedelta
from typing import Any

import pytest

from service.charts.axes import Along, Upward, date_ticks, ticks
from service.charts.explore import history_figure
from service.charts.forecast import Crossing, FanRow
from service.charts.history import history_chart, history_pair
from service.charts.history_record import (
    NARROW,
    WIDE,
    ActionLine,
    History,
    Seam,
    Shown,
    Visit,
    clipped,
    recent,
    value_range,
)
from service.charts.legend import history_legend

TODAY = date(2026, 11, 25)
LINES = (
    ActionLine(1, 1, "Look again, 1 K"),
    ActionLine(2, 3, "Plan repair, 3 K"),
    ActionLine(4, 15, "Act now, 15 K"),
)


def visit(months_ago: int, value: float | None, **given: Any) -> Visit:
    made: dict[str, Any] = {"shown": Shown.COUNTS, "words": f"{value} K", "load_percent": 70.0}
    return Visit(on=TODAY - timedelta(days=30 * months_ago), value_k=value, **(made | given))


def a_history(*visits: Visit, **given: Any) -> History:
    made: dict[str, Any] = {"lines": LINES, "today": TODAY, "level": 2}
    return History(
        "Rise", "Rise over like parts, K", visits or (visit(2, 4.0), visit(1, 5.0)), **(made | given)
    )


def test_it_says_in_words_what_it_shows() -> None:
    svg = str(history_chart(a_history(seams=[Seam(date(2026, 1, 1), "Joint remade")])))
    assert 'role="img"' in svg
    assert "<title>Rise</title>" in svg
    assert "2 visits from" in svg
    assert "Act now, 15 K." in svg
    assert "Joint remade 1 Jan 2026." in svg


def test_no_line_runs_across_a_repair() -> None:
    visits = [visit(6, 13.0), visit(5, 14.0), visit(3, 2.0, episode=1), visit(2, 2.2, episode=1)]
    svg = str(history_chart(a_history(*visits, seams=[Seam(TODAY - timedelta(days=120), "Joint remade")])))
    runs = re.findall(r'class="run[^"]*" d="(M[^"]+)"', svg)
    assert [run.count("L") for run in runs] == [1, 1]
    assert 'class="seam"' in svg


def test_a_repair_between_two_equal_values_still_cuts() -> None:
    svg = str(history_chart(a_history(visit(2, 2.0), visit(1, 2.0, episode=1))))
    assert all("L" not in run for run in re.findall(r'class="run[^"]*" d="(M[^"]+)"', svg))


def test_a_reading_at_low_load_is_hollow_and_not_on_the_line() -> None:
    svg = str(history_chart(a_history(visit(3, 2.0), visit(2, 9.0, shown=Shown.ACCUSES_ONLY), visit(1, 2.0))))
    assert svg.count('class="hollow"') == 1
    runs = re.findall(r'class="run[^"]*" d="(M[^"]+)"', svg)
    assert len(runs) == 1
    assert runs[0].count("L") == 1


def test_a_visit_without_a_reading_is_a_cross_with_its_reason() -> None:
    svg = str(
        history_chart(a_history(visit(2, 2.0), visit(1, None, shown=Shown.NOT_ASSESSABLE, words="locked")))
    )
    assert 'class="cross"' in svg
    assert "<title>locked</title>" in svg


def test_u_is_drawn_only_where_it_is_known() -> None:
    assert 'class="whisker"' not in str(history_chart(a_history()))
    assert 'class="whisker"' in str(history_chart(a_history(visit(1, 4.0, u_k=1.4))))


def test_a_value_as_measured_stands_beside_the_corrected_one() -> None:
    assert str(history_chart(a_history(visit(1, 4.0, raw_k=2.0)))).count('class="raw"') == 1


def test_a_calm_point_is_not_pressed_flat_by_a_line_far_above() -> None:
    svg = str(history_chart(a_history(visit(2, 0.1), visit(1, 0.2), level=0)))
    assert "action-4" not in svg
    assert "Act now, 15 K: above this drawing" in svg


def test_a_rising_point_shows_the_line_that_matters() -> None:
    fit = ((TODAY - timedelta(days=60), 0.1), (TODAY, 0.9))
    assert "action-4" in str(history_chart(a_history(visit(2, 0.1), visit(1, 0.9), level=1, fit=fit)))


def test_action_line_labels_keep_apart() -> None:
    close = (
        ActionLine(1, 1, "Look again, 1 K"),
        ActionLine(2, 1.2, "Plan repair, 1.2 K"),
        ActionLine(4, 40, "Act now"),
    )
    svg = str(history_chart(a_history(lines=close)))
    places = [float(y) for y in re.findall(r'y="([\d.]+)" class="action-word', svg)]
    assert all(low - high >= 13.9 for low, high in itertools.pairwise(places))


def test_the_crossing_bracket_lies_on_the_line_that_is_crossed() -> None:
    crossing = Crossing(
        15,
        TODAY + timedelta(80),
        TODAY + timedelta(120),
        TODAY + timedelta(170),
        "7 Feb to 17 May",
        "nine in ten",
    )
    svg = str(history_chart(a_history(crossing=crossing)))
    line = re.search(r'class="action action-4" d="M[\d.]+ ([\d.]+)H', svg)
    bracket = re.search(r'class="bracket bracket-4" d="M[\d.]+ ([\d.]+)H', svg)
    assert line is not None
    assert bracket is not None
    assert line.group(1) == bracket.group(1)
    assert ">7 Feb to 17 May</text>" in svg


def test_the_forecast_is_a_region_without_a_line_in_it() -> None:
    fan = [FanRow(TODAY, 4.0, 4.2, 4.8, 5.0), FanRow(TODAY + timedelta(90), 5.0, 6.0, 8.0, 9.0)]
    svg = str(history_chart(a_history(fan_k=fan)))
    assert svg.count('class="fan fan-2"') == 1
    assert svg.count('class="fan fan-2 half"') == 1


def test_a_fan_past_its_highest_line_is_cut_off_and_lifts_no_scale() -> None:
    """Readings would be pressed flat by a region of which nothing is known."""
    calm = [FanRow(TODAY, 4.0, 4.2, 4.8, 5.0), FanRow(TODAY + timedelta(90), 5.0, 6.0, 8.0, 14.0)]
    wild = [calm[0], calm[1]._replace(high=900.0)]
    drawn = [str(history_chart(a_history(level=4, fan_k=rows))) for rows in (calm, wild)]
    dots = [re.findall(r'class="dot" cx="[\d.]+" cy="([\d.]+)"', svg) for svg in drawn]
    assert dots[0] == dots[1]
    path = re.search(r'class="fan fan-4" d="M([^z]+)z"', drawn[1])
    assert path is not None
    assert min(float(pair.split()[1]) for pair in path.group(1).split("L")) >= WIDE.top


def test_where_it_may_go_is_also_told_to_those_who_do_not_see_it() -> None:
    rows = [FanRow(TODAY, 4.0, 4.2, 4.8, 5.0), FanRow(TODAY + timedelta(90), 5.0, 6.0, 8.0, 9.0)]
    history = a_history(fan_k=rows, fan_words="In February it may stand anywhere from 5 K to 9 K.")
    assert "from 5 K to 9 K.</desc>" in str(history_chart(history))
    assert "where it may go, nine in ten" in str(history_legend(history, value_words="over like parts"))


def test_a_visit_that_lies_apart_keeps_its_dot_and_wears_brackets() -> None:
    visits = [
        visit(3, 2.0),
        visit(2, 9.0, apart=True, words="9 K; lies 7 K over those about it"),
        visit(1, 2.0),
    ]
    history = a_history(*visits)
    svg = str(history_chart(history))
    assert svg.count('class="apart"') == 1
    assert svg.count('class="dot"') == 3
    assert "lies 7 K over those about it" in svg
    runs = re.findall(r'class="run[^"]*" d="(M[^"]+)"', svg)
    assert runs[-1].count("L") == 2
    assert "kept in every figure" in str(history_legend(history, value_words="over like parts"))
    assert "kept in every figure" not in str(history_legend(a_history(), value_words="over like parts"))


def test_without_load_there_is_no_load_strip() -> None:
    svg = str(history_chart(a_history(visit(1, 4.0, load_percent=None))))
    assert "Load, %" not in svg
    assert "Load, %" in str(history_chart(a_history()))
    assert "Load, %" not in str(history_chart(a_history(least_load_percent=None)))


def test_an_empty_history_is_a_picture_that_says_so() -> None:
    assert "No visits yet." in str(history_chart(History("Rise", "K", (), LINES, TODAY, None)))


def test_a_phone_shows_the_last_two_years_and_everything_when_that_is_too_little() -> None:
    long = a_history(*[visit(month, 2.0) for month in range(48, 0, -1)])
    assert len(recent(long).visits) == 24
    sparse = a_history(visit(40, 2.0), visit(30, 2.0))
    assert recent(sparse) is sparse


def test_a_trend_that_starts_before_the_phones_window_is_cut_at_its_edge() -> None:
    fit = ((TODAY - timedelta(days=1461), 0.0), (TODAY, 4.0))
    cut = recent(a_history(*[visit(month, 2.0) for month in range(48, 0, -1)], fit=fit)).fit
    assert cut is not None
    assert cut[0][1] == pytest.approx(2.0, abs=0.02)


def test_both_sheets_are_drawn_and_hostile_words_are_text() -> None:
    svg = str(history_pair(a_history(seams=[Seam(date(2026, 6, 1), "<b>x</b>")])))
    assert svg.count("<svg") == 2
    assert "<b>" not in svg


def test_everything_stays_on_the_paper() -> None:
    visits = [visit(m, 3.0 + 60 * (m == 1), u_k=5.0, raw_k=-8.0) for m in range(30, 0, -1)]
    for sheet in (WIDE, NARROW):
        svg = str(history_chart(a_history(*visits, planned=[TODAY + timedelta(30)]), sheet))
        circles = [(float(x), float(y)) for x, y in re.findall(r'cx="([\d.-]+)" cy="([\d.-]+)"', svg)]
        assert all(0 <= x <= sheet.width and 0 <= y <= sheet.height for x, y in circles)


@pytest.mark.parametrize(("low", "high"), [(0, 15), (-3.2, 0.8), (0, 0.4), (0, 412)])
def test_ticks_are_round_and_inside(low: float, high: float) -> None:
    found = ticks(low, high)
    assert 2 <= len(found) <= 8
    assert all(low - 1e-9 <= value <= high + 1e-9 for value in found)


def test_date_ticks_name_years_and_fit_their_room() -> None:
    found = date_ticks(date(2021, 3, 1), date(2026, 11, 1), 14)
    assert [tick.word for tick in found if tick.year] == ["2022", "2023", "2024", "2025", "2026"]
    assert len(found) <= 14


def test_scales_run_upwards_and_along() -> None:
    up, along = Upward(0, 10, 5, 105), Along(date(2026, 1, 1), date(2026, 1, 11), 0, 100)
    assert (up(0), up(10)) == (105, 5)
    assert along(date(2026, 1, 6)) == 50


def test_the_legend_holds_what_the_drawing_holds() -> None:
    plain = str(history_legend(a_history(), value_words="over like parts, at common load"))
    assert "over like parts, at common load" in plain
    assert "not assessable" not in plain
    assert "± U" not in plain
    assert "repair" not in plain
    full = str(
        history_legend(
            a_history(
                visit(2, 3.0, u_k=1.0, raw_k=2.0),
                visit(1, None, shown=Shown.NOT_ASSESSABLE),
                seams=[Seam(TODAY, "x")],
            ),
            value_words="over air",
        )
    )
    for said in ("± U (k = 2)", "as measured", "not assessable", "repair: a new start"):
        assert said in full


def test_the_explorers_figure_is_plain_lists_without_a_template() -> None:
    figure = history_figure(
        a_history(visit(2, 4.0, u_k=1.0, raw_k=2.0), visit(1, 5.0), seams=[Seam(TODAY, "Joint remade")])
    )
    assert figure["layout"]["template"] is None
    assert figure["data"][0]["y"] == [4.0, 5.0]
    assert all(isinstance(trace["x"], list) for trace in figure["data"])
    assert "bdata" not in str(figure)
    assert [row["text"] for row in figure["layout"]["annotations"]][-1] == "Joint remade 25 Nov 2026"


def test_the_explorer_shows_where_it_may_go_and_when_it_reaches_its_line() -> None:
    ahead = [TODAY + timedelta(days=30 * k) for k in range(4)]
    fan = [FanRow(day, 4.0 - k, 5.0, 6.0 + k, 7.0 + 40 * k) for k, day in enumerate(ahead)]
    crossing = Crossing(15.0, ahead[1], ahead[2], ahead[3], "January to March 2027", "nine in ten")
    figure = history_figure(a_history(visit(2, 4.0), visit(1, 5.0), fan_k=fan, crossing=crossing))
    whole, half, bracket = figure["data"][:3]
    low, high = value_range(a_history(visit(2, 4.0), visit(1, 5.0), fan_k=fan, crossing=crossing))
    assert len(whole["x"]) == len(half["x"]) == 8
    assert min(whole["y"]) == 1.0
    assert max(whole["y"]) == high, "cut off where the paper ends"
    assert half["y"][:4] == [6.0, 7.0, 8.0, 9.0]
    assert bracket["y"] == [15.0] * 3
    assert bracket["x"] == [day.isoformat() for day in ahead[1:]]
    assert low <= 1.0


def test_a_trend_line_stays_on_the_paper() -> None:
    steep = ((TODAY - timedelta(days=50), -40.0), (TODAY, 60.0))
    ends = clipped(steep, 0.0, 20.0)
    assert [value for _, value in ends] == [0.0, 20.0]
    assert [(TODAY - day).days for day, _ in ends] == [30, 20]
    assert clipped(((TODAY, 30.0), (TODAY + timedelta(days=9), 40.0)), 0.0, 20.0) == []
    svg = str(history_chart(a_history(fit=steep)))
    line = re.search(r'class="fit run-2" d="M[\d.]+ ([\d.]+)L[\d.]+ ([\d.]+)"', svg)
    assert line is not None
    assert all(WIDE.top <= float(y) <= WIDE.bottom for y in line.groups())


def label_y(svg: str) -> float:
    found = re.search(r'y="([\d.]+)" class="last', svg)
    assert found is not None
    return float(found.group(1))


def dot_y(svg: str) -> float:
    return float(re.findall(r'class="dot" cx="[\d.]+" cy="([\d.]+)"', svg)[-1])


def test_the_last_value_stands_at_its_own_dot_not_at_another() -> None:
    """Symptom: the value of a cold fuse was printed over the zero readings before it."""
    cold = str(
        history_chart(a_history(visit(3, 0.0), visit(2, 0.0), visit(1, -3.2), level=1, last_words="−3.2 K"))
    )
    assert abs(label_y(cold) - dot_y(cold)) <= 24


def test_the_last_value_steps_under_its_dot_when_a_reading_is_in_the_way() -> None:
    visits = [
        visit(4, 5.0),
        visit(3, 5.0),
        *(Visit(TODAY - timedelta(days=d), Shown.COUNTS, 6.2, "x") for d in (40, 33)),
    ]
    svg = str(
        history_chart(
            a_history(*visits, Visit(TODAY - timedelta(days=26), Shown.COUNTS, 5.6, "x"), last_words="5.6 K")
        )
    )
    assert label_y(svg) > dot_y(svg)
