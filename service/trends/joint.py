"""Three like parts judged together: each against the other two, weighed by how the whole view agrees."""

import numpy as np
from numpy.typing import NDArray

from service.trends.bank import NU, VALUES_AT_ONCE, Best, fit_again

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: For each of three parts the other two.
_OTHERS = ((1, 2), (0, 2), (0, 1))


def surest_of_three(
    years: Floats, rise_k: Floats, u_k: Floats, *, least_before: int = 1
) -> tuple[Best, Best, Best]:
    """The surest shape of each of three parts that are read together.

    Parameters
    ----------
    years : ndarray, shape (views, n)
        Dates [years], each row in order.
    rise_k : ndarray, shape (views, 3, n)
        Rises of the three, over anything that they share [K]; finite.
    u_k : ndarray, shape (views, n)
        Standard uncertainty of one part's own rise [K].
    least_before : int
        Visits up to the onset that the level before it must be known from.

    Returns
    -------
    tuple of Best
        One for each part, in their order.

    Notes
    -----
    Part p is judged on d = y_p - (y_q + y_r)/2, of variance 1.5 u^2: what all three share
    (camera, air, load) is gone, and against the mean of two others a fault keeps its size. The
    second contrast y_q - y_r, of variance 2 u^2, takes no part in the fit but in the weights:
    (NU + 2)/(NU + both squared residuals), so that a visit at which the others disagree with
    themselves (a slip of one phase, unequal currents) weighs little.

    Examples
    --------
    >>> import numpy as np
    >>> rises = np.zeros((1, 3, 6)); rises[0, 1, 3:] = 4.0
    >>> found = surest_of_three(np.arange(6.0)[None], rises, np.ones((1, 6)))
    >>> [bool(part.z[0] > 3) for part in found], round(float(found[1].rise_k[0]), 1)
    ([False, True, False], 4.0)
    """
    views, n = years.shape
    result = (Best.blank(views), Best.blank(views), Best.blank(views))
    if n < 2:
        return result
    chunk = max(1, VALUES_AT_ONCE // (n * len(_OTHERS)))
    for first in range(0, views, chunk):
        rows = slice(first, first + chunk)
        found = _surest(*_side_by_side(years[rows].T, rise_k[rows], u_k[rows].T), least_before)
        for part, best in enumerate(result):
            best.put(rows, found.part(slice(part, None, len(result))))
    return result


def _side_by_side(years: Floats, rise_k: Floats, u: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Dates, both contrasts and uncertainties of all parts, one fit for all; each of shape (n, 3 views)."""
    y = np.moveaxis(rise_k, -1, 0)
    one, other = (y[:, :, [pair[k] for pair in _OTHERS]] for k in range(2))
    apart, between = y - (one + other) / 2, one - other
    parts = y.shape[2]
    n = len(years)
    return (
        np.repeat(years, parts, axis=1),
        apart.reshape(n, -1),
        between.reshape(n, -1),
        np.repeat(u, parts, axis=1),
    )


def _surest(years: Floats, apart: Floats, between: Floats, u: Floats, least_before: int) -> Best:
    plain, plain_between = 1 / (1.5 * u * u), 1 / (2 * u * u)

    def by_both(residual: Floats, weight: Floats) -> Floats:
        usual = (weight * between).sum(axis=0) / weight.sum(axis=0)
        off = residual**2 * plain + (between - usual) ** 2 * plain_between
        weighed: Floats = plain * (NU + 2) / (NU + off)
        return weighed

    return fit_again(years, apart, plain, by_both, least_before=least_before, dimensions=2)
