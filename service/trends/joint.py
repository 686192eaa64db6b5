"""Three like parts judged together: each against the other two, weighed by how the whole view agrees."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from service.trends.bank import NU, VALUES_AT_ONCE, Best, fit_again

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: For each of three parts the other two.
_OTHERS = ((1, 2), (0, 2), (0, 1))
#: Sureness taken off where two parts rise over the third: it may as well be the third that fell.
TWO_AT_ONCE = 1.0


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


def with_two_at_once(rises: Sequence[Best], falls: Sequence[Best]) -> tuple[Best, ...]:
    """The surest shapes of three parts, where two that rise together may speak for the hotter of them.

    Parameters
    ----------
    rises, falls : sequence of Best
        Of ``surest_of_three`` of the rises, and of the same rises turned over.

    Returns
    -------
    tuple of Best
        As ``rises``; the sureness of the one of two parts that has gained more is at least that
        by which the third fell away from them, less ``TWO_AT_ONCE``.

    Notes
    -----
    A fault of two phases hides half of itself from each: the other one is half of what it is held
    against. The third stands apart from both by the whole of it. What the part itself has gained
    still has to pass the least rise of a sign, which a third that merely cooled by a few kelvin
    does not bring about: half of it shows in each of the others.

    Examples
    --------
    >>> import numpy as np
    >>> rises = np.zeros((1, 3, 8)); rises[0, :2, 4:] = [[6.0], [5.5]]
    >>> years, u = np.arange(8.0)[None], np.ones((1, 8))
    >>> alone = surest_of_three(years, rises, u)
    >>> both = with_two_at_once(alone, surest_of_three(years, -rises, u))
    >>> [bool(b.sureness[0] > a.sureness[0] + 1) for a, b in zip(alone, both)]
    [True, False, False]
    """
    sureness = np.stack([part.sureness for part in rises])
    gained = np.stack([part.rise_k for part in rises])
    views = np.arange(sureness.shape[1])
    for third, (one, other) in enumerate(_OTHERS):
        hotter = np.where(gained[one] >= gained[other], one, other)
        shared = falls[third].sureness - TWO_AT_ONCE
        sureness[hotter, views] = np.fmax(sureness[hotter, views], shared)
    return tuple(replace(part, sureness=sureness[k]) for k, part in enumerate(rises))


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
