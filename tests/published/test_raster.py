"""Figures of a box or a spot in a grid against values worked by hand."""

import numpy as np
import pytest

from service.physics.raster import Box, Spot, difference, statistics
from tests.published.evidence import BY_HAND, evidence, told

SIXTEEN = np.arange(1.0, 17.0).reshape(4, 4)

#: figure → value for the grid 1…16
FIGURES = {
    "pixels": 16,
    "hottest_c": 16.0,
    "hottest_at": (3, 3),
    "coldest_c": 1.0,
    "coldest_at": (0, 0),
    "hot3x3_c": (11 + 12 + 15 + 16) / 4,
    "p99_c": 15 + 0.85,
    "mean_c": 8.5,
    "sd_k": (16 * 17 / 12) ** 0.5,
}


@pytest.mark.parametrize(
    ("figure", "expected"), FIGURES.items(), ids=[told("grid 1…16", figure, BY_HAND) for figure in FIGURES]
)
def test_grid_of_one_to_sixteen(figure: str, expected: float) -> None:
    assert getattr(statistics(SIXTEEN), figure) == pytest.approx(expected, abs=5e-7)


@evidence("definition", "sd of 1…16 with n − 1", BY_HAND)
def test_standard_deviation_of_one_to_sixteen_to_seven_digits() -> None:
    """4.760952, with n − 1 [worked by hand]."""
    assert statistics(SIXTEEN).sd_k == pytest.approx(4.760952, abs=5e-7)


def two_spots(seed: int) -> np.ndarray:
    """240×320 at 25 °C, two spots of 6×8 pixels at 60 and 45 °C, noise 0.1 K."""
    grid = np.full((240, 320), 25.0)
    grid[40:46, 60:68] = 60.0
    grid[150:156, 200:208] = 45.0
    return grid + np.random.default_rng(seed).normal(0.0, 0.1, grid.shape)


@pytest.mark.parametrize("seed", range(20))
@evidence("Two spots in noise of 0.1 K", "60 and 45 °C", BY_HAND)
def test_two_noisy_spots(seed: int) -> None:
    """One draw gave hottest 60.150, hot 3×3 60.001, p99 60.118, difference 14.94 [worked by hand].

    The figures of a draw are chance; their sizes are not: the mean of nine stays within four of
    its standard errors and the noise of the choice, the single hottest pixel lies above it.
    """
    grid = two_spots(seed)
    hot, warm = statistics(grid, Box(40, 60, 46, 68)), statistics(grid, Box(150, 200, 156, 208))
    assert hot.hot3x3_c == pytest.approx(60.0, abs=0.17)
    assert 60.05 < hot.p99_c <= hot.hottest_c < 60.5
    assert hot.hottest_c > hot.hot3x3_c
    assert difference(hot, warm).hot3x3_k == pytest.approx(15.0, abs=0.25)
    assert difference(hot, warm).mean_k == pytest.approx(15.0, abs=0.1)


@evidence("Order statistics", "greatest of 48 normal values", BY_HAND)
def test_the_hottest_pixel_is_driven_up_by_noise_and_the_mean_of_nine_is_not() -> None:
    """E of the greatest of 48 normal values is 2.2 sd, +.22 K at .1 K [worked by hand]."""
    draws = [statistics(two_spots(seed), Box(40, 60, 46, 68)) for seed in range(60)]
    assert np.mean([draw.hottest_c for draw in draws]) == pytest.approx(60.22, abs=0.02)
    assert np.mean([draw.hot3x3_c for draw in draws]) == pytest.approx(60.0, abs=0.05)


@evidence("definition", "3×3 about (42, 64)", BY_HAND)
def test_box_and_spot_of_the_same_pixels_say_the_same() -> None:
    """Worked by hand: the 3×3 about (42, 64) and the box (41, 63, 44, 66)."""
    grid = two_spots(3)
    assert statistics(grid, Spot(42, 64)) == statistics(grid, Box(41, 63, 44, 66))
