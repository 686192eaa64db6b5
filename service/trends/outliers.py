"""Visits that lie apart from the ones about them: named, never taken out."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Visits a value is compared with, itself among them; below as many nothing is marked.
WINDOW = 7
#: How many standard deviations are apart.
APART = 3.0
#: Standard deviation over the median distance from the median, of normal values.
MAD_TO_SD = 1.4826


class Apart(NamedTuple):
    """Which visits lie apart; both shape (series, n).

    Attributes
    ----------
    marked : ndarray of bool
        The visit lies apart from those about it.
    off_k : ndarray
        How far it lies from their median [K].
    """

    marked: Bools
    off_k: Floats


def apart(rise_k: Floats, u_k: Floats | None = None) -> Apart:
    """Mark visits by Hampel's rule in a window of seven.

    Parameters
    ----------
    rise_k : ndarray, shape (series, n)
        Rises [K] in order of date; finite.
    u_k : ndarray, shape (series, n), optional
        Standard uncertainty of each [K]; a visit within three of its own is never marked.

    Returns
    -------
    Apart
        Nothing marked, and NaN, below seven visits.

    Notes
    -----
    |y - median| > 3 x 1.4826 x MAD, median and MAD over the seven visits nearest in order (three
    either side; the first and last seven at the ends), so that a trend is no outlier. MAD of
    seven values is itself uncertain, which is why the visit's own u is a floor under it.
    **A visit marked here stays in every figure**: the first visit after a real step looks the
    same as an outlier.

    References
    ----------
    Hampel (1974), Journal of the American Statistical Association 69, 383-393; Davies and
    Gather (1993), same journal 88, 782-792.

    Examples
    --------
    >>> import numpy as np
    >>> found = apart(np.array([[4.0, 4.2, 3.9, 9.0, 4.1, 4.3, 4.0, 4.2]]))
    >>> np.flatnonzero(found.marked[0]).tolist(), float(found.off_k[0, 3].round(1))
    ([3], 4.9)
    """
    series, n = rise_k.shape
    if n < WINDOW:
        return Apart(np.zeros((series, n), dtype=bool), np.full((series, n), np.nan))
    first = np.clip(np.arange(n) - WINDOW // 2, 0, n - WINDOW)
    about = rise_k[:, first[:, None] + np.arange(WINDOW)]
    middle = np.median(about, axis=-1)
    scale = MAD_TO_SD * np.median(np.abs(about - middle[..., None]), axis=-1)
    if u_k is not None:
        scale = np.maximum(scale, u_k)
    off_k: Floats = rise_k - middle
    return Apart(np.abs(off_k) > APART * scale, off_k)
