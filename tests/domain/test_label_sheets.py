"""Codes and sheets of labels: every slip of a hand is found, every label lies on the paper."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.label_sheets import GRIDS, HIGH_MM, WIDE_MM, LabelGrid, grid_problems, on_sheets
from service.domain.scans import stop_in_name
from service.domain.sheet_codes import ALPHABET, LABEL_BODY, make_code, read_code

codes = st.lists(st.integers(0, len(ALPHABET) - 1), min_size=LABEL_BODY, max_size=LABEL_BODY).map(
    lambda drawn: make_code(lambda below, left=iter(drawn): next(left), LABEL_BODY)
)


@given(codes)
def test_a_label_code_reads_back_however_it_is_typed(code: str) -> None:
    assert len(code) == 9
    assert read_code(code, LABEL_BODY) == code
    assert read_code(code.lower().replace("-", " "), LABEL_BODY) == code
    assert read_code(code) is None, "no label is taken for a sheet"


@given(codes)
def test_one_wrong_character_and_two_exchanged_ones_are_found(code: str) -> None:
    plain = code.replace("-", "")
    for place, letter in enumerate(plain):
        for other in set(ALPHABET) - {letter}:
            assert read_code(plain[:place] + other + plain[place + 1 :], LABEL_BODY) is None
    for first, second in combinations(range(LABEL_BODY), 2):
        if plain[first] != plain[second]:
            letters = list(plain)
            letters[first], letters[second] = letters[second], letters[first]
            assert read_code("".join(letters), LABEL_BODY) is None


@pytest.mark.parametrize("grid", [LabelGrid(*size, 6.0, 8.0, 2.0, 1.0) for size in GRIDS])
def test_labels_of_a_grid_lie_side_by_side_on_a4(grid: LabelGrid) -> None:
    assert grid_problems(grid) == []
    boxes = [(*grid.place(number), grid.width_mm, grid.height_mm) for number in range(grid.a_sheet)]
    for left, top, width, height in boxes:
        assert left >= 6.0 - 1e-9
        assert left + width <= WIDE_MM - 6.0 + 1e-9
        assert top >= 8.0 - 1e-9
        assert top + height <= HIGH_MM - 8.0 + 1e-9
    for one, other in combinations(boxes, 2):
        apart = (
            abs(one[0] - other[0]) >= grid.width_mm - 1e-9 or abs(one[1] - other[1]) >= grid.height_mm - 1e-9
        )
        assert apart


@pytest.mark.parametrize(
    ("grid", "field"),
    [
        (LabelGrid(4, 9), "grid"),
        (LabelGrid(3, 8, side_mm=60), "side_mm"),
        (LabelGrid(3, 8, top_mm=-1), "top_mm"),
        (LabelGrid(3, 8, across_mm=float("nan")), "across_mm"),
        (LabelGrid(3, 8, side_mm=50), "grid"),
    ],
)
def test_a_grid_that_cannot_be_printed_is_told(grid: LabelGrid, field: str) -> None:
    assert [problem.field for problem in grid_problems(grid)] == [field]


def test_a_sheet_that_was_begun_is_gone_on_with() -> None:
    sheets = on_sheets("abcde", LabelGrid(1, 4), start=3)
    assert sheets == (((2, "a"), (3, "b")), ((0, "c"), (1, "d"), (2, "e")))


@pytest.mark.parametrize(
    ("name", "stop"),
    [
        ("{0}.pdf", 1),
        ("scan {1} page 2.jpg", 2),
        ("{2}_1.png", 1),
        ("{0} and {1}.pdf", None),
        ("page{2}x.pdf", None),
        ("IMG_0034.jpg", None),
    ],
)
def test_a_sheet_code_in_a_file_name_finds_its_stop(name: str, stop: int | None) -> None:
    first, second = (make_code(lambda below, k=k: k % below) for k in (3, 7))
    told = name.format(first, second.lower(), first.replace("-", ""))
    assert stop_in_name(told, {first: 1, second: 2}) == stop
