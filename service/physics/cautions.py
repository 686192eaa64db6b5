"""How far a figure that is given may be trusted: flags that stand beside a number."""

from enum import IntFlag

import numpy as np
from numpy.typing import ArrayLike, NDArray


class Caution(IntFlag):
    """Flags of one element; a number with any of them may accuse and never clears.

    Attributes
    ----------
    LOW_EMISSIVITY
        ε below 0.5: indicative.
    COMPARISON_ONLY
        ε below 0.3: only the difference from a like part in the same view means something.
    HIGH_GAIN
        One kelvin of the instrument is more than 1.7 K of the surface: indicative.
    WEAK_WINDOW
        The window lets less than half through: indicative.
    LONG_PATH
        More than 30 m of air, or air for which the path formula was not fitted: indicative.
    UNDERFILLED
        The part is smaller than three pixels: the reading is "at least".
    """

    NONE = 0
    LOW_EMISSIVITY = 1
    COMPARISON_ONLY = 2
    HIGH_GAIN = 4
    WEAK_WINDOW = 8
    LONG_PATH = 16
    UNDERFILLED = 32


#: The flags in plain words.
CAUTION_WORDS = {
    Caution.LOW_EMISSIVITY: "emissivity below 0.5",
    Caution.COMPARISON_ONLY: "emissivity below 0.3: only a like part can be compared",
    Caution.HIGH_GAIN: "small errors of the instrument are much enlarged",
    Caution.WEAK_WINDOW: "the window lets less than half through",
    Caution.LONG_PATH: "long or unusual path through the air",
    Caution.UNDERFILLED: "smaller than three pixels: the part is at least this warm",
}

_INDICATIVE = Caution.LOW_EMISSIVITY | Caution.HIGH_GAIN | Caution.WEAK_WINDOW | Caution.LONG_PATH


def indicative(caution: ArrayLike) -> NDArray[np.bool_]:
    """Whether a figure is indicative: shown hollow, may raise a question, never clears.

    Parameters
    ----------
    caution : array_like of int
        Flags of :class:`Caution`.

    Returns
    -------
    ndarray of bool

    Examples
    --------
    >>> indicative([Caution.NONE, Caution.HIGH_GAIN, Caution.UNDERFILLED]).tolist()
    [False, True, False]
    """
    return has(caution, _INDICATIVE)


def has(caution: ArrayLike, flags: Caution) -> NDArray[np.bool_]:
    """Whether any of some flags is set.

    Parameters
    ----------
    caution : array_like of int
        Flags of :class:`Caution`.
    flags : Caution
        Those asked for.

    Returns
    -------
    ndarray of bool

    Examples
    --------
    >>> bool(has(Caution.LOW_EMISSIVITY | Caution.COMPARISON_ONLY, Caution.COMPARISON_ONLY))
    True
    """
    found: NDArray[np.bool_] = (np.asarray(caution, dtype=np.uint8) & np.uint8(flags)) != 0
    return found
