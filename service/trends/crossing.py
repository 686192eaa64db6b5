"""When a worsening series reaches its line: a posterior over the date itself, never a line drawn to it."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Dates looked at, after the last visit [years], and how finely: the edges of cells, and their middles.
NEAREST, FARTHEST, CELLS = 0.03, 15.0, 60
EDGES: Floats = np.geomspace(NEAREST, FARTHEST, CELLS + 1)
DATES: Floats = np.sqrt(EDGES[1:] * EDGES[:-1])
#: Student-t noise: degrees of freedom, and how much wider than u it is.
NU, WIDER = 5.0, 1.2
#: Onset to line [years], log-uniform between.
SHORTEST, LONGEST = 0.3, 12.0
#: Chance beforehand that a change begins with a jump.
JUMP = 0.35
#: Visits looked at, the last ones.
MOST_VISITS = 30
#: Values of one array held at once: what one fit goes through again and again stays in the cache.
VALUES_AT_ONCE = 65_536
_PASSES = 3


@dataclass(frozen=True, slots=True)
class Prior:
    """What is held possible before the readings are seen.

    Attributes
    ----------
    powers, weights : tuple of float
        Exponents p of the path (x/D)^p, and how likely each is (any scale).
    jump_k : float
        Width of the size of a jump [K].
    never : float
        Chance that the series has stopped, or only stepped, and never reaches the line.
    near : float
        Nearer dates are likelier by (D/c)^near.
    blur : float
        The line is taken at 1 - blur, 1 and 1 + blur of itself (weights 1/4, 1/2, 1/4): what the
        exponent of the load, the season and the load of a bearing do to a whole series.
    early, late : float
        Ends of the range of dates that is told.
    """

    powers: tuple[float, ...] = (1, 2, 4, 8)
    weights: tuple[float, ...] = (1, 1, 1, 1)
    jump_k: float = 20.0
    never: float = 0.4
    near: float = 0.0
    blur: float = 0.08
    early: float = 0.05
    late: float = 0.95


#: The plain prior, and those of each kind of reference. Straighter courses are likelier; over like parts
#: and over a baseline more is wrong with a whole series than over air, so that the line is blurred more.
#: The early end lies at 1 or 2 %: a range that errs late is the dangerous one. Set on simulated fleets
#: (``bench/simulated/table.py`` names them); they need a field recheck.
PLAIN = Prior()
_STRAIGHTER = ((1, 2, 4, 8, 12), (4, 3, 2, 1, 1))
AIR_DATES = Prior(*_STRAIGHTER, jump_k=5.0, never=0.6, near=0.75, blur=0.08, early=0.02, late=0.9)
LIKE_DATES = Prior(*_STRAIGHTER, jump_k=5.0, never=0.3, near=0.25, blur=0.22, early=0.01)
BASELINE_DATES = Prior(*_STRAIGHTER, jump_k=10.0, never=0.3, near=0.75, blur=0.22, early=0.02)


@dataclass(frozen=True, slots=True)
class Crossing:
    """The chances of one series; years count from its last visit.

    Attributes
    ----------
    reached_by : ndarray, shape (CELLS + 1,)
        Chance that the line is reached by each of ``EDGES``.
    prior : Prior
        What it was worked out with.
    """

    reached_by: Floats
    prior: Prior

    def chance(self, years: float) -> float:
        """Chance that the line is reached within so many years of the last visit [0, 1]."""
        return float(np.interp(years, EDGES, self.reached_by, left=0.0))

    def date(self, share: float) -> float:
        """Years after the last visit by which the chance passes ``share``; infinite if it never does."""
        if self.reached_by[-1] < share:
            return float("inf")
        return float(np.interp(share, self.reached_by, EDGES))

    @property
    def earliest(self) -> float:
        """Early end of the range [years]; infinite where the line is hardly ever reached."""
        return self.date(self.prior.early)

    @property
    def latest(self) -> float:
        """Late end [years]; infinite means "or later"."""
        return self.date(self.prior.late)

    @property
    def likeliest(self) -> float:
        """The date with as many chances before it as after, of those within ``FARTHEST`` [years]."""
        return self.date(self.reached_by[-1] / 2) if self.reached_by[-1] > 0 else float("inf")


def crossing(years: Floats, rise_k: Floats, u_k: Floats, *, line_k: float, prior: Prior) -> Crossing:
    """When one series reaches its line.

    Parameters
    ----------
    years : ndarray, shape (n,)
        Dates [years], in order; any origin; at least two different ones.
    rise_k, u_k : ndarray, shape (n,)
        Rises and their standard uncertainty [K].
    line_k : float
        The line [K].
    prior : Prior
        What is held possible beforehand.

    Returns
    -------
    Crossing

    Raises
    ------
    ValueError
        With fewer than two dates there is no onset to look for.

    Notes
    -----
    A path keeps a level until its onset (any visit but the last; likelier before a long gap),
    jumps or not to m, and runs m + (F - m)(x/D)^p to the line F, reached D after the onset. For
    every onset, date, power and either kind of start the level that fits best is found in
    closed form (with weights of Student's t, 5 degrees of freedom, u widened by 1.2), its
    likelihood taken, and summed with the prior's weights; paths that stand over the line are
    none. A jump pays for its freedom by sqrt(2 pi) / width / sqrt(sum of weights). Dates count
    from the last visit. Unlike a straight line through the visits it errs neither late by years
    nor to a single day; see ``bench`` for how often its range held the date.

    Examples
    --------
    >>> import numpy as np
    >>> rises = np.array([8, 8.4, 7.7, 8.2, 9.1, 11.2, 12.9, 15.2])
    >>> found = crossing(np.arange(0, 4, 0.5), rises, np.ones(8), line_k=50.0, prior=PLAIN)
    >>> round(found.chance(2.0), 2), round(found.likeliest, 1)
    (0.1, 4.4)
    """
    return courses(years, rise_k, u_k, line_k=line_k, prior=prior).crossing()


@dataclass(frozen=True, slots=True)
class Paths:
    """Every course to one line that was held possible, with how likely the readings make it.

    Attributes
    ----------
    onsets : ndarray, shape (onsets,)
        Days on which a course may have begun [years from the last visit].
    powers : tuple of float
        Exponents of the courses.
    start_k, weight : ndarray, shape (2, powers, onsets, CELLS)
        What each begins from [K] and its chance, without a jump and with one; all chances of a
        ``Paths`` together, those of ``stays`` among them, make one.
    stays_k, stays_weight : ndarray, shape (1 + onsets,)
        Levels of those that never reach the line [K]: unchanged, or stepped after each onset.
    """

    onsets: Floats
    powers: tuple[float, ...]
    start_k: Floats
    weight: Floats
    stays_k: Floats
    stays_weight: Floats

    def reached(self) -> Floats:
        """Chance that the line is reached by each of ``EDGES``."""
        return np.concatenate(([0.0], np.cumsum(self.weight.sum(axis=(0, 1, 2)))))


@dataclass(frozen=True, slots=True)
class Courses:
    """The courses of one series to its line as it may truly lie.

    Attributes
    ----------
    line_k : float
        The line as it is drawn [K].
    prior : Prior
        What was held possible beforehand.
    parts : tuple of (float, float, Paths)
        A share, the factor on the line, and the courses to it.
    """

    line_k: float
    prior: Prior
    parts: tuple[tuple[float, float, Paths], ...]

    def crossing(self) -> Crossing:
        """When they reach it."""
        reached = sum(share * paths.reached() for share, _, paths in self.parts)
        return Crossing(np.asarray(reached), self.prior)


def courses(years: Floats, rise_k: Floats, u_k: Floats, *, line_k: float, prior: Prior) -> Courses:
    """What ``crossing`` and the fan are both cut from; parameters and errors are those of ``crossing``."""
    t, y, u = (part[-MOST_VISITS:] for part in (years, rise_k, u_k))
    if len(np.unique(t)) < 2:
        raise ValueError("a forecast needs at least two dates")
    lines = ((1 - prior.blur, 0.25), (1.0, 0.5), (1 + prior.blur, 0.25))
    visits = _visits(t - t[-1], y, u, prior)
    parts = tuple((share, factor, _paths(visits, line_k * factor, prior)) for factor, share in lines)
    return Courses(line_k, prior, parts)


class _Levels(NamedTuple):
    """Levels, their log-likelihoods and the sums of their weights."""

    level_k: Floats
    log: Floats
    weights: Floats


@dataclass(frozen=True, slots=True)
class _Visits:
    """What is the same for every line: the visits, the levels about each onset, and how far courses have run.

    Attributes
    ----------
    y, u2 : ndarray, shape (n,)
        Rises, and variances as they are taken [K, K^2].
    onsets, onset_chance : ndarray, shape (onsets,)
        Days on which a course may have begun, and their chances.
    after : ndarray of bool, shape (onsets, n)
        Which visits lie after each onset.
    flat, before, stepped : _Levels
        Levels of all visits, of those up to each onset, and of those after it.
    ways : tuple of ndarray, shape (onsets, CELLS, n)
        By power (x/D)^p.
    date_chances : ndarray, shape (onsets, CELLS)
        Chance beforehand of every date.
    """

    y: Floats
    u2: Floats
    onsets: Floats
    onset_chance: Floats
    after: Bools
    flat: _Levels
    before: _Levels
    stepped: _Levels
    ways: tuple[Floats, ...]
    date_chances: Floats


def _visits(t: Floats, y: Floats, u: Floats, prior: Prior) -> _Visits:
    """Visits made ready for courses to any line; ``t`` counts from the last one [years]."""
    u2 = (u * WIDER) ** 2
    onsets = t[:-1]
    after = t[None, :] > onsets[:, None]
    ratio = np.maximum(t[None, :] - onsets[:, None], 0.0)[:, None, :] / (DATES - onsets[:, None])[:, :, None]
    return _Visits(
        y=y,
        u2=u2,
        onsets=onsets,
        onset_chance=np.diff(t) / (t[-1] - t[0]),
        after=after,
        flat=_level(y, u2, np.ones((1, len(t)), dtype=bool)),
        before=_level(y, u2, ~after),
        stepped=_level(y, u2, after),
        ways=tuple(ratio**power for power in prior.powers),
        date_chances=_date_chances(onsets, prior),
    )


def _paths(visits: _Visits, line_k: float, prior: Prior) -> Paths:
    """The courses to one line."""
    (flat, log_flat, _), (stepped, log_after, weights) = visits.flat, visits.stepped
    before, onset_chance = visits.before.level_k, visits.onset_chance
    log_stepped = log_after + visits.before.log
    ways = [_path(way, visits, line_k) for way in visits.ways]
    start_k = np.array([[way[0] for way in ways], [way[2] for way in ways]])
    log = np.array([[way[1] for way in ways], [way[3] for way in ways]])
    freedom = np.array([way[4] for way in ways])

    highest = max(float(log_flat[0]), float(log.max()))
    weight = np.exp(log - highest)
    weight[0] *= 1 - JUMP
    weight[1] *= JUMP * _occam(freedom, prior)
    weight *= visits.date_chances * onset_chance[:, None]
    weight *= (np.array(prior.weights) / sum(prior.weights))[:, None, None] * (1 - prior.never)

    rises = np.where((stepped > before) & (weights > 0), np.exp(log_stepped - highest), 0.0)
    stays = np.concatenate(
        ((1 - JUMP) * np.exp(log_flat - highest), JUMP * onset_chance * rises * _occam(weights, prior))
    )
    stays *= prior.never
    total = weight.sum() + stays.sum()
    return Paths(
        visits.onsets, prior.powers, start_k, weight / total, np.concatenate((flat, stepped)), stays / total
    )


def _date_chances(onsets: Floats, prior: Prior) -> Floats:
    """Chance beforehand of every date, by onset; shape (onsets, dates)."""
    low, high = (
        np.clip(edge[None, :] - onsets[:, None], SHORTEST, LONGEST) for edge in (EDGES[:-1], EDGES[1:])
    )
    chance: Floats = np.log(high / low) / np.log(LONGEST / SHORTEST)
    return chance * ((DATES[None, :] - onsets[:, None]) / DATES[None, :]) ** prior.near


def _occam(weights: Floats, prior: Prior) -> Floats:
    cost: Floats = np.sqrt(2 * np.pi / np.maximum(weights, 1e-300)) / prior.jump_k
    return cost


def _path(s: Floats, visits: _Visits, line_k: float) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Start and log-likelihood of one power by onset and date, without and with a jump, and a jump's weights.

    ``s`` is (x/D)^p of shape (onsets, dates, visits). Impossible paths have minus infinity.
    """
    found = np.empty((5, *s.shape[:2]))
    smooth, log_smooth, jumped, log_jump, weights = found
    at_once = max(1, VALUES_AT_ONCE // (s.shape[1] * s.shape[2]))
    for first in range(0, len(s), at_once):
        rows = slice(first, first + at_once)
        held, target = 1 - s[rows], visits.y - line_k * s[rows]
        smooth[rows], log_smooth[rows], _ = _start(held, target, visits.u2, None)
        jumped[rows], log_jump[rows], weights[rows] = _start(
            held, target, visits.u2, visits.after[rows, None, :]
        )
    before = visits.before.level_k[:, None]
    log_smooth[smooth > line_k] = -np.inf
    log_jump += visits.before.log[:, None]
    log_jump[(jumped > line_k) | (jumped < before)] = -np.inf
    return smooth, log_smooth, jumped, log_jump, weights


def _start(held: Floats, target: Floats, u2: Floats, only: Bools | None) -> tuple[Floats, Floats, Floats]:
    """Best m of y = m held + F s over some visits, its log-likelihood and the sum of weights."""
    count = np.float64(1.0) if only is None else only.astype(np.float64)
    weight = np.empty_like(held)
    weight[...] = count / u2
    off = np.empty_like(held)
    for turn in range(_PASSES):
        weights = np.einsum("ocn,ocn,ocn->oc", weight, held, held)
        start = np.einsum("ocn,ocn,ocn->oc", weight, held, target) / np.maximum(weights, 1e-300)
        np.multiply(start[..., None], held, out=off)
        np.subtract(target, off, out=off)
        off *= off
        off /= u2
        if turn < _PASSES - 1:
            np.add(off, NU, out=weight)
            np.divide(count * (NU + 1), weight, out=weight)
            weight /= u2
    off /= NU
    # visits that do not count are not worth their logarithm
    log = np.log1p(off) if only is None else np.log1p(off, where=only, out=np.zeros_like(off))
    return start, -(NU + 1) / 2 * log.sum(axis=-1), weights


def _level(y: Floats, u2: Floats, only: Bools) -> _Levels:
    """Level of some visits by row of ``only``, its log-likelihood and the sum of weights."""
    weight = only / u2
    for _ in range(_PASSES):
        weights = weight.sum(axis=-1)
        level = (weight * y).sum(axis=-1) / np.maximum(weights, 1e-300)
        off = (y - level[:, None]) ** 2 / u2
        weight = only * (NU + 1) / (NU + off) / u2
    return _Levels(level, -(NU + 1) / 2 * (only * np.log1p(off / NU)).sum(axis=-1), weights)
