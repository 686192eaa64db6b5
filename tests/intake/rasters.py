"""Rasters as files, made from arrays: CSV in each way of writing it, TIFF in each way of storing it."""

import io
from typing import Any

import numpy as np
import tifffile
from numpy.typing import NDArray

Grid = NDArray[np.floating]


def scene(seed: int = 7) -> Grid:
    """240×320 at 25 °C with noise of 0.1 K, and two parts of 6×8 pixels at truly 60 and 45 °C."""
    grid = np.full((240, 320), 25.0)
    grid[100:106, 80:88] = 60.0
    grid[100:106, 200:208] = 45.0
    noisy: Grid = grid + np.random.default_rng(seed).normal(0, 0.1, grid.shape)
    return noisy


def as_csv(grid: Grid, separator: str = ",", decimal: str = ".", digits: int = 4) -> bytes:
    rows = (separator.join(f"{value:.{digits}f}".replace(".", decimal) for value in row) for row in grid)
    return ("\r\n".join(rows) + "\r\n").encode()


def as_tiff(grid: NDArray[Any], **how: Any) -> bytes:
    out = io.BytesIO()
    tifffile.imwrite(out, grid, **({"photometric": "minisblack"} | how))
    return out.getvalue()
