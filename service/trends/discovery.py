"""How many flags of a whole fleet are chance: the law of Z without change, and false discovery."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Z of real readings has wider tails than that of ideal ones: divided by these before it is a chance.
IDEAL, REAL = 1.09, 1.35
#: By form of score. That of three like parts is told of each of them against the others, and its
#: healthy ones beside a fault are drawn along; set on simulated fleets 1101 and 1102.
_BY_FORM = {"single": REAL, "drop one": REAL, "joint": 1.7}


def divisor_for(form: str) -> float:
    """What Z of a form of score is divided by before it is a chance.

    Notes
    -----
    So that of a list at 5 % no more than that is false: ``tests/trends/test_discovery.py``.

    Examples
    --------
    >>> divisor_for("single"), divisor_for("joint")
    (1.35, 1.7)
    """
    return _BY_FORM[form]


def chance_of_z(z: ArrayLike, visits: ArrayLike, *, divisor: ArrayLike = REAL) -> Floats:
    """Chance of so large a Z, or a larger one, where nothing changes.

    Parameters
    ----------
    z : array_like
        Score of the bank.
    visits : array_like
        Visits since repair, 4 or more.
    divisor : array_like
        ``divisor_for`` the form of score; ``IDEAL`` for normal noise of known size.

    Returns
    -------
    ndarray
        At most 1; NaN where z is.

    Notes
    -----
    (6.3 ln n - 5.5) P(N > Z / divisor), a fit to 20,000 simulated series a length for 4 to 60
    visits, good in the tail beyond the 90 % point.

    Examples
    --------
    >>> [round(float(p), 4) for p in chance_of_z([3.41, 4.15], [24, 24], divisor=IDEAL)]
    [0.0128, 0.001]
    """
    scores, count = np.asarray(z, dtype=np.float64), np.asarray(visits, dtype=np.float64)
    result: Floats = np.minimum(
        1.0, (6.3 * np.log(np.maximum(count, 4)) - 5.5) * ndtr(-scores / np.asarray(divisor))
    )
    return result


def adjusted(chances: ArrayLike) -> Floats:
    """Chances adjusted for their number: at or below q, the false share of the list is at most q.

    Parameters
    ----------
    chances : array_like, shape (tests,)
        One chance a test; NaN is none.

    Returns
    -------
    ndarray, shape (tests,)
        Step-up minima of p m / rank; NaN where there was none.

    References
    ----------
    Benjamini and Hochberg (1995), section 3.

    Examples
    --------
    >>> [round(float(p), 4) for p in adjusted([0.0001, 0.0004, 0.0019, 0.5])]
    [0.0004, 0.0008, 0.0025, 0.5]
    """
    p = np.asarray(chances, dtype=np.float64)
    result = np.full(p.shape, np.nan)
    known = np.flatnonzero(np.isfinite(p))
    order = known[np.argsort(p[known], kind="stable")]
    raised = p[order] * len(order) / np.arange(1, len(order) + 1)
    result[order] = np.minimum(np.minimum.accumulate(raised[::-1])[::-1], 1.0)
    return result
