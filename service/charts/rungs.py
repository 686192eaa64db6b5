"""Warping of rises onto the four rungs, so that a lug at 15 K and a bearing at 40 K are comparable."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: how far above the fourth rung a stroke may end
HEADROOM = 0.6


def heights(values_k: ArrayLike, lines_k: ArrayLike) -> NDArray[np.float64]:
    """Height of each rise on its own action lines: 0 the floor, k the k-th line, past 4 above Act now.

    Parameters
    ----------
    values_k : array_like, shape (n,) [K]
        Rises; NaN gives NaN, below zero gives 0.
    lines_k : array_like, shape (n, 4) or (4,) [K]
        Action lines of levels 1 … 4, rising; NaN where a column has none.

    Returns
    -------
    ndarray, shape (n,)
        0 … 4.6. A missing line is drawn at the middle of the way between its neighbours.

    Notes
    -----
    Piecewise linear between the lines; above the last one the same slope as below it, cut at
    ``4 + HEADROOM``. NaN when a point has no Act-now line at all.

    Examples
    --------
    >>> heights([1.0, 9.0, 15.0], [1.0, 3.0, float("nan"), 15.0]).round(2).tolist()
    [1.0, 3.0, 4.0]
    """
    values = np.atleast_1d(np.asarray(values_k, dtype=np.float64))
    lines = np.broadcast_to(np.asarray(lines_k, dtype=np.float64), (values.size, 4)).copy()
    lines[:, 2] = np.where(np.isnan(lines[:, 2]), (lines[:, 1] + lines[:, 3]) / 2, lines[:, 2])
    lines[:, 1] = np.where(np.isnan(lines[:, 1]), (lines[:, 0] + lines[:, 2]) / 2, lines[:, 1])
    edges = np.concatenate([np.zeros((values.size, 1)), lines], axis=1)
    step = np.clip((values[:, None] >= edges).sum(axis=1) - 1, 0, 3)
    rows = np.arange(values.size)
    low, high = edges[rows, step], edges[rows, step + 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        found = step + (np.maximum(values, 0.0) - low) / (high - low)
    clipped: NDArray[np.float64] = np.clip(found, 0.0, 4 + HEADROOM)
    return clipped
