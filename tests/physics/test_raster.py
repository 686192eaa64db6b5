"""Grids of temperatures: what is read, what is refused, where things are."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.physics.raster import NOWHERE, Box, Spot, beyond, difference, refusal_of, statistics
from service.physics.refusals import Refusal

GRID = np.arange(100.0).reshape(10, 10)


@given(
    st.integers(0, 7), st.integers(0, 7), st.integers(3, 10), st.integers(3, 10), st.integers(0, 2**32 - 1)
)
def test_figures_of_a_box_are_those_of_its_pixels(
    top: int, left: int, tall: int, wide: int, seed: int
) -> None:
    grid = np.random.default_rng(seed).normal(40.0, 5.0, (10, 10))
    box = Box(top, left, min(top + tall, 10), min(left + wide, 10))
    part = grid[box.top : box.bottom, box.left : box.right]
    found = statistics(grid, box)
    assert (found.pixels, found.refusal) == (part.size, Refusal.NONE)
    assert grid[found.hottest_at] == found.hottest_c == part.max()
    assert grid[found.coldest_at] == found.coldest_c == part.min()
    assert found.mean_c == pytest.approx(part.mean())
    assert found.sd_k == pytest.approx(np.std(part, ddof=1))
    assert found.coldest_c <= found.hot3x3_c <= found.hottest_c
    assert found.p99_c == np.percentile(part, 99)


def test_a_pixel_without_a_number_is_not_read() -> None:
    grid = GRID.copy()
    grid[9, 9] = np.nan
    found = statistics(grid)
    assert (found.pixels, found.hottest_at, found.hottest_c) == (99, (9, 8), 98.0)
    assert found.hot3x3_c == pytest.approx((87 + 88 + 89 + 97 + 98) / 5)


def test_the_nine_about_the_hottest_do_not_look_over_the_edge_of_the_box() -> None:
    """The next part may be hotter, the background colder."""
    found = statistics(GRID, Box(0, 0, 3, 3))
    assert found.hottest_at == (2, 2)
    assert found.hot3x3_c == (11 + 12 + 21 + 22) / 4


def test_a_box_ends_before_its_last_row_and_column() -> None:
    assert statistics(GRID, Box(0, 0, 3, 3)).hottest_c == 22.0


def test_a_spot_is_three_by_three_or_a_disc() -> None:
    assert statistics(GRID, Spot(5, 5)).pixels == 9
    disc = statistics(GRID, Spot(5, 5, radius_px=2.0))
    assert (disc.pixels, disc.hottest_at, disc.coldest_at) == (13, (7, 5), (3, 5))
    assert disc.mean_c == GRID[5, 5]


@pytest.mark.parametrize(
    ("region", "reason"),
    [
        (Box(0, 0, 11, 5), Refusal.OUTSIDE_RASTER),
        (Box(-1, 0, 5, 5), Refusal.OUTSIDE_RASTER),
        (Box(5, 5, 5, 9), Refusal.OUTSIDE_RASTER),
        (Box(0, 8, 5, 3), Refusal.OUTSIDE_RASTER),
        (Spot(0, 5), Refusal.OUTSIDE_RASTER),
        (Spot(5, 8, radius_px=2.0), Refusal.OUTSIDE_RASTER),
        (Box(0, 0, 2, 4), Refusal.TOO_FEW_PIXELS),
        (Spot(5, 5, radius_px=1.4), Refusal.TOO_FEW_PIXELS),
    ],
    ids=str,
)
def test_a_region_that_cannot_be_read_says_why(region: Box | Spot, reason: Refusal) -> None:
    found = statistics(GRID, region)
    assert found.refusal is reason
    assert np.isnan(
        [found.hottest_c, found.coldest_c, found.hot3x3_c, found.p99_c, found.mean_c, found.sd_k]
    ).all()
    assert found.hottest_at == found.coldest_at == NOWHERE


def test_eight_numbers_among_nine_pixels_are_too_few() -> None:
    grid = GRID.copy()
    grid[5, 5] = np.nan
    found = statistics(grid, Spot(5, 5))
    assert (found.pixels, found.refusal) == (8, Refusal.TOO_FEW_PIXELS)


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        (-90.0, Refusal.NONE),
        (2000.0, Refusal.NONE),
        (np.nan, Refusal.NONE),
        (-90.1, Refusal.OUT_OF_RANGE),
        (2000.1, Refusal.OUT_OF_RANGE),
        (np.inf, Refusal.OUT_OF_RANGE),
    ],
)
def test_one_impossible_pixel_refuses_the_raster(value: float, reason: Refusal) -> None:
    grid = GRID.copy()
    grid[0, 0] = value
    assert refusal_of(grid) is reason
    assert statistics(grid, Box(5, 5, 9, 9)).refusal is reason


def test_a_raster_without_numbers_or_of_over_four_million_pixels_is_refused() -> None:
    assert refusal_of(np.full((5, 5), np.nan)) is Refusal.NO_NUMBER
    assert refusal_of(np.zeros((0, 5))) is Refusal.NO_NUMBER
    assert refusal_of(np.zeros((2000, 2000), dtype=np.float32)) is Refusal.NONE
    assert refusal_of(np.zeros((2000, 2001), dtype=np.float32)) is Refusal.TOO_LARGE


@pytest.mark.parametrize("shape", [(9,), (3, 3, 3)])
def test_a_raster_has_rows_and_columns(shape: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="rows and columns"):
        statistics(np.zeros(shape))


def test_whole_numbers_and_single_precision_are_read_alike() -> None:
    assert statistics(GRID.astype(np.int16)) == statistics(GRID) == statistics(GRID.astype(np.float32))


def test_a_grid_is_not_changed_by_being_read() -> None:
    grid = GRID.copy()
    statistics(grid, Spot(5, 5, radius_px=3.0))
    assert (grid == GRID).all()


def test_a_difference_tells_the_reason_of_the_region_that_was_refused() -> None:
    good, bad = statistics(GRID, Box(0, 0, 3, 3)), statistics(GRID, Box(0, 0, 1, 1))
    assert difference(good, bad).refusal is difference(bad, good).refusal is Refusal.TOO_FEW_PIXELS
    assert np.isnan(difference(good, bad)[:3]).all()
    later = statistics(GRID, Spot(8, 8))
    assert difference(later, good) == (77.0, 77.0, 77.0, Refusal.NONE)


def test_pixels_beyond_a_line() -> None:
    grid = np.array([[10.0, 20.0, np.nan], [30.0, 40.0, 50.0]])
    assert beyond(grid, above_c=30.0).tolist() == [[False, False, False], [False, True, True]]
    assert beyond(grid, below_c=20.0).tolist() == [[True, False, False], [False, False, False]]
    assert beyond(grid, above_c=40.0, below_c=20.0).sum() == 2
    with pytest.raises(ValueError, match="line"):
        beyond(grid)
