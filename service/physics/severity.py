"""Severity with a guard band: chances that a rise lies in each band of a column."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from service.physics.refusals import Refusal
from service.physics.rise import Codes, Floats

#: A band is firm from this chance; a graver one is spoken of from the other; a standing may
#: fall when the chance of still being there is at most the third.
FIRM_FROM, MAY_BE_HIGHER_FROM, STILL_THERE_UP_TO = 0.95, 0.10, 0.05
#: Chance over its line from which one reading alone makes a *Look again*.
OVER_LINE_FROM = 0.90
#: Largest relative uncertainty for which the log-normal form holds.
LOGNORMAL_UP_TO = 0.30


class BandChances(NamedTuple):
    """Chances of the bands of a column, lowest first.

    Attributes
    ----------
    chance : ndarray, shape (..., bands)
        They sum to 1; NaN where refused.
    band : ndarray of int
        Band of the value itself; −1 where refused.
    refusal : ndarray of uint8
    """

    chance: Floats
    band: NDArray[np.int64]
    refusal: Codes

    @property
    def firm(self) -> NDArray[np.bool_]:
        """Whether the band of the value is the band, with a chance of 95 % or more."""
        return _own(self) >= FIRM_FROM

    @property
    def higher(self) -> Floats:
        """Chance of any graver band than that of the value."""
        return self.at_least(self.band + 1)

    @property
    def may_be_higher(self) -> NDArray[np.bool_]:
        """Whether a graver band has a chance of 10 % or more."""
        return self.higher >= MAY_BE_HIGHER_FROM

    @property
    def neighbour(self) -> NDArray[np.int64]:
        """The other band of a "between": the likeliest beside that of the value; −1 where refused."""
        places = np.arange(self.chance.shape[-1])
        others = np.where(places == self.band[..., None], -1.0, self.chance)
        likeliest = np.argmax(np.where(np.isnan(others), -1.0, others), axis=-1)
        return np.where(self.band < 0, -1, likeliest)

    def at_least(self, band: ArrayLike) -> Floats:
        """Chance of a given band or a graver one; 0 above the last band, NaN where refused."""
        wanted = np.asarray(band)[..., None]
        counted = np.where(np.arange(self.chance.shape[-1]) >= wanted, self.chance, 0.0)
        total: Floats = np.minimum(counted.sum(axis=-1), 1.0)
        return np.where(self.band < 0, np.nan, total)

    def may_fall_below(self, band: ArrayLike) -> NDArray[np.bool_]:
        """Whether a standing in a band may be lowered: the chance of still being there is ≤ 5 %.

        For one edge this is the guard band of 1.645·u under it.
        """
        return self.at_least(band) <= STILL_THERE_UP_TO


def band_chances(
    value: ArrayLike, u: ArrayLike, *, edges: ArrayLike, closes_up: bool | Sequence[bool] = False
) -> BandChances:
    """Chance that the true value lies in each band, for a normal uncertainty.

    Parameters
    ----------
    value, u : array_like
        Value and standard uncertainty in one unit [K, °C or %].
    edges : array_like, shape (edges,) or (..., edges)
        Ascending edges of the column, in the same unit.
    closes_up : bool or sequence of bool
        For each edge, whether the edge itself belongs to the band above it.

    Returns
    -------
    BandChances
        P(band j) = Φ((b_j − y)/u) − Φ((b_{j−1} − y)/u); NaN with *no number* or
        *no uncertainty* (u below 0 or missing). With u = 0 the band of the value has chance 1.

    Notes
    -----
    The closure decides the band of a value that lies on an edge; for u > 0 it does not touch
    the chances. A band narrower than 3.92·u can never be firm.

    References
    ----------
    JCGM 106:2012, 7.2 to 7.4 (conformance probability) and 8.3 (guard bands).

    Examples
    --------
    >>> band_chances(14.0, 0.87, edges=[1.0, 3.0, 15.0]).chance.round(4).tolist()
    [0.0, 0.0, 0.8748, 0.1252]
    """
    y, spread = np.broadcast_arrays(_floats(value), _floats(u))
    bounds = _floats(edges)
    refusal = np.select(
        [np.isnan(y), ~(spread >= 0)], [Refusal.NO_NUMBER, Refusal.NO_UNCERTAINTY], default=Refusal.NONE
    )
    return _chances(y, spread, bounds=bounds, closes_up=closes_up, refusal=refusal)


def band_chances_lognormal(
    value: ArrayLike, u: ArrayLike, *, edges: ArrayLike, closes_up: bool | Sequence[bool] = False
) -> BandChances:
    """The same for a rise brought to another load, whose uncertainty is a factor.

    Parameters
    ----------
    value, u : array_like
        Scaled rise and its standard uncertainty [K].
    edges, closes_up : array_like, bool or sequence of bool
        As in :func:`band_chances`; edges at or below 0 have nothing under them.

    Returns
    -------
    BandChances
        Φ in ln: P(below b) = Φ(ln(b/y)/(u/y)); NaN with *no number*, *no uncertainty*,
        *out of range* (value not above 0) or *too wide* (u/y above 0.3: propagate by
        Monte Carlo and use :func:`band_chances_of_trials`).

    Examples
    --------
    >>> band_chances_lognormal(39.224, 3.406, edges=[1.0, 3.0, 15.0]).firm.tolist()
    True
    """
    y, spread = np.broadcast_arrays(_floats(value), _floats(u))
    with np.errstate(invalid="ignore", divide="ignore"):
        relative = spread / y
        refusal = np.select(
            [np.isnan(y), ~(spread >= 0), ~(y > 0), relative > LOGNORMAL_UP_TO],
            [Refusal.NO_NUMBER, Refusal.NO_UNCERTAINTY, Refusal.OUT_OF_RANGE, Refusal.TOO_WIDE],
            default=Refusal.NONE,
        )
        bounds = _floats(edges)
        logs = np.where(bounds > 0, np.log(np.where(bounds > 0, bounds, 1.0)), -np.inf)
        middle = np.log(np.where(y > 0, y, np.nan))
    return _chances(middle, relative, bounds=logs, closes_up=closes_up, refusal=refusal)


def band_chances_of_trials(
    trials: ArrayLike, value: float, *, edges: ArrayLike, closes_up: bool | Sequence[bool] = False
) -> BandChances:
    """The same for one reading propagated by Monte Carlo.

    Parameters
    ----------
    trials : array_like, shape (trials,)
        Values of the measurand; NaN is left out.
    value : float
        The value as judged, whose band is told.
    edges, closes_up : array_like, bool or sequence of bool
        As in :func:`band_chances`.

    Returns
    -------
    BandChances
        Shares of the trials in each band; *no number* without any.

    Examples
    --------
    >>> band_chances_of_trials([0.5, 2.0, 2.5, 9.0], 2.4, edges=[1.0, 3.0, 15.0]).chance.tolist()
    [0.25, 0.5, 0.25, 0.0]
    """
    drawn = _floats(trials)
    drawn = drawn[np.isfinite(drawn)]
    bounds = _floats(edges)
    refusal = np.asarray(Refusal.NO_NUMBER if drawn.size == 0 or np.isnan(value) else Refusal.NONE)
    counts = np.bincount(_band_of(drawn, bounds=bounds, closes_up=closes_up), minlength=bounds.shape[-1] + 1)
    own = _band_of(_floats(value), bounds=bounds, closes_up=closes_up)
    sound = refusal == 0
    return BandChances(
        np.where(sound[..., None], counts / max(drawn.size, 1), np.nan),
        np.where(sound, own, -1),
        refusal.astype(np.uint8),
    )


def _chances(
    y: Floats,
    spread: Floats,
    *,
    bounds: Floats,
    closes_up: bool | Sequence[bool],
    refusal: NDArray[np.generic],
) -> BandChances:
    sound = refusal == 0
    own = _band_of(y, bounds=bounds, closes_up=closes_up)
    bands = bounds.shape[-1] + 1
    with np.errstate(invalid="ignore", divide="ignore"):
        away = (bounds - y[..., None]) / spread[..., None]
    inner = ndtr(away)
    if (spread == 0).any():
        step = own[..., None] <= np.arange(bands - 1)
        inner = np.where(spread[..., None] == 0, step, inner)
    ends = (*inner.shape[:-1], 1)
    below = np.concatenate([np.zeros(ends), inner, np.ones(ends)], axis=-1)
    chance = np.where(sound[..., None], np.diff(below, axis=-1), np.nan)
    return BandChances(chance, np.where(sound, own, -1), refusal.astype(np.uint8))


def _band_of(y: Floats, *, bounds: Floats, closes_up: bool | Sequence[bool]) -> NDArray[np.int64]:
    own = y[..., None]
    with np.errstate(invalid="ignore"):
        over = (own > bounds) | ((own == bounds) & np.asarray(closes_up))
    found: NDArray[np.int64] = over.sum(axis=-1)
    return found


def _own(found: BandChances) -> Floats:
    own: Floats = np.take_along_axis(found.chance, np.maximum(found.band, 0)[..., None], axis=-1)[..., 0]
    return own


def _floats(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)
