"""Strips: rungs, the level at the right end, calm points merged, and quick enough for a fleet."""

import re
import time

import numpy as np
import pytest

from service.charts.rungs import heights
from service.charts.strips import TOP, Strip, spoken, strip_key, strip_lines, strip_svg

FLOOR = TOP + 4 * 8


def a_strip(levels: list[int], **given: object) -> Strip:
    n = len(levels)
    made: dict[str, object] = {
        "name": "Highbeck works",
        "point_ids": np.arange(n) + 1,
        "levels": np.array(levels),
        "now": np.maximum(np.array(levels), 0) + 0.4,
        "then": np.full(n, 0.3),
        "steady": np.zeros(n, dtype=bool),
        "repaired": np.zeros(n, dtype=bool),
        "pending": np.zeros(n, dtype=bool),
        "names": [f"P{index}" for index in range(n)],
    }
    return Strip(**(made | given))  # type: ignore[arg-type]


def drawn(strip: Strip, **given: object) -> str:
    return str(strip_svg(strip, scale=strip.levels.size, label="site", **given))  # type: ignore[arg-type]


def test_rungs_put_a_lug_at_15_k_and_a_bearing_at_40_k_at_the_same_height() -> None:
    lines = np.array([[1, 3, np.nan, 15], [3.5, 10, 20, 40]])
    assert heights([15, 40], lines).tolist() == [4.0, 4.0]
    assert heights([1, 3.5], lines).tolist() == [1.0, 1.0]


def test_a_missing_third_line_is_drawn_at_the_middle_of_the_way() -> None:
    assert heights([9.0], [1, 3, np.nan, 15]).tolist() == [3.0]


def test_heights_are_cut_above_act_now_and_at_the_floor_and_keep_nan() -> None:
    found = heights([-5.0, 400.0, np.nan], [1, 3, np.nan, 15])
    assert found[0] == 0
    assert found[1] == pytest.approx(4.6)
    assert np.isnan(found[2])


def test_calm_points_share_one_path_however_many_there_are() -> None:
    svg = drawn(a_strip([0] * 500))
    assert svg.count('class="calm"') == 1
    assert svg.count("<a ") == 0


def test_a_point_above_nothing_found_is_a_link_that_says_its_news() -> None:
    svg = drawn(a_strip([0, 4, 0], then=np.array([0.3, 1.2, 0.3])))
    assert 'href="/points/2"' in svg
    assert 'aria-label="P1, Act now, rose from Look again"' in svg


def test_a_steady_point_is_drawn_flat_whatever_its_year_ago_reading() -> None:
    strip = a_strip([0], now=np.array([0.2]), then=np.array([0.9]), steady=np.array([True]))
    assert re.search(r'class="calm"[^>]* d="M1 \d+l8 0"', drawn(strip))


def test_a_point_without_a_year_ago_reading_is_a_dot() -> None:
    svg = drawn(a_strip([0], then=np.array([np.nan])))
    assert 'class="calm-dot"' in svg
    assert 'class="calm"' not in svg


def test_no_verdict_is_a_row_of_dots_at_the_floor() -> None:
    svg = drawn(a_strip([-1]))
    assert f'class="silent" d="M1 {FLOOR - 2}h8"' in svg


@pytest.mark.parametrize("now", [0.1, 2.5, 4.6, np.nan])
@pytest.mark.parametrize("level", [1, 2, 3])
def test_the_right_end_stands_between_its_levels_rungs_whatever_the_value(level: int, now: float) -> None:
    svg = drawn(a_strip([level], now=np.array([now])))
    stroke = re.search(rf'class="stroke stroke-{level}" d="M-7 [\d.]+L0 ([\d.]+)"', svg)
    assert stroke is not None
    assert level <= (FLOOR - float(stroke.group(1))) / 8 <= level + 1


def test_act_now_stands_past_the_fourth_rung_with_a_stem_to_the_floor() -> None:
    svg = drawn(a_strip([4], now=np.array([4.0])))
    stem = re.search(r'class="stem" d="M0 ([\d.]+)V(\d+)"', svg)
    assert stem is not None
    assert float(stem.group(1)) < TOP
    assert int(stem.group(2)) == FLOOR


def test_a_repair_is_a_seam_and_no_fall() -> None:
    strip = a_strip([0], then=np.array([np.nan]), repaired=np.array([True]))
    svg = drawn(strip)
    assert 'class="seam"' in svg
    assert 'class="calm"' not in svg
    assert "repaired within the year" in svg


def test_a_point_whose_trend_is_being_worked_out_has_a_bar_under_the_floor_at_every_level() -> None:
    """Symptom: between an upload and its trends nothing in the drawing said that they were still to come."""
    pending = np.array([True, False, True, True])
    svg = drawn(a_strip([0, 0, 4, -1], pending=pending))
    bars = re.search(r'class="pending" d="([^"]+)"', svg)
    assert bars is not None
    assert re.findall(r"M(\d+) (\d+)h8", bars.group(1)) == [(str(x), str(FLOOR + 4)) for x in (1, 21, 31)]
    assert "P2, Act now, rose from Nothing found, trend being worked out" in svg
    assert 'class="pending"' not in drawn(a_strip([0, 4]))


def test_a_bar_under_the_floor_stays_on_the_strip() -> None:
    height = re.search(r'class="strip" width="[^"]+" height="(\d+)"', drawn(a_strip([0])))
    assert height is not None
    assert int(height.group(1)) >= FLOOR + 4 + 1


def test_a_thousand_trends_being_worked_out_share_one_path() -> None:
    assert drawn(a_strip([0] * 1000, pending=np.ones(1000, dtype=bool))).count('class="pending"') == 1


def test_labels_stand_over_the_top_rung_and_never_on_one_another() -> None:
    svg = drawn(a_strip([4, 4] + [0] * 90, names=["P3 drive end", "P3 other end"] + [""] * 90))
    labels = re.findall(r'class="strip-label label-4" x="-?\d+" y="(\d+)"', svg)
    assert len(labels) == 1
    assert int(labels[0]) < TOP


def test_a_label_near_the_right_edge_turns_to_the_left() -> None:
    svg = drawn(a_strip([0] * 90 + [4], names=[""] * 90 + ["P3 drive end"]))
    assert 'text-anchor="end">P3 drive end' in svg


def test_hostile_names_are_text() -> None:
    svg = drawn(a_strip([4], names=['<script>"x"']))
    assert "<script>" not in svg
    assert "&lt;script&gt;" in svg


def test_a_long_site_wraps_into_lines_and_loses_nobody() -> None:
    svg = str(strip_lines(a_strip([1] * 500), scale=2000, label="Big", per_line=180))
    assert svg.count('<svg class="strip"') == 3
    assert svg.count("<a ") == 500
    assert "Line 3 of 3." in svg


def test_an_empty_site_draws_nothing() -> None:
    assert str(strip_lines(a_strip([]), scale=10, label="none")) == ""


def test_a_site_page_links_every_point() -> None:
    assert drawn(a_strip([0, 0, -1]), every=True).count("<a ") == 3


@pytest.mark.parametrize(
    ("left", "right", "said"),
    [(0.2, 2.3, "rose from Nothing found"), (3.4, 1.2, "fell from Repair soon"), (2.1, 2.2, "steady")],
)
def test_a_stroke_is_said_in_words(left: float, right: float, said: str) -> None:
    assert said in spoken("P3", int(right), left=left, right=right, repaired=False)


def test_the_key_names_all_levels_of_the_rungs() -> None:
    for word in ("Act now", "Repair soon", "Plan repair", "Look again", "Nothing found"):
        assert f">{word}</text>" in str(strip_key())


def test_twenty_thousand_points_cost_at_most_five_times_their_bare_numbers() -> None:
    """About 30 ms on an idle machine; told as a ratio, since a busy one slows both alike."""
    rng = np.random.default_rng(11)
    n = 20_000
    levels = np.where(rng.random(n) < 0.04, rng.integers(1, 5, n), 0)
    levels[rng.random(n) < 0.03] = -1
    now = np.maximum(levels, 0) + rng.random(n)
    strip = a_strip(levels.tolist(), now=now, then=np.where(rng.random(n) < 0.1, np.nan, rng.random(n)))
    sites = [strip.part(start, start + 1667) for start in range(0, n, 1667)]
    drawn_s = min(_seconds(sites) for _ in range(7))
    written_s = min(_bare_numbers() for _ in range(7))
    assert drawn_s < 5 * written_s, f"{drawn_s * 1000:.0f} ms beside {written_s * 1000:.0f} ms"


def _bare_numbers() -> float:
    """Five numbers a point written in one go, and one in a call of its own."""
    start = time.process_time()
    ("%d;" * 100_000) % tuple(range(100_000))
    "".join([f"{index / 7:.1f}" for index in range(20_000)])
    return time.process_time() - start


def _seconds(sites: list[Strip]) -> float:
    start = time.process_time()
    for site in sites:
        strip_lines(site, scale=1667, label=site.name)
    return time.process_time() - start


def test_a_calm_stroke_does_not_hide_in_the_floor_line() -> None:
    svg = drawn(a_strip([0], now=np.array([0.0]), then=np.array([0.0])))
    stroke = re.search(r'class="calm"[^>]* d="M1 (\d+)l8 0"', svg)
    assert stroke is not None
    assert int(stroke.group(1)) / 10 <= FLOOR - 1.5
