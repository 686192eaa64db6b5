"""Repairs as seams: each has its stem, and no words are struck through or printed over others."""

import itertools
import re
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.charts.axes import Along
from service.charts.explore import history_figure
from service.charts.history import history_chart
from service.charts.history_record import NARROW, WIDE, History, Seam, Sheet, Shown, Visit
from service.charts.seams import Label, drawn_seams, labels

FIRST, LAST = date(2021, 12, 1), date(2027, 2, 8)
SHEETS = pytest.mark.parametrize("sheet", [WIDE, NARROW], ids=["wide", "narrow"])


def along_of(sheet: Sheet) -> Along:
    return Along(FIRST, LAST, sheet.left + 4, sheet.right)


def placed(*seams: Seam, sheet: Sheet = WIDE) -> list[Label]:
    return labels(seams, along=along_of(sheet), sheet=sheet)


def rows(label: Label) -> list[str]:
    return [text for text, _ in label.rows]


@SHEETS
def test_labels_of_two_repairs_a_few_months_apart_do_not_overprint(sheet: Sheet) -> None:
    """Symptom: the second of them had no words at all, or the same place for them as the first."""
    found = placed(
        Seam(date(2024, 3, 26), "Repaired", "10.3 to 5.0 K"),
        Seam(date(2024, 7, 26), "Repaired", "8.8 to −0.3 K"),
        sheet=sheet,
    )
    assert len(found) == 1
    assert [row.split(":")[0] for row in rows(found[0])] == ["Repaired 26 Mar 2024", "Repaired 26 Jul 2024"]


def test_two_repairs_said_together_keep_what_each_changed() -> None:
    found = placed(
        Seam(date(2024, 3, 26), "Repaired", "10.3 to 5.0 K"),
        Seam(date(2024, 7, 26), "Replaced", "8.8 to 0.1 K"),
    )
    assert rows(found[0]) == ["Repaired 26 Mar 2024: 10.3 to 5.0 K", "Replaced 26 Jul 2024: 8.8 to 0.1 K"]


def test_repairs_far_apart_are_said_apart() -> None:
    found = placed(Seam(date(2022, 6, 1), "Repaired", "9.0 to 0.2 K"), Seam(date(2025, 6, 1), "Repaired"))
    assert [rows(label) for label in found] == [
        ["Repaired 1 Jun 2022", "9.0 to 0.2 K"],
        ["Repaired 1 Jun 2025"],
    ]


@pytest.mark.parametrize(
    ("works", "head"),
    [
        (("Repaired", "Repaired", "Repaired"), "Repaired 3 times, 1 Mar 2024 to 1 May 2024"),
        (("Repaired", "Replaced", "Repaired"), "Series cut 3 times, 1 Mar 2024 to 1 May 2024"),
    ],
)
def test_more_than_two_are_counted(works: tuple[str, str, str], head: str) -> None:
    seams = [Seam(date(2024, 3 + k, 1), work, f"{k} to 0 K") for k, work in enumerate(works)]
    assert rows(placed(*seams)[0]) == [head, "last: 2 to 0 K"]


@SHEETS
@given(days=st.lists(st.integers(0, (date(2026, 11, 25) - FIRST).days), min_size=1, max_size=9))
def test_no_label_meets_another_or_leaves_the_paper(sheet: Sheet, days: list[int]) -> None:
    seams = [Seam(FIRST + timedelta(days=day), "Surface changed", "12.5 to −10.5 K") for day in sorted(days)]
    found = labels(seams, along=along_of(sheet), sheet=sheet)
    assert [seam for label in found for seam in label.seams] == seams
    assert all(one.end < two.start for one, two in itertools.pairwise(found))
    assert all(label.start >= 0 and label.end <= sheet.width for label in found)


@SHEETS
def test_no_seam_reaches_into_the_words(sheet: Sheet) -> None:
    """Symptom: the seam of July ran through the words of March."""
    seams = [Seam(date(2024, 3, 26), "Repaired", "10.3 to 5.0 K"), Seam(date(2024, 7, 26), "Repaired")]
    svg = drawn_seams(seams, along=along_of(sheet), sheet=sheet)
    tops = [float(y) for y in re.findall(r'class="seam(?:-head)?" d="M[\d.]+ ([\d.]+)', svg)]
    lowest = max(float(y) for y in re.findall(r'y="([\d.]+)" class="seam-word', svg))
    assert min(tops) > lowest + 3


@SHEETS
def test_every_seam_is_drawn_and_says_what_it_is(sheet: Sheet) -> None:
    seams = [Seam(date(2024, 3 + k, 1), "Repaired", f"{k + 4}.0 to 0.1 K") for k in range(4)]
    svg = drawn_seams(seams, along=along_of(sheet), sheet=sheet)
    assert svg.count('class="seam-head"') == 4
    for k in range(4):
        assert f"<title>Repaired 1 {['Mar', 'Apr', 'May', 'Jun'][k]} 2024: {k + 4}.0 to 0.1 K</title>" in svg


def a_history(*seams: Seam) -> History:
    visits = [Visit(FIRST + timedelta(days=40 * k), Shown.COUNTS, 4.0, "x") for k in range(40)]
    return History("Rise", "K", visits, (), date(2026, 11, 25), 2, seams=seams)


def test_those_who_do_not_see_it_hear_of_each_repair_once() -> None:
    svg = str(history_chart(a_history(Seam(date(2024, 3, 26), "Repaired", "10.3 to 5.0 K"))))
    desc = re.search("<desc>(.*)</desc>", svg)
    assert desc is not None
    assert desc.group(1).count("26 Mar 2024") == 1
    assert "Repaired 26 Mar 2024: 10.3 to 5.0 K." in desc.group(1)


def test_the_explorers_labels_of_neighbouring_repairs_stand_at_different_heights() -> None:
    figure = history_figure(a_history(*(Seam(date(2024, 3 + k, 1), "Repaired") for k in range(3))))
    heights = [note["yshift"] for note in figure["layout"]["annotations"] if "yshift" in note]
    assert len(set(heights)) == 3
    assert max(heights) + 14 <= figure["layout"]["margin"]["t"]
