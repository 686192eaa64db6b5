"""A simulated fleet as arrays, its truth kept apart."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

HEALTHY, LINEAR, ACCELERATING, STEPPED = 0, 1, 2, 3
STEADY, REPAIRED, DROPPED, WANDERING, BLOWN = 0, 1, 2, 3, 4


@dataclass(frozen=True, slots=True)
class Truth:
    """What no detector may see; every array has shape (points,).

    Attributes
    ----------
    fault : ndarray of int
        ``HEALTHY``, ``LINEAR``, ``ACCELERATING`` or ``STEPPED``.
    onset, limit : ndarray
        When the fault begins and when it reaches ``limit_k`` [years].
    nuisance : ndarray of int
        What a healthy point does that is no fault.
    second : ndarray of bool
        The weaker phase of a two-phase fault.
    span : ndarray
        How long the point is watched [years].
    limit_k : ndarray
        Rise at common load that counts as reached [K].
    """

    fault: Ints
    onset: Floats
    limit: Floats
    nuisance: Ints
    second: Bools
    span: Floats
    limit_k: Floats


@dataclass(frozen=True, slots=True)
class Fleet:
    """Readings of many points, padded with NaN; shape (points, rounds) unless said otherwise.

    Attributes
    ----------
    site, view, months : ndarray of int, shape (points,)
        Where a point is, what it is a like part of, and months between its rounds.
    years : ndarray
        Date of each reading; NaN where it was missed.
    measured_k, common_k, air_k : ndarray
        Rise over the reference as measured and at common load, and over air at common load [K].
    load : ndarray
        Load over common load as typed; 1 where the kind is not scaled.
    u_own_k, u_shared_k : ndarray
        Stated standard uncertainties of ``common_k`` [K].
    episode : ndarray of int
        Recorded repairs so far.
    truth : Truth
    """

    site: Ints
    view: Ints
    months: Ints
    years: Floats
    measured_k: Floats
    common_k: Floats
    air_k: Floats
    load: Floats
    u_own_k: Floats
    u_shared_k: Floats
    episode: Ints
    truth: Truth = field(repr=False)

    @property
    def read(self) -> Bools:
        """Where there is a reading."""
        return np.isfinite(self.common_k)


def joined(sites: Sequence[Fleet]) -> Fleet:
    """One fleet of many sites; shorter histories are padded."""
    rounds = max(site.years.shape[1] for site in sites)
    columns = {
        column.name: np.concatenate([_widened(getattr(site, column.name), rounds) for site in sites])
        for column in fields(Fleet)
        if column.name != "truth"
    }
    truth = {
        column.name: np.concatenate([getattr(site.truth, column.name) for site in sites])
        for column in fields(Truth)
    }
    return Fleet(**columns, truth=Truth(**truth))


def _widened(values: NDArray[np.generic], rounds: int) -> NDArray[np.generic]:
    if values.ndim == 1:
        return values
    blank = np.nan if values.dtype.kind == "f" else 0
    wide = np.full((len(values), rounds), blank, dtype=values.dtype)
    wide[:, : values.shape[1]] = values
    return wide
