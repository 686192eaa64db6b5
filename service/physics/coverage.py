"""Coverage intervals in closed form, and where the closed form is too rough."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.cautions import Caution, has
from service.physics.optics import Codes, Floats
from service.physics.refusals import Refusal
from service.physics.severity import LOGNORMAL_UP_TO
from service.physics.uncertainty import EXPANDED_BY, Budget

#: Coverage factor of 95 % of a normal law.
NORMAL_95 = 1.959963984540054


class Interval(NamedTuple):
    """Lower and upper end of a coverage interval, and a reason where they are NaN."""

    low: Floats
    high: Floats
    refusal: Codes


def interval_95(budget: Budget) -> Interval:
    """Coverage interval of about 95 % in closed form.

    Parameters
    ----------
    budget : Budget

    Returns
    -------
    Interval
        y ± 2·u as measured; y·exp(±1.96·u/y) once brought to another load; NaN with *too wide*
        where u/y is above 0.3 (propagate by Monte Carlo), *out of range* where a scaled y is
        not above 0.

    Notes
    -----
    Where the rectangular terms of emissivity dominate, the true interval is skewed: up to
    0.65 K at each end for ε of 0.5 and more, up to 2.7 K at 0.3.

    Examples
    --------
    >>> from service.physics.assumptions import Assumptions
    >>> from service.physics.budget_terms import over_air_terms
    >>> from service.physics.optics import Optics
    >>> from service.physics.uncertainty import budget_of
    >>> terms = over_air_terms(60.0, Optics(0.95, 25.0), ambient_c=25.0, assumptions=Assumptions())
    >>> [round(float(end), 2) for end in interval_95(budget_of(terms))[:2]]
    [33.23, 39.98]
    """
    y, u = budget.value, budget.u
    if not budget.scaled:
        return Interval(y - EXPANDED_BY * u, y + EXPANDED_BY * u, budget.refusal)
    with np.errstate(invalid="ignore", divide="ignore"):
        relative = u / y
        refusal = np.select(
            [budget.refusal != 0, ~(y > 0), relative > LOGNORMAL_UP_TO],
            [budget.refusal, Refusal.OUT_OF_RANGE, Refusal.TOO_WIDE],
            default=Refusal.NONE,
        ).astype(np.uint8)
        factor = np.exp(NORMAL_95 * np.where(refusal == 0, relative, np.nan))
    return Interval(y / factor, y * factor, refusal)


def needs_monte_carlo(budget: Budget) -> NDArray[np.bool_]:
    """Whether the closed form is too rough and the reading should be propagated by Monte Carlo.

    Parameters
    ----------
    budget : Budget

    Returns
    -------
    ndarray of bool
        For a scaled rise u/|y| above 0.3; for any, an emissivity below 0.5 (skewed). False where
        there is no value.

    Examples
    --------
    >>> from service.physics.assumptions import Assumptions
    >>> from service.physics.budget_terms import over_air_terms
    >>> from service.physics.optics import Optics
    >>> from service.physics.uncertainty import budget_of
    >>> optics = Optics([0.95, 0.4], 25.0)
    >>> terms = over_air_terms(60.0, optics, ambient_c=25.0, assumptions=Assumptions())
    >>> needs_monte_carlo(budget_of(terms)).tolist()
    [False, True]
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        wide = budget.u > LOGNORMAL_UP_TO * np.abs(budget.value)
    skewed = has(budget.caution, Caution.LOW_EMISSIVITY)
    found: NDArray[np.bool_] = (budget.refusal == 0) & ((wide & budget.scaled) | skewed)
    return found


def wide_over_air(budget: Budget, *, first_line_k: ArrayLike) -> NDArray[np.bool_]:
    """Whether a rise over air is indicative because U is more than half of it.

    Parameters
    ----------
    budget : Budget
        Of rises over air; never to be asked of rises over like parts.
    first_line_k : array_like
        First line of the air column [K]; below it a wide interval hides nothing that matters.

    Returns
    -------
    ndarray of bool
    """
    line = np.asarray(first_line_k, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        found: NDArray[np.bool_] = (budget.value > line) & (budget.expanded > budget.value / 2)
    return found
