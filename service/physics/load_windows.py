"""Hours of the day in which a circuit usually carries enough load, learned from past visits."""

from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv

#: From which share of its common load a reading can clear (NFPA 70B; common practice).
LOADED_SHARE = 0.40
#: Length of a piece of the day, and how far a visit speaks around itself (own choice) [min].
SLOT_MIN, REACH_MIN = 30, 30
SLOTS = 24 * 60 // SLOT_MIN
#: Fewer visits, or fewer days with one, say nothing (own choice).
LEAST_VISITS, LEAST_DAYS = 5, 5
#: *Usually*: so many of the visits at least, and surely more than half of the time (own choice).
USUAL_SHARE, HALF = 0.8, 0.5
CONFIDENCE = 0.90


class SlotState(IntEnum):
    """What the visits say of a piece of the day."""

    CANNOT_TELL = 0
    LOADED = 1
    IDLE = 2


class LoadSlots(NamedTuple):
    """By piece of the day, from midnight on: what the visits say, and on how many of them it stands."""

    state: NDArray[np.uint8]
    visits: NDArray[np.int64]
    loaded: NDArray[np.int64]


def share_limits(
    loaded: ArrayLike, visits: ArrayLike, *, confidence: float = CONFIDENCE
) -> NDArray[np.float64]:
    """One-sided limits of the share of the time with load, each at this confidence.

    Parameters
    ----------
    loaded, visits : array_like of int
        Visits with load, of all visits.
    confidence : float
        Of each limit by itself.

    Returns
    -------
    ndarray, shape (2, ...)
        Lower and upper limit, 0 to 1; 0 and 1 without visits.

    References
    ----------
    C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404: the exact binomial limits.

    Examples
    --------
    >>> share_limits(5, 5).round(3).tolist()
    [0.631, 1.0]
    """
    k, n = np.broadcast_arrays(np.asarray(loaded, dtype=np.float64), np.asarray(visits, dtype=np.float64))
    low = np.where(k > 0, betaincinv(np.maximum(k, 0.5), n - k + 1.0, 1.0 - confidence), 0.0)
    high = np.where(k < n, betaincinv(k + 1.0, np.maximum(n - k, 0.5), confidence), 1.0)
    return np.stack([low, high])


def load_slots(minute: ArrayLike, share: ArrayLike, day: ArrayLike) -> LoadSlots:
    """What the visits of days of one sort say of each half hour.

    Parameters
    ----------
    minute : array_like, shape (visits,)
        When each was made, on the clock of the site [min from midnight].
    share : array_like, shape (visits,)
        Load as a share of common load; NaN is left out, 0 is equipment found off.
    day : array_like of int, shape (visits,)
        Number of the day; several visits of a day count as one day.

    Returns
    -------
    LoadSlots
        *Loaded* where at least 8 in 10 visits had 40 % load and the lower limit of their share lies
        over one half; *idle* where its upper limit lies below; else *cannot tell*, as with fewer
        than five visits on five days.

    Notes
    -----
    A visit speaks for the half hour it lies in and half an hour to either side. Visits are made
    by appointment: hours nobody comes in are never told.

    Examples
    --------
    >>> found = load_slots([480] * 5, [0.6] * 5, range(5))
    >>> [int(slot) for slot in np.flatnonzero(found.state == SlotState.LOADED)]
    [15, 16, 17]
    """
    at, part = np.asarray(minute, dtype=np.float64), np.asarray(share, dtype=np.float64)
    days = np.asarray(day, dtype=np.int64)
    known = np.isfinite(part) & np.isfinite(at)
    at, part, days = at[known], part[known], days[known]
    begins = np.arange(SLOTS) * SLOT_MIN
    near = (at >= begins[:, None] - REACH_MIN) & (at < begins[:, None] + SLOT_MIN + REACH_MIN)
    visits = near.sum(axis=1)
    loaded = (near & (part >= LOADED_SHARE)).sum(axis=1)
    on_days = np.array([len(np.unique(days[row])) for row in near])
    low, high = share_limits(loaded, visits)
    enough = (visits >= LEAST_VISITS) & (on_days >= LEAST_DAYS)
    usual = loaded >= USUAL_SHARE * visits
    state = np.select(
        [enough & usual & (low > HALF), enough & (high < HALF)],
        [SlotState.LOADED, SlotState.IDLE],
        SlotState.CANNOT_TELL,
    )
    return LoadSlots(state.astype(np.uint8), visits, loaded)
