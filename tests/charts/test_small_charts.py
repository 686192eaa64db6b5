"""Sparkline, small multiples, month columns and the round's timetable."""

import re
from datetime import date, timedelta

import pytest

from service.charts.months import months
from service.charts.multiples import LikePart, multiples
from service.charts.sparkline import Spark, runs_of, sparkline
from service.charts.timetable import (
    HEAD,
    ROW,
    WORDS_GAP,
    WORDS_WIDE,
    LoadBand,
    Timetable,
    TimetableStop,
    stop_bar,
    timetable_svg,
)

DAYS = [date(2026, 1, 1) + timedelta(days=30 * step) for step in range(4)]


def test_runs_end_at_each_repair() -> None:
    assert runs_of([0, 0, 1, 1, 2], 5) == [slice(0, 2), slice(2, 4), slice(4, 5)]
    assert runs_of([], 3) == [slice(0, 3)]
    assert runs_of([], 0) == []


def test_a_sparkline_carries_its_line_its_end_and_its_words() -> None:
    svg = str(sparkline(Spark(DAYS, [1, 2, 4, 6], 2, 15, "P3 drive end")))
    assert "<title>P3 drive end</title>" in svg
    assert "last 6.0 K" in svg
    assert 'class="spark-line"' in svg
    assert "end-2" in svg


def test_a_sparkline_without_readings_says_so() -> None:
    assert "No readings." in str(sparkline(Spark([], [], None, None, "P3")))


def test_a_single_reading_is_a_dot() -> None:
    assert 'class="dot"' in str(sparkline(Spark(DAYS[:1], [0.4], 0, 15, "P3")))


def test_like_parts_share_one_scale() -> None:
    drawings = multiples(
        [
            LikePart("L1", [20, 21, 22, 30], 0, "30.0 °C"),
            LikePart("L2", [20, 21, 24, 38], 2, "38.0 °C", reference_c=[20, 21, 22, 30]),
            LikePart("L3", [20, None, 22, 30], 0, "30.0 °C"),
        ],
        DAYS,
    )
    assert len(drawings) == 3
    first = re.search(r'class="part-run" d="M[\d.]+ ([\d.]+)L', str(drawings[0]))
    edge = re.search(r'class="gap-edge" d="M[\d.]+ ([\d.]+)L', str(drawings[1]))
    assert first is not None
    assert edge is not None
    assert first.group(1) == edge.group(1)


def test_only_the_judged_part_has_a_gap_and_a_missed_visit_breaks_the_line() -> None:
    drawings = multiples(
        [
            LikePart("L2", [20, 21, 24, 38], 2, "38 °C", reference_c=[20, 21, 22, 30]),
            LikePart("L3", [20, 21, None, 30], 0, "30 °C"),
        ],
        DAYS,
    )
    assert 'class="gap"' in str(drawings[0])
    assert 'class="gap"' not in str(drawings[1])
    assert str(drawings[1]).count('class="part-run"') == 2


def test_no_readings_draw_no_multiples() -> None:
    assert multiples([LikePart("L1", [None], None, "–")], DAYS[:1]) == []


def test_twelve_months_end_in_ink_and_zero_stays_a_line() -> None:
    svg = str(months([0, 3, 1], title="Act now", level=4))
    assert svg.count("<rect") == 3
    assert svg.count(' now"') == 1
    assert 'height="0.8"' in svg
    assert "oldest first: 0, 3, 1." in svg


def a_round(*stops: TimetableStop) -> Timetable:
    return Timetable(420, 1020, stops, leave_base_min=430)


def test_a_stop_outside_its_load_hours_is_hollow_and_struck() -> None:
    bands = [LoadBand(480, 690, "71 %")]
    svg = str(
        timetable_svg(
            a_round(TimetableStop("MCC 1", 500, 520, bands), TimetableStop("Blowers", 700, 720, bands, True))
        )
    )
    assert svg.count('class="at-stop"') == 1
    assert svg.count('class="off-hours"') == 1
    assert "1 outside their load hours" in svg
    assert "Blowers: 11:40, 20 minutes, outside its load hours" in svg


def test_one_walk_line_goes_through_every_stop() -> None:
    svg = str(
        timetable_svg(
            a_round(TimetableStop("a", 440, 460), TimetableStop("b", 480, 500), TimetableStop("c", 520, 540))
        )
    )
    paths = re.findall(r'class="walk-line" d="M([^"]+)"', svg)
    assert len(paths) == 1
    heights = [float(pair.split()[1]) for pair in paths[0].split("L")]
    assert heights == [HEAD, *(HEAD + ROW * row + ROW / 2 for row in (0, 0, 1, 1, 2, 2))]


def test_clock_places_are_per_cent_of_the_day_shown() -> None:
    svg = str(timetable_svg(a_round(TimetableStop("a", 720, 780))))
    assert 'class="at-stop" x="50.00%"' in svg
    assert 'width="10.00%"' in svg


@pytest.mark.parametrize("arrive", [300, 1100])
def test_a_stop_off_the_clock_stays_at_its_edge(arrive: float) -> None:
    svg = str(timetable_svg(a_round(TimetableStop("a", arrive, arrive + 10))))
    place = re.search(r'class="at-stop" x="([\d.]+)%"', svg)
    assert place is not None
    assert 0 <= float(place.group(1)) <= 100


def test_a_narrow_row_keeps_its_bar_and_hostile_words_are_text() -> None:
    svg = str(stop_bar(TimetableStop("<b>", 500, 520, [LoadBand(480, 690)]), start_min=420, end_min=1020))
    assert 'class="load-hours"' in svg
    assert "<b>" not in svg


def texts_and_blocks(svg: str) -> tuple[list[tuple[float, float]], list[tuple[float, float, float, float]]]:
    """Right ends of the words of bands [%, px], and blocks [%, px, %, px]."""
    words = re.findall(r'class="band-word" x="([\d.]+)%" y="([\d.]+)"', svg)
    blocks = re.findall(
        r'class="(?:at-stop|off-hours)" x="([\d.]+)%" y="([\d.]+)" width="([\d.]+)%" height="([\d.]+)"', svg
    )
    return [(float(x), float(y)) for x, y in words], [
        (float(a), float(b), float(c), float(d)) for a, b, c, d in blocks
    ]


@pytest.mark.parametrize("arrive", range(430, 930, 20))
@pytest.mark.parametrize("band", [(420, 930), (420, 700), (600, 760)])
def test_words_of_load_hours_lie_beside_the_block_never_under_it(arrive: int, band: tuple[int, int]) -> None:
    stop = TimetableStop("a", arrive, arrive + 40, (LoadBand(*band, "07:00–15:30"),))
    words, blocks = texts_and_blocks(str(timetable_svg(a_round(stop, TimetableStop("b", 1000, 1010)))))
    ((right, base),) = words
    x, y, width, _ = blocks[0]
    beside = right <= x + 0.01 or right - WORDS_WIDE >= x + width - 0.01
    above = base <= y
    assert beside or above, (right, base, blocks[0])


def test_words_of_load_hours_stay_at_the_right_end_where_nothing_is_in_the_way() -> None:
    stop = TimetableStop("a", 480, 500, (LoadBand(420, 900, "07:00–15:00"),))
    words, _ = texts_and_blocks(str(timetable_svg(a_round(stop))))
    ((right, base),) = words
    band = re.search(
        r'class="load-hours" x="([\d.]+)%" y="[\d.]+" width="([\d.]+)%"', str(timetable_svg(a_round(stop)))
    )
    assert band is not None
    assert right == pytest.approx(float(band[1]) + float(band[2]) - WORDS_GAP, abs=0.02)
    assert base > HEAD + 14
