"""The most likely visit after which a series has another level, by ranks alone."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.trends.ranks import mean_ranks
from service.trends.unsaid import Unsaid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Visits below which the approximate chance does not hold.
LEAST_VISITS = 20


class LevelChange(NamedTuple):
    """Where the level changed; all shape (series,).

    Attributes
    ----------
    size : ndarray
        K, the largest |U_k|.
    last_before : ndarray of int
        Index of the last visit before the change; -1 where nothing is said.
    p : ndarray
        Approximate two-sided chance of so large a K where the level never changes.
    reason : ndarray of int
        ``Unsaid`` of each; the figures are NaN where it is not ``NONE``.
    """

    size: Floats
    last_before: Ints
    p: Floats
    reason: Ints


def level_change(rise_k: Floats) -> LevelChange:
    """Change of level after Pettitt.

    Parameters
    ----------
    rise_k : ndarray, shape (series, n)
        Rises [K] in order of date; finite.

    Returns
    -------
    LevelChange
        NaN with ``TOO_FEW_VISITS`` below 20, with ``UNDEFINED`` where the values do not differ.

    Notes
    -----
    U_k = 2 (r_1 + ... + r_k) - k (n + 1) over the ranks r (ties share the mean of theirs),
    K = max |U_k|, p = 2 exp(-6 K^2 / (n^3 + n^2)), at most 1. Only the order of visits counts,
    not their dates. A steady climb gives a small p as well: the test asks for one change of
    level and tells no ramp from it. Visits that resemble their neighbours make p too small.

    References
    ----------
    Pettitt (1979), Applied Statistics 28, 126-135.

    Examples
    --------
    >>> import numpy as np
    >>> found = level_change(np.repeat([[1.0, 4.0]], [12, 9], axis=1))
    >>> float(found.size[0]), int(found.last_before[0]), float(found.p[0].round(4))
    (108.0, 11, 0.0015)
    """
    series, n = rise_k.shape
    if n < LEAST_VISITS:
        blank = np.full(series, np.nan)
        none = np.full(series, -1, dtype=np.int64)
        return LevelChange(blank, none, blank, np.full(series, int(Unsaid.TOO_FEW_VISITS)))
    before = np.cumsum(mean_ranks(rise_k), axis=1)[:, :-1]
    u = 2 * before - np.arange(1, n) * (n + 1)
    at = np.abs(u).argmax(axis=1)
    size = np.abs(np.take_along_axis(u, at[:, None], axis=1)[:, 0])
    alike = rise_k.max(axis=1) == rise_k.min(axis=1)
    return LevelChange(
        size=np.where(alike, np.nan, size),
        last_before=np.where(alike, -1, at),
        p=np.where(alike, np.nan, np.minimum(1.0, 2 * np.exp(-6 * size**2 / (n**3 + n**2)))),
        reason=np.where(alike, int(Unsaid.UNDEFINED), int(Unsaid.NONE)),
    )
