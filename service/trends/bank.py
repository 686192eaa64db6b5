"""The shape bank: did a series leave its level by a step, a ramp or a faster and faster rise, and when?"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

STEP, RAMP, QUADRATIC = 0, 1, 2
#: Visits after the onset that each shape needs.
LEAST_AFTER = (1, 2, 3)
#: Degrees of freedom of the Student-t weights, and fits of one series (the first without them).
NU, PASSES = 4.0, 3
#: Values of one array held at once: the dozen arrays of a chunk stay in the cache.
VALUES_AT_ONCE = 16_384


@dataclass(frozen=True, slots=True)
class Best:
    """The surest shape of each series; every array has shape (series,).

    Attributes
    ----------
    z : ndarray
        Amplitude over its standard deviation, the largest over onsets and shapes; NaN where no
        onset is possible.
    sureness : ndarray
        Root of twice the log-likelihood by which the surest shape beats no change at all, both
        under Student's t: a lone reading counts for less here than in ``z``, since a slip may
        explain it. Below 0 where the surest shape falls, NaN where ``z`` is.
    rise_k : ndarray
        What the shape has gained from its onset to the last visit [K].
    level_k : ndarray
        Level before the onset [K].
    onset : ndarray of int
        Index of the last visit before the change; -1 where there is none.
    shape : ndarray of int
        ``STEP``, ``RAMP`` or ``QUADRATIC``.
    step_sd_k : ndarray
        Standard deviation of a step in the middle of the series [K]: what could hide.
    """

    z: Floats
    sureness: Floats
    rise_k: Floats
    level_k: Floats
    onset: Ints
    shape: Ints
    step_sd_k: Floats

    @classmethod
    def blank(cls, count: int) -> "Best":
        """Nothing found yet."""
        z, sureness, rise_k, level_k, step_sd_k = np.full((5, count), np.nan)
        whole = np.full(count, -1, dtype=np.int64), np.zeros(count, dtype=np.int64)
        return cls(z, sureness, rise_k, level_k, *whole, step_sd_k)

    def part(self, rows: slice) -> "Best":
        """The results of some series."""
        return Best(*(getattr(self, name)[rows] for name in self.__slots__))

    def put(self, rows: slice | Ints, part: "Best") -> None:
        """Write the results of some series into their rows."""
        for name in self.__slots__:
            getattr(self, name)[rows] = getattr(part, name)


def surest_shape(
    years: Floats, rise_k: Floats, u_k: Floats, *, passes: int = PASSES, least_before: int = 1
) -> Best:
    """Fit level + amplitude x shape from every possible onset, and keep the surest.

    Parameters
    ----------
    years : ndarray, shape (series, n)
        Dates [years], each row in order; any origin.
    rise_k : ndarray, shape (series, n)
        Rises [K]; finite.
    u_k : ndarray, shape (series, n)
        Standard uncertainty of each [K]; above 0.
    passes : int
        Fits; 1 is plain weighted least squares.
    least_before : int
        Visits up to the onset that the level before it must be known from.

    Returns
    -------
    Best

    Notes
    -----
    Shapes of x = t - t_onset > 0: 1, x and x^2, with at least 1, 2 and 3 visits after the onset;
    an onset between two visits of one date is none. Weights 1/u^2, then those of Student's t
    with 4 degrees of freedom about the **winning** shape: weights about the flat model would
    take a real step for outliers. All onsets at once by sums over the visits after each, time
    counted from the last visit and rises from their mean, so that the fourth powers keep their
    digits. ``sureness`` compares the winner with the flat model at weights of its own: by z alone
    one high last reading, which a step at the last visit fits without a rest, would be a change.

    References
    ----------
    Generalised likelihood ratio over an unknown onset: Page (1955); Quandt (1958); Willsky and
    Jones (1976). Student-t weights: Lange, Little and Taylor (1989).

    Examples
    --------
    >>> import numpy as np
    >>> rises = np.array([[8, 8.4, 7.7, 8.2, 9.1, 11.2, 12.9, 15.2]])
    >>> found = surest_shape(np.arange(0, 4, 0.5)[None], rises, np.ones((1, 8)))
    >>> float(found.z[0].round(4)), int(found.onset[0]), int(found.shape[0]) == QUADRATIC
    (8.0189, 2, True)
    """
    series, n = rise_k.shape
    result = Best.blank(series)
    if n < 2:
        return result
    chunk = max(1, VALUES_AT_ONCE // n)
    for first in range(0, series, chunk):
        rows = slice(first, first + chunk)
        result.put(rows, _surest(years[rows].T, rise_k[rows].T, u_k[rows].T, passes, least_before))
    return result


class Fit(NamedTuple):
    """One fit of a chunk: the winner of each series."""

    z: Floats
    amplitude: Floats
    level: Floats
    onset: Ints
    shape: Ints
    step_sd: Floats


def _surest(years: Floats, rise_k: Floats, u_k: Floats, passes: int, least_before: int) -> Best:
    plain = np.ascontiguousarray(1.0 / (u_k * u_k))

    def about(residual: Floats, _weight: Floats) -> Floats:
        return t_weights(residual, plain)

    return fit_again(years, rise_k, plain, about, passes=passes, least_before=least_before)


def fit_again(
    years: Floats,
    rise_k: Floats,
    weight: Floats,
    weigh: Callable[[Floats, Floats], Floats],
    *,
    passes: int = PASSES,
    least_before: int = 1,
    dimensions: int = 1,
) -> Best:
    """Fit, weigh anew about the winning shape, and fit again; arrays of shape (n, series).

    ``weigh`` takes the residuals and the weights they were found with, and gives the next weights;
    ``dimensions`` is how many residuals of a visit it weighs together.
    """
    tau = np.ascontiguousarray(years - years[-1])
    centre = rise_k.mean(axis=0)
    y = np.ascontiguousarray(rise_k - centre)
    plain = weight
    for turn in range(passes):
        found = fit_onsets(tau, y, weight, least_before)
        course = shape_at(tau, found.onset, found.shape)
        if turn < passes - 1:
            weight = weigh(y - found.level - found.amplitude * course, weight)
    changed = weigh(y - found.level - found.amplitude * course, weight)
    sureness = _sureness(changed, _flat_weights(y, plain, weigh, passes), dimensions)
    none = ~np.isfinite(found.z)
    return Best(
        z=np.where(none, np.nan, found.z),
        sureness=np.where(none, np.nan, np.copysign(sureness, found.z)),
        rise_k=np.where(none, np.nan, found.amplitude * course[-1]),
        level_k=found.level + centre,
        onset=np.where(none, -1, found.onset),
        shape=found.shape,
        step_sd_k=found.step_sd,
    )


def _flat_weights(
    y: Floats, weight: Floats, weigh: Callable[[Floats, Floats], Floats], passes: int
) -> Floats:
    """Weights of every visit about a level that never changes."""
    for _ in range(passes):
        level = (weight * y).sum(axis=0) / weight.sum(axis=0)
        weight = weigh(y - level, weight)
    return weight


def _sureness(changed: Floats, flat: Floats, dimensions: int) -> Floats:
    """Root of twice the log-likelihood ratio of two fits, by the weights that Student's t gave about each.

    The weight is (NU + d)/(NU + r^2/u^2)/u^2 and the log-likelihood -(NU + d)/2 log(1 + r^2/(NU u^2)):
    but for a constant, (NU + d)/2 times the log of the weight.
    """
    gain = (NU + dimensions) * np.log(changed / flat).sum(axis=0)
    root: Floats = np.sqrt(np.maximum(gain, 0.0))
    return root


def t_weights(residual: Floats, plain: Floats) -> Floats:
    """Weights of Student's t about a fit; ``plain`` is 1/u^2."""
    weight: Floats = plain * (NU + 1) / (NU + residual * residual * plain)
    return weight


def shape_at(tau: Floats, onset: Ints, shape: Ints) -> Floats:
    """The shape of every series at each of its visits; both arrays (n, series) and (series,)."""
    x = np.maximum(tau - tau[onset, np.arange(len(onset))], 0.0)
    course: Floats = np.where(shape == STEP, x > 0, np.where(shape == RAMP, x, x * x))
    return course


def fit_onsets(tau: Floats, y: Floats, weight: Floats, least_before: int = 1) -> Fit:
    """Weighted least squares of level and amplitude from every onset, by every shape; (n, series)."""
    n, series = y.shape
    s_w = weight.sum(axis=0)
    mean = (weight * y).sum(axis=0) / s_w
    closed = tau[1:] == tau[:-1]
    closed = closed if closed.any() else None
    columns = np.arange(series)
    z = np.full(series, -np.inf)
    amplitude, level, step_sd = np.zeros((3, series))
    onset, kind = np.zeros((2, series), dtype=np.int64)
    with np.errstate(invalid="ignore", divide="ignore"):
        for shape, (s_f, s_ff, s_fy) in enumerate(_sums(tau, y, weight)):
            last = n - LEAST_AFTER[shape]
            if last < 1:
                break
            s_f = s_f[:last]
            spread = s_ff[:last] - s_f * s_f / s_w
            top = s_fy[:last] - s_f * mean
            scores = top / np.sqrt(spread)
            if shape == STEP:
                step_sd = 1 / np.sqrt(spread[(n - 1) // 2])
            scores[~(spread > 0)] = -np.inf
            if closed is not None:
                scores[closed[:last]] = -np.inf
            scores[: least_before - 1] = -np.inf
            at = scores.argmax(axis=0)
            surest = scores[at, columns]
            better = surest > z
            gain = top[at, columns] / spread[at, columns]
            z = np.where(better, surest, z)
            amplitude = np.where(better, gain, amplitude)
            level = np.where(better, mean - gain * s_f[at, columns] / s_w, level)
            onset = np.where(better, at, onset)
            kind = np.where(better, shape, kind)
    return Fit(z, amplitude, level, onset, kind, step_sd)


def _sums(tau: Floats, y: Floats, w: Floats) -> tuple[tuple[Floats, Floats, Floats], ...]:
    """Per shape the sums of w f, w f^2 and w f y over the visits after each onset."""
    a, wy = tau[:-1], w * y
    wt = w * tau
    wt2 = wt * tau
    wt3 = wt2 * tau
    w0, w1, w2, w3, w4 = (_after(term) for term in (w, wt, wt2, wt3, wt3 * tau))
    y0, y1, y2 = (_after(term) for term in (wy, wy * tau, wy * tau * tau))
    a2 = a * a
    ramp = w1 - a * w0
    square = w2 - 2 * a * w1 + a2 * w0
    fourth = w4 - 4 * a * w3 + a2 * (6 * w2 - 4 * a * w1 + a2 * w0)
    return (
        (w0, w0, y0),
        (ramp, square, y1 - a * y0),
        (square, fourth, y2 - 2 * a * y1 + a2 * y0),
    )


def _after(values: Floats) -> Floats:
    """Sums over the visits after each onset, the last visit being none."""
    sums: Floats = np.cumsum(values[:0:-1], axis=0)[::-1]
    return sums
