"""Common load learned from the currents of past visits, where nothing better is known."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.refusals import Refusal
from service.physics.rise import Codes, Floats

#: Which quantile of the currents seen is taken, and from how many visits.
QUANTILE, LEAST_VISITS = 0.90, 5
#: A highest current so many times the second highest is taken for a slip of the pen.
SLIP_RATIO = 3.0


class LoadSeen(NamedTuple):
    """What the visits of each circuit say about its highest load.

    Attributes
    ----------
    current_a : ndarray
        Common load learned [A]; NaN where refused.
    visits : ndarray of int
        Visits it rests on; to be shown beside it.
    highest_a : ndarray
        Highest current among them [A].
    refusal : ndarray of uint8
    """

    current_a: Floats
    visits: NDArray[np.int64]
    highest_a: Floats
    refusal: Codes


def common_load_seen(
    current_a: ArrayLike, *, quantile: float = QUANTILE, least_visits: int = LEAST_VISITS
) -> LoadSeen:
    """Learn a common load from the measured currents of past visits.

    Parameters
    ----------
    current_a : array_like, shape (..., visits)
        Measured current of each visit [A]; NaN, 0 and less are left out.
    quantile : float
        Share of the visits at or below it, 0 to 1.
    least_visits : int
        Fewer give nothing.

    Returns
    -------
    LoadSeen
        Linear quantile of the currents kept; NaN with *too few visits*.

    Notes
    -----
    Own choice. A high quantile instead of the highest, because one wrong current would
    otherwise stay the reference of every later visit; a highest current more than three times
    the second (a decimal mark lost) is left out altogether.

    Limits: visits are made by day and by appointment, so the circuit's real peak lies above
    what they see, more so the fewer there are: of five visits the figure lies between their two
    highest. A load learned too low understates the rise at common load. So it is the
    last resort, after what the site types and what a meter recorded; it is shown with its
    number of visits; and it should be raised, never lowered, as visits come.

    Examples
    --------
    >>> seen = common_load_seen([52.0, 61.0, 58.0, 70.0, 66.0, 640.0])
    >>> round(float(seen.current_a), 1), int(seen.visits), float(seen.highest_a)
    (68.4, 5, 70.0)
    """
    amps = np.asarray(current_a, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        ordered = np.sort(np.where((amps > 0) & np.isfinite(amps), amps, np.nan), axis=-1)
    ordered, count = _without_slip(ordered)
    enough = count >= max(least_visits, 1)
    place = np.where(enough, quantile * (count - 1), 0.0)
    lower = np.floor(place).astype(np.intp)
    share = place - lower
    low = _at(ordered, lower)
    high = _at(ordered, np.minimum(lower + 1, np.maximum(count - 1, 0)))
    return LoadSeen(
        np.where(enough, low + share * (high - low), np.nan),
        count,
        np.where(count > 0, _at(ordered, np.maximum(count - 1, 0)), np.nan),
        np.where(enough, Refusal.NONE, Refusal.TOO_FEW_VISITS).astype(np.uint8),
    )


def _without_slip(ordered: Floats) -> tuple[Floats, NDArray[np.int64]]:
    """Take away a highest current that stands far off; ascending, NaN last."""
    count = np.isfinite(ordered).sum(axis=-1)
    highest = _at(ordered, np.maximum(count - 1, 0))
    second = _at(ordered, np.maximum(count - 2, 0))
    with np.errstate(invalid="ignore"):
        slip = (count > 2) & (highest > SLIP_RATIO * second)
    places = np.arange(ordered.shape[-1])
    kept = np.where(slip[..., None] & (places == (count - 1)[..., None]), np.nan, ordered)
    return kept, (count - slip).astype(np.int64)


def _at(ordered: Floats, place: NDArray[np.intp] | NDArray[np.int64]) -> Floats:
    if ordered.shape[-1] == 0:
        return np.full(ordered.shape[:-1], np.nan)
    picked: Floats = np.take_along_axis(ordered, place[..., None], axis=-1)[..., 0]
    return picked
