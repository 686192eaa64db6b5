"""What a median passes on of the errors of its members."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.rise import Floats

Places = NDArray[np.intp]

#: Variance of the median of n independent normal values, in units of theirs. n = 1 and 2 by
#: hand, 3: 1 − √3/π, the others by quadrature.
MEDIAN_VARIANCE = (np.nan, 1.0, 0.5, 0.448671, 0.298200, 0.286834, 0.214743, 0.210447, 0.168181, 0.166101)
#: By how much the median of n like parts, the judged one far above among them, lies too high on
#: average where the others are truly equal, in units of one part's own error.
MEDIAN_LIFT = (np.nan, 0.0, 0.0, 0.564190, 0.423142, 0.297011, 0.247509, 0.201547, 0.176353, 0.152514)


def median_weights(temperature_c: ArrayLike, like: ArrayLike) -> Floats:
    """Weights of the parts of a view in each part's rise over the median of its like parts.

    Parameters
    ----------
    temperature_c : array_like, shape (..., parts)
        Temperatures of the like parts [°C].
    like : array_like of bool, shape (..., parts, parts)
        Which parts enter the median of which (:func:`~service.physics.rise.alike`).

    Returns
    -------
    ndarray of float, shape (..., parts, parts)
        Row j: weights w of y_j = Σ w_p·T_p; they sum to 0, so that what all parts share cancels.
        NaN where only the part itself is left.

    Notes
    -----
    T ↦ T_j − median(T) is linear as long as the parts keep their order: +1 for part j, −1 for
    the middle one of an odd number, −½ for each of the two middle ones of an even number, −1 for
    the cooler of two. With errors e of correlation r the variance of y is then
    (1 − r)·Σ(w_p·c_p·u_p)² + r·(Σ w_p·c_p·u_p)².

    Where the judged part is itself in the middle, its own weight would be partly or wholly taken
    back, and the uncertainty of "no different from the others" would come out as nothing. It is
    nothing only if the order is certain. Therefore the judged part keeps its whole weight, and its
    place in the median goes to the next part in order: of an odd number the nearer of the two
    middle ones among the others, of an even number the middle one and its neighbour on the judged
    part's side. Which piece of the map is the true one is not known, and on each of them the
    weight of part j is 1 or less: this is never too small.

    Where the other parts are truly equal, which of them is in the middle is chance. The mean
    square error of the median about their common value is then 1, 1, 0.57, 0.45, 0.32 … of one
    part's variance for 2, 3, 4, 5, 6 … parts, against 1, 1, 0.5, 1, 0.5 … taken here: exact for
    two and three, u up to 2.3 % too small for four, on the safe side above. Own derivation.

    Examples
    --------
    >>> median_weights([40.0, 41.0, 55.0], np.ones((3, 3), bool)).tolist()
    [[1.0, -1.0, 0.0], [-1.0, 1.0, 0.0], [0.0, -1.0, 1.0]]
    """
    t = np.asarray(temperature_c, dtype=np.float64)
    parts = t.shape[-1]
    others = np.asarray(like, dtype=bool) & ~np.eye(parts, dtype=bool)
    count = others.sum(axis=-1)
    pool = np.where(others, t[..., None, :], np.inf)
    order = np.argsort(pool, axis=-1, kind="stable")
    first, second = _middle(t, np.take_along_axis(pool, order, axis=-1), count=count)
    weights = np.zeros(pool.shape)
    for place in (first, second):
        weights -= 0.5 * (np.arange(parts) == np.take_along_axis(order, place[..., None], axis=-1))
    weights += np.eye(parts)
    return np.where((count < 1)[..., None], np.nan, weights)


def _middle(own: Floats, ordered: Floats, *, count: Places) -> tuple[Places, Places]:
    """Places of the two others, in order, that stand for the median; one twice where it is one."""
    lower = np.maximum((count - 1) // 2, 0)
    upper = np.maximum(count // 2, 0)
    with np.errstate(invalid="ignore"):
        nearer = np.where(own - _at(ordered, lower) <= _at(ordered, upper) - own, lower, upper)
        outwards = np.where(own >= _at(ordered, lower), lower + 1, lower - 1)
    outwards = np.clip(outwards, 0, np.maximum(count - 1, 0))
    pair_of_others = count % 2 == 0
    return np.where(pair_of_others, nearer, lower), np.where(pair_of_others, nearer, outwards)


def _at(ordered: Floats, place: Places) -> Floats:
    picked: Floats = np.take_along_axis(ordered, place[..., None], axis=-1)[..., 0]
    return picked
