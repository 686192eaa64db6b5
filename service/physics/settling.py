"""Settling: how much of its steady rise a part shows after a time under one load."""

from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.refusals import Refusal
from service.physics.rise import Codes, Figure, Floats

#: Time constants after which heat counts as settled, and from which a reading is accepted.
SETTLED_FROM, ACCEPTED_FROM = 5.0, 3.0
#: Least time constants from which a steady rise may be estimated.
ESTIMATE_FROM = 2.0
#: What may be missing from a measured rise that is accepted: 1/s(3) − 1, one-sided.
SETTLING_ALLOWANCE = float(-np.expm1(-ACCEPTED_FROM)) ** -1 - 1.0
_SLACK = 1e-9


class Settling(IntEnum):
    """How far the heat of a part has settled.

    Attributes
    ----------
    UNKNOWN
        Time under load or time constant is not known.
    NOT_SETTLED
        Under three time constants: shown as measured, not scaled, clears nothing.
    ACCEPTED
        Three to five: used, flagged, up to ``SETTLING_ALLOWANCE`` may be missing.
    SETTLED
        Five and more: less than 0.7 % is missing.
    """

    UNKNOWN = 0
    NOT_SETTLED = 1
    ACCEPTED = 2
    SETTLED = 3


def settled_share(minutes_at_load: ArrayLike, time_constant_min: ArrayLike) -> Floats:
    """Share of a step of the rise that has come about, s = 1 − e^(−t/τ).

    Parameters
    ----------
    minutes_at_load : array_like
        Time t since the load last changed [min], 0 or more.
    time_constant_min : array_like
        Thermal time constant τ of the part [min], above 0; typed per kind, none is shipped.

    Returns
    -------
    ndarray of float
        0 to 1; NaN where either is missing or cannot be.

    Notes
    -----
    One time constant stands for the part: a joint on a heavy bar first follows itself and
    then the bar. Take the slower one.

    References
    ----------
    IEC 60076-7 uses the same step response for oil and winding.

    Examples
    --------
    >>> settled_share([10, 20, 30, 50], 10).round(4).tolist()
    [0.6321, 0.8647, 0.9502, 0.9933]
    """
    return -np.expm1(-_constants(minutes_at_load, time_constant_min))


def settling_state(minutes_at_load: ArrayLike, time_constant_min: ArrayLike) -> Codes:
    """Whether the heat has settled, by the number of time constants under this load.

    Parameters
    ----------
    minutes_at_load, time_constant_min : array_like
        As in :func:`settled_share` [min].

    Returns
    -------
    ndarray of uint8
        :class:`Settling` of each element.

    References
    ----------
    Common practice, no source: 3τ and 5τ. IEC 60076-2 cuts a heat run by the rate instead.

    Examples
    --------
    >>> [Settling(code).name for code in settling_state([20, 30, 50, float("nan")], 10)]
    ['NOT_SETTLED', 'ACCEPTED', 'SETTLED', 'UNKNOWN']
    """
    constants = _constants(minutes_at_load, time_constant_min)
    state = np.select(
        [np.isnan(constants), constants < ACCEPTED_FROM - _SLACK, constants < SETTLED_FROM - _SLACK],
        [Settling.UNKNOWN, Settling.NOT_SETTLED, Settling.ACCEPTED],
        default=Settling.SETTLED,
    )
    return state.astype(np.uint8)


def with_settling_allowance(rise_k: ArrayLike, state: ArrayLike) -> Figure:
    """The most a rise can become once settled, for a rise that is accepted [K].

    Parameters
    ----------
    rise_k : array_like
        Rise as measured, or the upper end of its interval [K].
    state : array_like of int
        :class:`Settling` of each.

    Returns
    -------
    Figure
        The rise where settled, 5.2 % more where accepted; NaN with *not settled* elsewhere.

    Notes
    -----
    After three time constants 1 − s = 5 % of the *steady* rise is missing, which is
    1/s − 1 = 5.24 % of the *measured* one. The whole of it is added up to five time
    constants, since τ itself is known roughly. One-sided: it only ever adds, and a negative
    rise stays as it is.

    Examples
    --------
    >>> with_settling_allowance([10.0, 10.0], [Settling.SETTLED, Settling.ACCEPTED]).value.round(2).tolist()
    [10.0, 10.52]
    """
    rise, code = np.broadcast_arrays(_floats(rise_k), np.asarray(state))
    with np.errstate(invalid="ignore"):
        allowance = np.where((code == Settling.ACCEPTED) & (rise > 0), SETTLING_ALLOWANCE, 0.0)
    refusal = np.select(
        [np.isnan(rise), (code != Settling.SETTLED) & (code != Settling.ACCEPTED)],
        [Refusal.NO_NUMBER, Refusal.NOT_SETTLED],
        default=Refusal.NONE,
    )
    value = np.where(refusal == 0, rise * (1.0 + allowance), np.nan)
    return Figure(value, refusal.astype(np.uint8))


def steady_rise(
    rise_k: ArrayLike,
    start_rise_k: ArrayLike,
    *,
    minutes_at_load: ArrayLike,
    time_constant_min: ArrayLike,
) -> Figure:
    """Estimate of the steady rise from one that is still moving [K].

    Parameters
    ----------
    rise_k : array_like
        Rise as measured [K].
    start_rise_k : array_like
        Rise when the load last changed [K]; must be known.
    minutes_at_load, time_constant_min : array_like
        As in :func:`settled_share` [min].

    Returns
    -------
    Figure
        ΔT_∞ = (ΔT(t) − ΔT_0·e^(−m))/(1 − e^(−m)), m = t/τ; NaN with *not settled* below two
        time constants or where they are not known.

    Notes
    -----
    An estimate to look at, never to clear with: an error of 20 % in τ at m = 2 moves it by
    5 % of the step.

    Examples
    --------
    >>> round(float(steady_rise(35.94, 10.0, minutes_at_load=20, time_constant_min=10).value), 1)
    40.0
    """
    rise, start, constants = np.broadcast_arrays(
        _floats(rise_k), _floats(start_rise_k), _constants(minutes_at_load, time_constant_min)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        missing = np.exp(-constants)
        value = (rise - start * missing) / (1.0 - missing)
        refusal = np.select(
            [np.isnan(rise) | np.isnan(start), ~(constants >= ESTIMATE_FROM - _SLACK)],
            [Refusal.NO_NUMBER, Refusal.NOT_SETTLED],
            default=Refusal.NONE,
        )
    return Figure(np.where(refusal == 0, value, np.nan), refusal.astype(np.uint8))


def _constants(minutes_at_load: ArrayLike, time_constant_min: ArrayLike) -> Floats:
    """Number of time constants under load; NaN where it cannot be known."""
    minutes, tau = np.broadcast_arrays(_floats(minutes_at_load), _floats(time_constant_min))
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where((minutes >= 0) & (tau > 0), minutes / tau, np.nan)


def _floats(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)
