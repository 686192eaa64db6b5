"""What falls due within the year, and what its months offer."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class DueAssets:
    """What falls due, each of shape (n,); months count from the first of the plan, 0.

    Attributes
    ----------
    key : ndarray of int
        A lasting number of the asset: breaks ties.
    site : ndarray of int
        Index of its site.
    read_min : ndarray
        To read it [minutes].
    interval_months : ndarray of int
        Whole months, at least 1.
    due_month, stop_month : ndarray of int
        When it is due, and the last month its ceiling allows; negative: already past.
    qualified, outdoor, act_now : ndarray of bool
        Whether a qualified person must be there; whether fair weather is wanted; whether an
        Act now stands: then it is read in the first month, whatever that costs.
    load_window : ndarray of int
        0: any time of the day; k: only in the k-th class of load hours of `Capacity`.
    criticality, priority : ndarray of int
        What lateness is weighed with, and who goes first among equals.
    frozen_month : ndarray of int
        The month a published plan gave it; -1 where none did.
    """

    key: Ints
    site: Ints
    read_min: Floats
    interval_months: Ints
    due_month: Ints
    stop_month: Ints
    qualified: Bools
    outdoor: Bools
    act_now: Bools
    load_window: Ints
    criticality: Ints
    priority: Ints
    frozen_month: Ints


@dataclass(frozen=True, slots=True)
class Capacity:
    """What each of the months offers.

    Attributes
    ----------
    minutes, qualified_min : ndarray, shape (t,)
        Technician minutes with the way, and minutes with a qualified person, readings only.
    window_min : ndarray, shape (w, t)
        Minutes within each class of load hours ("only in the morning"), readings only.
    fair_weather : ndarray of bool, shape (t,)
    visit_min : ndarray, shape (s,)
        What a visit of each site costs before anything is read [minutes].
    frozen_months : int
        So many leading months are published and take nothing more.
    """

    minutes: Floats
    qualified_min: Floats
    window_min: Floats
    fair_weather: Bools
    visit_min: Floats
    frozen_months: int = 0
