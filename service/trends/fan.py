"""Where a worsening series may go: ranges of its level at days ahead, from the chances behind its date."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.trends.crossing import DATES, Courses, Paths, Prior

Floats = NDArray[np.float64]

#: Chances that the level lies under the inner curves; the outer ones are the ends of the range of dates.
INNER = (0.25, 0.5, 0.75)
#: Courses are followed until so much of their chance is in.
FOLLOWED = 0.9999
#: A course is not followed farther than so many times its line: what happens there nothing here knows.
PAST_LINE = 1.5


def shares(prior: Prior) -> tuple[float, ...]:
    """Chances of the level to lie under each curve, lowest curve first.

    The lowest meets the line at the late end of the range of dates, the highest at its early end.
    """
    return (1 - prior.late, *INNER, 1 - prior.early)


@dataclass(frozen=True, slots=True)
class Fan:
    """Curves under which a level lies with the chances of ``shares``.

    Attributes
    ----------
    days : ndarray, shape (m,)
        From the last visit on, month by month.
    curves_k : ndarray, shape (curves, m)
        Levels [K], lowest curve first.
    """

    days: Floats
    curves_k: Floats


def fan(found: Courses, ahead: Floats) -> Floats:
    """Curves under which the level of one series lies with given chances, at some days ahead.

    Parameters
    ----------
    found : Courses
        Those of the series; its date of crossing is cut from the same ones.
    ahead : ndarray, shape (m,)
        Days ahead, from the last visit [years].

    Returns
    -------
    ndarray, shape (curves, m)
        Levels [K] by ``shares(found.prior)``; at most ``PAST_LINE`` lines.

    Notes
    -----
    The range of dates and this fan are one posterior cut twice, so that each curve reaches the
    line on the day by which the line is reached with one minus its chance. What may be wrong
    with the whole series (``Prior.blur``) stood on the line there; here the line is drawn where
    it is, and each course is divided by the same factor. A course that stays is held under the
    line that it never reaches.

    Examples
    --------
    >>> import numpy as np
    >>> from service.trends.crossing import PLAIN, courses
    >>> rises = np.array([8, 8.4, 7.7, 8.2, 9.1, 11.2, 12.9, 15.2])
    >>> found = courses(np.arange(0, 4, 0.5), rises, np.ones(8), line_k=50.0, prior=PLAIN)
    >>> curves = fan(found, np.array([0, 2.0]))
    >>> curves.shape, bool((np.diff(curves, axis=0) >= 0).all())
    ((5, 2), True)
    """
    parts = [
        _followed(paths, found.line_k * factor, ahead, factor=factor, share=share)
        for share, factor, paths in found.parts
    ]
    level_k = np.concatenate([part[0] for part in parts])
    weight = np.concatenate([part[1] for part in parts])
    return _quantiles(np.minimum(level_k, PAST_LINE * found.line_k), weight, shares(found.prior))


def _followed(
    paths: Paths, line_k: float, ahead: Floats, *, factor: float, share: float
) -> tuple[Floats, Floats]:
    """Levels of the likely courses at the days ahead, shape (courses, m), and their chances."""
    chosen = _likely(paths.weight)
    _, power, onset, date = np.unravel_index(chosen, paths.weight.shape)
    began, start = paths.onsets[onset][:, None], paths.start_k.ravel()[chosen][:, None]
    ratio = (ahead[None, :] - began) / (DATES[date][:, None] - began)
    way = np.minimum(ratio, 2.0) ** np.array(paths.powers)[power][:, None]
    courses = start + (line_k - start) * way
    stays = np.minimum(paths.stays_k, line_k)[:, None] + np.zeros_like(ahead)[None, :]
    weight = np.concatenate((paths.weight.ravel()[chosen], paths.stays_weight)) * share
    return np.concatenate((courses, stays)) / factor, weight


def _likely(weight: Floats) -> NDArray[np.intp]:
    """Places of the likeliest courses, until nearly all of their chance is in."""
    flat = weight.ravel()
    order = np.argsort(flat)[::-1]
    summed = np.cumsum(flat[order])
    return order[: int(np.searchsorted(summed, FOLLOWED * summed[-1])) + 1]


def _quantiles(level_k: Floats, weight: Floats, chances: tuple[float, ...]) -> Floats:
    """Weighted quantiles of every column; shape (chances, columns)."""
    curves = np.empty((level_k.shape[1], len(chances)))
    total = weight.sum()
    # column by column: each stays in the cache
    for k, column in enumerate(np.ascontiguousarray(level_k.T)):
        order = np.argsort(column)
        weights = weight[order]
        under = (np.cumsum(weights) - weights / 2) / total
        curves[k] = np.interp(chances, under, column[order])
    # no course ever falls: what is read between two of them may, by a hair
    risen: Floats = np.maximum.accumulate(curves, axis=0)
    return risen.T
