"""Hundreds of visits: bars from the lowest to the highest of a few days, and nothing lost at their ends."""

import re
from collections.abc import Iterable
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.charts.axes import Along, Upward
from service.charts.crowds import BAR, MOST_MARKS, crowd_of_loads, crowd_of_marks, crowd_words, crowded_line
from service.charts.history import history_chart
from service.charts.history_record import WIDE, ActionLine, History, Shown, Visit, lines_in_sight, scales
from service.charts.legend import history_legend

TODAY = date(2026, 11, 25)
UP, ALONG = Upward(-20, 60, 58, 372), Along(TODAY - timedelta(days=2500), TODAY, 38, 788)


def visits(count: int) -> list[Visit]:
    """One a day; every tenth at low load, every twenty-fifth not read."""
    made = []
    for k in range(count):
        day = TODAY - timedelta(days=count - k)
        if k % 25 == 24:
            made.append(Visit(day, Shown.NOT_ASSESSABLE, None, "off"))
            continue
        low = k % 10 == 9
        shown = Shown.ACCUSES_ONLY if low else Shown.COUNTS
        value = 2 + (k % 7) / 2
        made.append(
            Visit(
                day, shown, value, f"{value} K", raw_k=value - 1, u_k=0.6, load_percent=30.0 if low else 70.0
            )
        )
    return made


def a_history(of: list[Visit]) -> History:
    return History("Rise", "Rise, K", of, [ActionLine(2, 3, "Plan repair, 3 K")], TODAY, 2)


def drawn(count: int) -> str:
    return str(history_chart(a_history(visits(count))))


def path(svg: str, css: str) -> str:
    found = re.findall(rf'<path class="{css}" d="([^"]*)"', svg)
    assert len(found) == 1, css
    return str(found[0])


def bars(svg: str, css: str) -> list[tuple[float, float, float]]:
    """Middle, top and bottom of each."""
    return [
        (float(x), float(top), float(bottom))
        for x, top, bottom in re.findall(r"M([\d.]+) ([\d.]+)V([\d.]+)", path(svg, css))
    ]


@pytest.mark.parametrize("count", [1000, 2000, 20_000])
def test_the_number_of_marks_is_capped_by_the_paper(count: int) -> None:
    """Symptom: the page of a point with a logger, 2,000 readings on it, took 105 ms and 180 kB."""
    svg, most = drawn(count), (WIDE.right - WIDE.left) / BAR + 2
    for css in ("dots", "whisker", "raws", "loads", "loads low"):
        assert 0 < len(bars(svg, css)) <= most, css
    assert path(svg, "hollow").count("M") <= 2 * most
    assert path(svg, "cross").count("M") <= most
    assert path(svg, "run run-2").count("L") <= most
    assert "<circle" not in svg
    assert len(svg) < 60_000


@given(
    st.lists(
        st.tuples(
            st.integers(0, 2400), st.floats(-19, 59), st.sampled_from([Shown.COUNTS, Shown.ACCUSES_ONLY])
        ),
        min_size=1,
        max_size=120,
    )
)
def test_no_visit_is_outside_the_bars_and_their_ends_are_visits(told: list[tuple[int, float, Shown]]) -> None:
    of = [
        Visit(ALONG.first + timedelta(days=day), shown, value, "")
        for day, value, shown in sorted(told, key=lambda one: one[0])
    ]
    svg = crowd_of_marks(of, up=UP, along=ALONG)
    counting = [one for one in of if one.shown is Shown.COUNTS]
    spans = bars(svg, "dots") if counting else []
    for one in counting:
        x, y = ALONG(one.on), UP(one.value_k or 0)
        assert any(abs(x - middle) <= BAR and top - 0.1 <= y <= bottom + 0.1 for middle, top, bottom in spans)
    ends = [end for _, top, bottom in spans for end in (top, bottom)]
    assert all(any(abs(end - UP(one.value_k or 0)) <= 0.06 for one in counting) for end in ends)
    accusing = [UP(one.value_k or 0) for one in of if one.shown is Shown.ACCUSES_ONLY]
    if accusing:
        rings = [float(y) for y in re.findall(r"M-?[\d.]+ ([\d.]+)a2", path(svg, "hollow"))]
        assert min(rings) == pytest.approx(min(accusing), abs=0.06), "the hottest that could only accuse"


def test_marks_far_enough_apart_stand_where_they_would_stand_alone() -> None:
    of = [visit for k, visit in enumerate(visits(2400)) if k % 12 == 0]
    history = a_history(of)
    up, along = scales(history, lines_in_sight(history), WIDE)
    svg = str(history_chart(history))
    alone = re.findall(r'<circle class="dot" cx="([\d.]+)" cy="([\d.]+)"', svg)
    crowd = crowd_of_marks(of, up=up, along=along)
    assert [(x, top) for x, top, _ in bars(crowd, "dots")] == [(float(x), float(y)) for x, y in alone]
    loads = crowd_of_loads(history, 40, along=along, sheet=WIDE)
    single = re.findall(r'<rect class="load" x="[\d.]+" y="([\d.]+)"', svg)
    assert [top for _, top, _ in bars(loads, "loads")] == [float(y) for y in single]


def test_the_line_runs_through_the_middle_of_each_bar() -> None:
    flat = [Visit(ALONG.first + timedelta(days=k), Shown.COUNTS, 4.0 + (k % 2), "") for k in range(2400)]
    heights = [
        float(y) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", crowded_line(flat, "run", up=UP, along=ALONG))
    ]
    assert all(UP(5.0) <= y <= UP(4.0) for y in heights)
    assert sum(heights) / len(heights) == pytest.approx(UP(4.5), abs=0.2)


def test_it_says_how_many_visits_and_what_a_bar_spans() -> None:
    svg = drawn(1000)
    assert "1000 visits from" in svg
    assert re.search(r"A bar spans the lowest to the highest of \d+ days\.</desc>", svg)
    assert "A bar spans" not in drawn(MOST_MARKS)
    year = Along(TODAY - timedelta(days=365), TODAY, 0, 1095)
    assert crowd_words(year) == "A bar spans the lowest to the highest of 1 day."


def test_the_legend_says_it_where_marks_are_bars() -> None:
    told = "1000 visits, too close to tell apart: a bar spans the lowest to the highest"
    assert told in str(history_legend(a_history(visits(1000)), value_words="x"))
    assert "a bar spans" not in str(history_legend(a_history(visits(MOST_MARKS)), value_words="x"))


def test_few_visits_keep_their_tool_tips() -> None:
    svg = drawn(MOST_MARKS)
    assert svg.count('<circle class="dot"') > 300
    assert "<title>2.0 K</title>" in svg


def frame(svg: Iterable[str] | str) -> list[str]:
    """What of a drawing does not hang on the number of its visits."""
    keep = ("floor", "action", "axis-title", "later", "quiet", "least", "seam", "last")
    return [css for css in re.findall(r'class="([\w-]+)', str(svg)) if css.startswith(keep)]


def test_a_crowd_stands_in_the_same_frame_as_a_few() -> None:
    assert frame(drawn(MOST_MARKS + 1)) == frame(drawn(MOST_MARKS))
