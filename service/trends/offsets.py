"""What all points of one round share, the instrument's day: estimated robustly and taken away."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Members below which a round says nothing of its offset.
LEAST_MEMBERS = 8
#: Earlier visits of a point that its value is compared with, the last ones.
WINDOW = 8
#: Exponent of load by which rises were brought to common load; an offset is a kelvin as measured.
EXPONENT = 1.8
#: Largest offset that is taken away: as measured [K], and of the logarithm.
CAP_K, CAP_LOG = 4.0, 0.4
#: Variance of a median of normal values over that of their mean, about pi/2.
MEDIAN_COST = 1.57
#: 1 / (normal quantile of 3/4): from a median of absolute deviations to a standard deviation.
MAD_TO_SD = 1.4826
#: Site scale: its ends, and the residuals below which it stays 1.
SCALE_ENDS, LEAST_RESIDUALS = (0.5, 3.0), 20


@dataclass(frozen=True, slots=True)
class Readings:
    """Visits in any order, each with its point and its round.

    Attributes
    ----------
    point, group : ndarray of int, shape (visits,)
        Point (0 ...), and round as seen by one instrument on one site (0 ...). A point has one
        visit of a group.
    episode : ndarray of int, shape (visits,)
        Grows at every repair or other cut of the point.
    rise_k, u_own_k, u_shared_k, load : ndarray, shape (visits,)
        Rise at common load, its own and its shared standard uncertainty [K], load over common
        load. Where the kind is not scaled by load, ``load`` is 1.
    site : ndarray of int, shape (groups,)
        Site of each group (0 ...).
    order : ndarray of int, shape (groups,)
        How many earlier groups its site has.
    """

    point: Ints
    group: Ints
    episode: Ints
    rise_k: Floats
    u_own_k: Floats
    u_shared_k: Floats
    load: Floats
    site: Ints
    order: Ints


@dataclass(frozen=True, slots=True)
class Levelled:
    """Rises without their rounds' offsets.

    Attributes
    ----------
    rise_k, u_k : ndarray, shape (visits,)
        Rise and its standard uncertainty [K]; the shared part is that of the offset where one
        was taken away.
    z : ndarray, shape (visits,)
        How far a visit lies from the point's earlier ones, in its own uncertainty; NaN without.
    offset, offset_u : ndarray, shape (groups,)
        Offset and its standard uncertainty [K as measured, or of the logarithm]; NaN where the
        round is too small to say.
    members : ndarray of int, shape (groups,)
        Points that had earlier visits to be compared with.
    """

    rise_k: Floats
    u_k: Floats
    z: Floats
    offset: Floats
    offset_u: Floats
    members: Ints


def level_rounds(readings: Readings, *, log: bool = False, remove: bool = True) -> Levelled:
    """Take away what the points of each round share, oldest round first.

    Parameters
    ----------
    readings : Readings
    log : bool
        The offset is a share of the rise (bearings), not a kelvin.
    remove : bool
        False leaves the rises alone (like parts: the camera cancels), and gives ``z`` only.

    Returns
    -------
    Levelled

    Notes
    -----
    e = (y - median of the point's last 8 levelled visits since repair) L^n, in kelvin as
    measured; c = median(e), s = 1.4826 MAD(e), se^2 = 1.57 s^2/m; c is capped. Only earlier rounds are used, so a replay finds what would
    have been found. A drift that most points of a round share is hidden by this: chart the
    offsets.

    References
    ----------
    Median polish: Tukey (1977), chapter 11.
    """
    work = _Work(readings, log=log)
    for rows in _steps(readings):
        usual, count = work.past.usual(readings.point[rows], readings.episode[rows])
        if remove:
            work.take_away(rows, usual, count > 0)
        work.compare(rows, usual, count)
        work.past.add(readings.point[rows], work.rise_k[rows])
    u_k = np.hypot(readings.u_own_k, work.shared_k)
    return Levelled(work.rise_k, u_k, work.z, work.offset, work.offset_u, work.members)


def _steps(readings: Readings) -> Iterator[Ints]:
    """Visits of the first round of every site, then of the second, and so on."""
    step = readings.order[readings.group]
    by_step = np.argsort(step, kind="stable")
    cuts = np.searchsorted(step[by_step], np.arange(int(step.max(initial=-1)) + 2))
    for first, last in pairwise(cuts):
        yield by_step[first:last]


class _Work:
    """What has been levelled so far."""

    def __init__(self, readings: Readings, *, log: bool) -> None:
        self._readings, self._log = readings, log
        self.past = _Past(int(readings.point.max(initial=-1)) + 1)
        self.rise_k = readings.rise_k.astype(np.float64, copy=True)
        self.shared_k = readings.u_shared_k.astype(np.float64, copy=True)
        self.z = np.full(len(self.rise_k), np.nan)
        self.offset, self.offset_u = np.full((2, len(readings.site)), np.nan)
        self.members = np.zeros(len(readings.site), dtype=np.int64)

    def take_away(self, rows: Ints, usual: Floats, speaks: Bools) -> None:
        """The offset of each group of these visits, where enough of its points speak."""
        group, rise_k = self._readings.group[rows], self.rise_k[rows]
        # a kelvin as measured is so much more at common load
        at_common = 1.0 if self._log else self._readings.load[rows] ** -EXPONENT
        with np.errstate(invalid="ignore"):
            apart = (
                np.log(np.maximum(rise_k, 1) / np.maximum(usual, 1))
                if self._log
                else (rise_k - usual) / at_common
            )
        offset, u, members = _offsets(apart[speaks], group[speaks], len(self.members))
        told = members >= LEAST_MEMBERS
        cap = CAP_LOG if self._log else CAP_K
        self.members = np.maximum(self.members, members)
        self.offset[told], self.offset_u[told] = np.clip(offset[told], -cap, cap), u[told]
        here = told[group]
        shift, unsure = (np.where(here, of_group[group], 0.0) for of_group in (self.offset, self.offset_u))
        level = rise_k * np.exp(-shift) if self._log else rise_k - shift * at_common
        shared = unsure * np.abs(level) if self._log else unsure * at_common
        self.rise_k[rows] = np.where(here, level, rise_k)
        self.shared_k[rows] = np.where(here, shared, self.shared_k[rows])

    def compare(self, rows: Ints, usual: Floats, count: Ints) -> None:
        """How far each visit lies from the point's earlier ones, in its own uncertainty."""
        u_k = np.hypot(self._readings.u_own_k[rows], self.shared_k[rows])
        with np.errstate(invalid="ignore", divide="ignore"):
            apart = (self.rise_k[rows] - usual) / (u_k * np.sqrt(1 + MEDIAN_COST / np.maximum(count, 1)))
        self.z[rows] = np.where(count > 1, apart, np.nan)


class _Past:
    """The last visits of every point since its last cut."""

    def __init__(self, points: int) -> None:
        self._ring = np.full((points, WINDOW), np.nan)
        self._seen = np.zeros(points, dtype=np.int64)
        self._episode = np.full(points, -1, dtype=np.int64)

    def usual(self, point: Ints, episode: Ints) -> tuple[Floats, Ints]:
        """Median of the last visits of each point, NaN without, and how many they are."""
        cut = point[episode != self._episode[point]]
        self._ring[cut], self._seen[cut] = np.nan, 0
        self._episode[point] = episode
        count = np.minimum(self._seen[point], WINDOW)
        ordered = np.sort(self._ring[point], axis=1)  # NaN last
        rows = np.arange(len(point))
        low, high = np.maximum((count - 1) // 2, 0), count // 2
        high = np.minimum(high, WINDOW - 1)
        return (ordered[rows, low] + ordered[rows, high]) / 2, count

    def add(self, point: Ints, rise_k: Floats) -> None:
        self._ring[point, self._seen[point] % WINDOW] = rise_k
        self._seen[point] += 1


def _offsets(apart: Floats, group: Ints, groups: int) -> tuple[Floats, Floats, Ints]:
    """Median, its standard error and members, by group.

    Not drawn to 0 where it is hardly more than its error: then what a camera adds to a round would
    move scores by how large it happened to be, and on simulated fleets nothing is gained by it.
    """
    members = np.bincount(group, minlength=groups)
    median = grouped_median(apart, group, members)
    spread = MAD_TO_SD * grouped_median(np.abs(apart - median[group]), group, members)
    se2 = MEDIAN_COST * spread**2 / np.maximum(members, 1)
    return median, np.sqrt(se2), members


def grouped_median(values: Floats, group: Ints, members: Ints) -> Floats:
    """Median of the values of each group; NaN where it has none."""
    ordered = values[np.lexsort((values, group))]
    starts = np.concatenate(([0], np.cumsum(members)[:-1]))
    some = members > 0
    result = np.full(len(members), np.nan)
    first, count = starts[some], members[some]
    result[some] = (ordered[first + (count - 1) // 2] + ordered[first + count // 2]) / 2
    return result


def site_scales(levelled: Levelled, readings: Readings, *, each_round: bool = False) -> Floats:
    """By what the stated uncertainties of a site are to be multiplied, by group.

    Parameters
    ----------
    each_round : bool
        As it was known at each round (for a replay); else as it is known now, at every round.

    Returns
    -------
    ndarray, shape (groups,)
        1.4826 median |z| of the site's readings so far, between 0.5 and 3; 1 below 20 of them.
    """
    groups, sites = len(readings.site), int(readings.site.max(initial=-1)) + 1
    known = np.isfinite(levelled.z)
    size, site = np.abs(levelled.z[known]), readings.site[readings.group[known]]
    step = readings.order[readings.group[known]]
    if not each_round:
        return _scale(size, site, sites)[readings.site]
    result = np.ones(groups)
    for j in range(int(readings.order.max(initial=-1)) + 1):
        at = readings.order == j
        if at.any():
            so_far = step <= j
            result[at] = _scale(size[so_far], site[so_far], sites)[readings.site[at]]
    return result


def _scale(size: Floats, site: Ints, sites: int) -> Floats:
    count = np.bincount(site, minlength=sites)
    scale = np.clip(MAD_TO_SD * grouped_median(size, site, count), *SCALE_ENDS)
    return np.where(count >= LEAST_RESIDUALS, scale, 1.0)
