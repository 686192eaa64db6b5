"""Control charts of one point against its own first visits: CUSUM and EWMA."""

from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Visits that make the baseline; the charts begin with the next one.
BASELINE_VISITS = 4
#: Allowance and line of the CUSUM, in standard deviations.
SLACK, CUSUM_LINE = 0.5, 5.0
#: Weight of the newest visit in the EWMA, and its line in standard deviations of the mean.
SHARE, EWMA_WIDTH = 0.3, 3.0
#: A visit counts for at most so many standard deviations.
MOST_OFF = 3.0
#: Variance of a median over that of a mean, of normal values.
MEDIAN_VARIANCE = pi / 2


def cusum(values: Floats, *, target: float, slack: float) -> tuple[Floats, Floats]:
    """Sums of what lies above, and of what lies below a target, each starting anew at 0.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        In order of date; finite.
    target : float
        What is expected, in the unit of the values.
    slack : float
        Allowance k: half of the shift that is to be found soon, in the same unit; not negative.

    Returns
    -------
    above, below : ndarray, shape (..., n)
        max(0, before + value - target - slack) and max(0, before + target - slack - value).

    Notes
    -----
    Worked out from whole sums less their lowest so far, which is the same. On a line h for
    either sum the mean run to a false alarm is 168 visits for h = 4 and 465 for h = 5, with
    slack 0.5 and values of standard deviation 1 about a target that is **known**; one found
    from few visits gives more alarms.

    References
    ----------
    Page (1954), Biometrika 41, 100-115.

    Examples
    --------
    >>> import numpy as np
    >>> above, below = cusum(np.array([0.0, 2.0, 2.0, -1.0]), target=0.0, slack=0.5)
    >>> above.tolist(), below.tolist()
    ([0.0, 1.5, 3.0, 1.5], [0.0, 0.0, 0.0, 0.5])
    """
    return _reset(values - target - slack), _reset(target - slack - values)


def _reset(steps: Floats) -> Floats:
    sums = np.cumsum(steps, axis=-1)
    lowest = np.minimum(np.minimum.accumulate(sums, axis=-1), 0.0)
    result: Floats = sums - lowest
    return result


def ewma(values: Floats, *, target: float, share: float) -> Floats:
    """Mean that forgets: the newest value counts by ``share``, all before it by the rest.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        In order of date; finite.
    target : float
        What is expected: where the mean starts.
    share : float
        Weight of the newest value, above 0 and at most 1.

    Returns
    -------
    ndarray, shape (..., n)

    Raises
    ------
    ValueError
        A share that is none.

    References
    ----------
    Roberts (1959), Technometrics 1, 239-250; Lucas and Saccucci (1990), Technometrics 32, 1-12.

    Examples
    --------
    >>> import numpy as np
    >>> ewma(np.array([10.0, 10.0]), target=0.0, share=0.5).tolist()
    [5.0, 7.5]
    """
    if not 0 < share <= 1:
        raise ValueError(f"the share of the newest value lies above 0 and up to 1, got {share}")
    result = np.empty_like(values, dtype=np.float64)
    mean = np.full(values.shape[:-1], float(target))
    for k in range(values.shape[-1]):
        mean = mean + share * (values[..., k] - mean)
        result[..., k] = mean
    return result


def ewma_half_width(share: float, width: float = EWMA_WIDTH) -> float:
    """Half of the band about the target, in standard deviations of one value, after many values.

    Examples
    --------
    >>> round(ewma_half_width(0.3), 4)
    1.2603
    """
    return width * sqrt(share / (2 - share))


def off_baseline(rise_k: Floats, u_k: Floats) -> tuple[Floats, Floats]:
    """How far visits lie off the median of the first four, in standard deviations.

    Parameters
    ----------
    rise_k, u_k : ndarray, shape (..., n)
        Rises and their standard uncertainty [K], in order of date; u above 0, n at least 4.

    Returns
    -------
    baseline_k : ndarray, shape (...)
        Median of the first four [K].
    off : ndarray, shape (..., n - 4)
        (rise - baseline) / sqrt(u^2 + u_baseline^2) of the visits after them, at most 3 either way.

    Raises
    ------
    ValueError
        Below four visits there is no baseline.

    Notes
    -----
    u_baseline^2 = (pi / 2) / 4 of the mean of the four u^2: the variance of a median of normal
    values. All visits share the baseline's error, so that a run of them on one side is no news
    by itself; that is why the chart decides nothing here.

    Examples
    --------
    >>> import numpy as np
    >>> baseline_k, off = off_baseline(np.array([4.0, 5, 4, 5, 4.5, 7.0]), np.ones(6))
    >>> float(baseline_k), off.round(2).tolist()
    (4.5, [0.0, 2.12])
    """
    if rise_k.shape[-1] < BASELINE_VISITS:
        raise ValueError(f"a baseline needs {BASELINE_VISITS} visits, got {rise_k.shape[-1]}")
    baseline: Floats = np.median(rise_k[..., :BASELINE_VISITS], axis=-1)
    variance = MEDIAN_VARIANCE / BASELINE_VISITS * np.mean(u_k[..., :BASELINE_VISITS] ** 2, axis=-1)
    spread = np.sqrt(u_k[..., BASELINE_VISITS:] ** 2 + variance[..., None])
    off = (rise_k[..., BASELINE_VISITS:] - baseline[..., None]) / spread
    return baseline, np.clip(off, -MOST_OFF, MOST_OFF)
