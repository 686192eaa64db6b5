"""What a grid of temperatures says within a box or a spot."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.refusals import Refusal
from service.physics.rise import COLDEST_C, HOTTEST_C

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]
Place = tuple[int, int]

LARGEST_PIXELS = 4_000_000
LEAST_PIXELS = 9
NOWHERE: Place = (-1, -1)
_SLACK = 1e-9


class Box(NamedTuple):
    """Half-open box of pixels; row and column count from 0 at the top left."""

    top: int
    left: int
    bottom: int
    right: int


class Spot(NamedTuple):
    """Spot about a pixel: 3×3 pixels without a radius, else all whose middle is within it [px]."""

    row: int
    column: int
    radius_px: float | None = None


class Statistics(NamedTuple):
    """What is within a box or a spot; NaN and ``NOWHERE`` with a reason.

    Attributes
    ----------
    pixels : int
        Pixels with a number.
    hottest_c, coldest_c : float
        Single extremes [°C]; of equals the first, by rows.
    hottest_at, coldest_at : tuple of int
        Their row and column in the whole raster.
    hot3x3_c : float
        Mean of the pixels within the region among the 3×3 about the hottest [°C]. This one is
        trended: noise drives the single hottest pixel up.
    p99_c, mean_c, sd_k : float
        99 % quantile (linear), mean [°C], standard deviation with n − 1 [K].
    refusal : Refusal
    """

    pixels: int
    hottest_c: float
    hottest_at: Place
    coldest_c: float
    coldest_at: Place
    hot3x3_c: float
    p99_c: float
    mean_c: float
    sd_k: float
    refusal: Refusal


class Difference(NamedTuple):
    """First region minus second [K]; NaN with a reason where either was refused."""

    hot3x3_k: float
    hottest_k: float
    mean_k: float
    refusal: Refusal


def refusal_of(grid_c: ArrayLike) -> Refusal:
    """Why a raster as a whole is not read.

    Parameters
    ----------
    grid_c : array_like, shape (rows, columns)
        Temperatures [°C]; NaN is no pixel.

    Returns
    -------
    Refusal
        *too large* over 4 million pixels, *no number* without any, *out of range* with one
        outside −90…2000 °C, else none.

    Raises
    ------
    ValueError
        If it has not two dimensions.

    Examples
    --------
    >>> refusal_of([[20.0, 21.0], [22.0, 5000.0]]).name
    'OUT_OF_RANGE'
    """
    grid = _grid(grid_c)
    if grid.size > LARGEST_PIXELS:
        return Refusal.TOO_LARGE
    missing = np.isnan(grid)
    if missing.all():
        return Refusal.NO_NUMBER
    with np.errstate(invalid="ignore"):
        sound = missing | ((grid >= COLDEST_C) & (grid <= HOTTEST_C))
    return Refusal.NONE if sound.all() else Refusal.OUT_OF_RANGE


def statistics(grid_c: ArrayLike, region: Box | Spot | None = None) -> Statistics:
    """Extremes, means and scatter within a box, a spot or the whole raster.

    Parameters
    ----------
    grid_c : array_like, shape (rows, columns)
        Temperatures [°C]; NaN is no pixel.
    region : Box or Spot, optional
        Must lie inside the raster and hold nine pixels with a number; the whole raster without.

    Returns
    -------
    Statistics

    Examples
    --------
    >>> found = statistics(np.arange(1.0, 17.0).reshape(4, 4))
    >>> found.hottest_at, found.hot3x3_c, round(found.p99_c, 2), round(found.sd_k, 6)
    ((3, 3), 13.5, 15.85, 4.760952)
    """
    grid = _grid(grid_c)
    refusal = refusal_of(grid)
    if refusal is not Refusal.NONE:
        return _refused(refusal)
    box = _surrounding(region, grid.shape)
    if not (0 <= box.top < box.bottom <= grid.shape[0] and 0 <= box.left < box.right <= grid.shape[1]):
        return _refused(Refusal.OUTSIDE_RASTER)
    part = grid[box.top : box.bottom, box.left : box.right].astype(np.float64)
    if isinstance(region, Spot):
        part[~_disc(region, box)] = np.nan
    valid = part[~np.isnan(part)]
    if valid.size < LEAST_PIXELS:
        return _refused(Refusal.TOO_FEW_PIXELS, pixels=valid.size)
    hot, cold = _place(np.nanargmax(part), part), _place(np.nanargmin(part), part)
    about = part[max(hot[0] - 1, 0) : hot[0] + 2, max(hot[1] - 1, 0) : hot[1] + 2]
    return Statistics(
        pixels=valid.size,
        hottest_c=float(part[hot]),
        hottest_at=(hot[0] + box.top, hot[1] + box.left),
        coldest_c=float(part[cold]),
        coldest_at=(cold[0] + box.top, cold[1] + box.left),
        hot3x3_c=float(np.nanmean(about)),
        p99_c=float(np.quantile(valid, 0.99)),
        mean_c=float(valid.mean()),
        sd_k=float(valid.std(ddof=1)),
        refusal=Refusal.NONE,
    )


def difference(first: Statistics, second: Statistics) -> Difference:
    """Difference of two regions, of boxes and spots in any mixture.

    Parameters
    ----------
    first, second : Statistics
        What :func:`statistics` found in each.

    Returns
    -------
    Difference
        First minus second, with the reason of the first that was refused.

    Examples
    --------
    >>> grid = np.repeat([[60.0], [45.0]], [4, 4], axis=0).repeat(4, axis=1)
    >>> difference(statistics(grid, Box(0, 0, 4, 4)), statistics(grid, Spot(6, 1))).hot3x3_k
    15.0
    """
    return Difference(
        first.hot3x3_c - second.hot3x3_c,
        first.hottest_c - second.hottest_c,
        first.mean_c - second.mean_c,
        first.refusal if first.refusal is not Refusal.NONE else second.refusal,
    )


def beyond(grid_c: ArrayLike, *, above_c: float | None = None, below_c: float | None = None) -> Truths:
    """Pixels warmer than one temperature or colder than another.

    Parameters
    ----------
    grid_c : array_like, shape (rows, columns)
        Temperatures [°C]; a pixel without a number is never marked.
    above_c, below_c : float, optional
        Lines [°C]; a pixel on a line is not beyond it.

    Returns
    -------
    ndarray of bool, shape (rows, columns)

    Raises
    ------
    ValueError
        Without any line.

    Examples
    --------
    >>> beyond([[20.0, 60.0, np.nan]], above_c=50.0).tolist()
    [[False, True, False]]
    """
    if above_c is None and below_c is None:
        raise ValueError("a line to go beyond: above_c, below_c or both")
    grid = _grid(grid_c)
    with np.errstate(invalid="ignore"):
        warm = grid > (np.inf if above_c is None else above_c)
        cold = grid < (-np.inf if below_c is None else below_c)
    marked: Truths = warm | cold
    return marked


def _grid(grid_c: ArrayLike) -> NDArray[np.floating]:
    """As floats of their own width: a large raster is not copied to be looked at."""
    grid = np.asarray(grid_c)
    if grid.ndim != 2:
        raise ValueError(f"a raster has rows and columns, not {grid.ndim} dimensions")
    if np.issubdtype(grid.dtype, np.floating):
        return grid
    return grid.astype(np.float64)


def _surrounding(region: Box | Spot | None, shape: tuple[int, ...]) -> Box:
    if region is None:
        return Box(0, 0, *shape)
    if isinstance(region, Box):
        return region
    reach = 1 if region.radius_px is None else int(region.radius_px + _SLACK)
    return Box(region.row - reach, region.column - reach, region.row + reach + 1, region.column + reach + 1)


def _disc(spot: Spot, box: Box) -> Truths:
    rows, columns = np.ogrid[box.top : box.bottom, box.left : box.right]
    if spot.radius_px is None:
        return np.ones((box.bottom - box.top, box.right - box.left), dtype=bool)
    inside: Truths = (rows - spot.row) ** 2 + (columns - spot.column) ** 2 <= spot.radius_px**2 + _SLACK
    return inside


def _place(flat: np.intp, part: Floats) -> Place:
    row, column = np.unravel_index(flat, part.shape)
    return int(row), int(column)


def _refused(refusal: Refusal, *, pixels: int = 0) -> Statistics:
    nan = float("nan")
    return Statistics(pixels, nan, NOWHERE, nan, NOWHERE, nan, nan, nan, nan, refusal)
