"""Hundreds of visits: every one keeps its place, in a handful of paths."""

import re
from datetime import date, timedelta

from service.charts.crowds import MOST_MARKS, crowd_of_loads, crowd_of_marks
from service.charts.history import history_chart
from service.charts.history_record import WIDE, ActionLine, History, Shown, Visit, lines_in_sight, scales

TODAY = date(2026, 11, 25)


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


def drawn(count: int) -> str:
    lines = [ActionLine(2, 3, "Plan repair, 3 K")]
    return str(history_chart(History("Rise", "Rise, K", visits(count), lines, TODAY, 2)))


def path(svg: str, css: str) -> str:
    found = re.findall(rf'<path class="{css}" d="([^"]*)"', svg)
    assert len(found) == 1, css
    return str(found[0])


def test_a_crowd_is_a_path_for_each_kind_of_mark() -> None:
    svg, of = drawn(1000), visits(1000)
    assert path(svg, "dots").count("h0") == sum(visit.shown is Shown.COUNTS for visit in of)
    assert path(svg, "hollow").count("M") == sum(visit.shown is Shown.ACCUSES_ONLY for visit in of)
    assert path(svg, "cross").count("M") == 40
    assert path(svg, "whisker").count("M") == path(svg, "raw").count("M") == 960
    assert path(svg, "loads").count("M") + path(svg, "loads low").count("M") == 960
    assert "<circle" not in svg
    assert len(svg) < len(drawn(MOST_MARKS))


def test_marks_stand_where_they_would_stand_alone() -> None:
    of = visits(300)
    history = History("Rise", "Rise, K", of, [ActionLine(2, 3, "Plan repair, 3 K")], TODAY, 2)
    svg = str(history_chart(history))
    up, along = scales(history, lines_in_sight(history), WIDE)
    crowd = crowd_of_marks(of, up=up, along=along)
    alone = re.findall(r'<circle class="dot" cx="([\d.]+)" cy="([\d.]+)"', svg)
    dots = re.findall(r"M([\d.]+) ([\d.]+)h0", path(crowd, "dots"))
    assert [(float(x), float(y)) for x, y in dots] == [(float(x), float(y)) for x, y in alone]
    whiskers = re.findall(r'class="whisker" d="M([\d.]+) ([\d.]+)V([\d.]+)"', svg)
    ends = [tuple(sorted((float(a), float(b)))) for _, a, b in whiskers]
    all_ends = re.findall(r"M[\d.]+ ([\d.]+)V([\d.]+)", path(crowd, "whisker"))
    assert [tuple(sorted((float(a), float(b)))) for a, b in all_ends] == ends
    bars = re.findall(r'<rect class="load" x="[\d.]+" y="([\d.]+)"', svg)
    loads = crowd_of_loads(history, 40, along=along, sheet=WIDE)
    assert [float(y) for y in re.findall(r"V([\d.]+)", path(loads, "loads"))] == [float(y) for y in bars]


def test_few_visits_keep_their_tool_tips() -> None:
    svg = drawn(MOST_MARKS)
    assert svg.count('<circle class="dot"') > 300
    assert "<title>2.0 K</title>" in svg


def test_the_drawing_still_says_its_last_value_in_words() -> None:
    assert "1000 visits from" in drawn(1000)
