"""A level and a slope that wander: the filter of a local linear trend."""

from math import inf, isinf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Wander(NamedTuple):
    """How much level and slope may wander between visits, and what is known of the slope before.

    Attributes
    ----------
    level : float
        Variance that the level gains [K^2/year].
    slope : float
        Variance that the slope gains [(K/year)^2/year].
    slope_sd : float
        Standard deviation of the slope about 0 before the first visit [K/year]; infinite where
        nothing is known of it, 0 for a level alone.
    clip : float
        A visit further off than so many standard deviations counts as if it were less sure.
    """

    level: float = 0.5
    slope: float = 4.0
    slope_sd: float = inf
    clip: float = 3.0


class LocalTrend(NamedTuple):
    """Level and slope by the visits up to each; all shape (n,).

    Attributes
    ----------
    level_k, level_sd_k : ndarray
        The level at the visit, and its standard deviation [K].
    slope, slope_sd : ndarray
        The slope there, and its standard deviation [K/year]; infinite sd while it is unknown.
    off_k, off_sd_k : ndarray
        How far the visit lay from what the ones before it said, and the standard deviation of
        that [K]; NaN where they said nothing.
    """

    level_k: Floats
    level_sd_k: Floats
    slope: Floats
    slope_sd: Floats
    off_k: Floats
    off_sd_k: Floats


def local_trend(years: Floats, rise_k: Floats, u_k: Floats, wander: Wander | None = None) -> LocalTrend:
    """Filter one series: level and slope at each visit, from it and the visits before it.

    Parameters
    ----------
    years : ndarray, shape (n,)
        Dates [years], in order; any origin. Without wander the order does not matter.
    rise_k, u_k : ndarray, shape (n,)
        Rises and their standard uncertainty [K]; finite, u above 0.
    wander : Wander, optional
        Noise and start; by default 0.5 K^2/year, 4 (K/year)^2/year, a slope of which nothing is
        known before, and visits clipped at 3.

    Returns
    -------
    LocalTrend

    Notes
    -----
    State (level, slope), moved over a gap dt by ((1, dt), (0, 1)) and loosened by
    ((q_l dt + q_s dt^3/3, q_s dt^2/2), (q_s dt^2/2, q_s dt)), then drawn to the visit by the
    gain. The start is exact: of the level nothing is known before the first visit, of the slope
    (unless ``slope_sd`` says something) nothing before the second date, where it is the
    difference of the two over the gap. A visit z > ``clip`` standard deviations off has the
    variance of its distance multiplied by z / clip.

    Without wander it is weighted least squares, visit by visit; with slope_sd 0 and no wander
    of the slope it is the local level model.

    References
    ----------
    Harvey (1989), Forecasting, Structural Time Series Models and the Kalman Filter, section 2.3;
    Durbin and Koopman (2012), Time Series Analysis by State Space Methods, sections 2.2, 3.2, 5.2.

    Examples
    --------
    >>> import numpy as np
    >>> still = Wander(level=0.0, slope=0.0, clip=np.inf)
    >>> found = local_trend(np.arange(4.0), np.array([1.0, 3.0, 5.0, 7.0]), np.ones(4), still)
    >>> float(found.level_k[-1].round(9)), float(found.slope[-1].round(9)), float(found.slope_sd[-1].round(4))
    (7.0, 2.0, 0.4472)
    """
    how = wander or Wander()
    told = np.full((len(rise_k), 6), np.nan)
    state = _State(0.0, inf, 0.0, 0.0 if isinf(how.slope_sd) else how.slope_sd**2, 0.0, isinf(how.slope_sd))
    before = float(years[0]) if len(years) else 0.0
    for k, (year, value, u) in enumerate(zip(years.tolist(), rise_k.tolist(), u_k.tolist(), strict=True)):
        state, off, off_var = _visit(state, year - before, value, u * u, how)
        slope_sd = inf if state.unknown_slope else sqrt(state.slope_var)
        told[k] = (state.level, sqrt(state.level_var), state.slope, slope_sd, off, sqrt(off_var))
        before = year
    return LocalTrend(*np.ascontiguousarray(told.T))


class _State(NamedTuple):
    level: float
    level_var: float
    slope: float
    slope_var: float
    both: float
    unknown_slope: bool


def _visit(state: _State, gap: float, value: float, var: float, how: Wander) -> tuple[_State, float, float]:
    """Move over the gap and take up a visit; its distance from what was expected, and the variance of it."""
    if isinf(state.level_var):
        return state._replace(level=value, level_var=var), np.nan, np.nan
    q_level = how.level * gap + how.slope * gap**3 / 3
    q_both, q_slope = how.slope * gap**2 / 2, how.slope * gap
    if state.unknown_slope and gap:
        return _first_slope(state, gap, value, var, (q_level, q_both, q_slope)), np.nan, np.nan
    level_var = state.level_var + 2 * gap * state.both + gap * gap * state.slope_var + q_level
    both = state.both + gap * state.slope_var + q_both
    slope_var = state.slope_var + q_slope
    expected = state.level + gap * state.slope
    off, off_var = value - expected, level_var + var
    z = abs(off) / sqrt(off_var)
    if z > how.clip:
        off_var *= z / how.clip
    to_level, to_slope = level_var / off_var, both / off_var
    moved = _State(
        level=expected + to_level * off,
        level_var=level_var - to_level * level_var,
        slope=state.slope + to_slope * off,
        slope_var=slope_var - to_slope * both,
        both=both - to_slope * level_var,
        unknown_slope=state.unknown_slope,
    )
    return moved, off, off_var


def _first_slope(
    state: _State, gap: float, value: float, var: float, q: tuple[float, float, float]
) -> _State:
    """The second date: the first slope is a difference over the gap, and all its errors are known."""
    q_level, q_both, q_slope = q
    return _State(
        level=value,
        level_var=var,
        slope=(value - state.level) / gap,
        slope_var=(state.level_var + var + q_level) / gap**2 + q_slope - 2 * q_both / gap,
        both=var / gap,
        unknown_slope=False,
    )
