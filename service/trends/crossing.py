"""When a worsening series reaches its line: a posterior over the date itself, never a line drawn to it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Dates looked at, after the last visit [years], and how finely.
NEAREST, FARTHEST, CELLS = 0.03, 15.0, 60
EDGES: Floats = np.geomspace(NEAREST, FARTHEST, CELLS + 1)
_DATES: Floats = np.sqrt(EDGES[1:] * EDGES[:-1])
#: Student-t noise: degrees of freedom, and how much wider than u it is.
NU, WIDER = 5.0, 1.2
#: Onset to line [years], log-uniform between.
SHORTEST, LONGEST = 0.3, 12.0
#: Chance beforehand that a change begins with a jump.
JUMP = 0.35
#: Visits looked at, the last ones.
MOST_VISITS = 30
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


#: The plain prior, that of like parts and over air, and that of bearings. The early end lies at 2 %: a
#: range that errs late is the dangerous one.
PLAIN = Prior()
MENDED = Prior((1, 2, 4, 8, 12), (2, 2, 2, 3, 3), jump_k=10.0, never=0.3, near=0.25, blur=0.15, early=0.02)
STEEP = Prior((1, 2, 4, 8, 12), (1, 1, 2, 3, 3), jump_k=20.0, never=0.3, near=1.0, blur=0.2, early=0.02)


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
    t, y, u = (part[-MOST_VISITS:] for part in (years, rise_k, u_k))
    if len(np.unique(t)) < 2:
        raise ValueError("a forecast needs at least two dates")
    lines = ((1 - prior.blur, 0.25), (1.0, 0.5), (1 + prior.blur, 0.25))
    reached = sum(share * _reached(t - t[-1], y, u, line_k * factor, prior) for factor, share in lines)
    return Crossing(np.asarray(reached), prior)


def _reached(t: Floats, y: Floats, u: Floats, line_k: float, prior: Prior) -> Floats:
    """Chance that one line is reached by each of EDGES."""
    u2 = (u * WIDER) ** 2
    onsets = t[:-1]
    after = t[None, :] > onsets[:, None]
    onset_chance = np.diff(t) / (t[-1] - t[0])
    before, log_before, _ = _level(y, u2, ~after)
    _, log_flat, _ = _level(y, u2, np.ones((1, len(t)), dtype=bool))
    stepped, log_stepped, weights = _level(y, u2, after)
    log_stepped = log_stepped + log_before

    dates = _date_chances(onsets, prior)
    ratio = np.maximum(t[None, :] - onsets[:, None], 0.0)[:, None, :] / (_DATES - onsets[:, None])[:, :, None]
    paths = [
        (share, *_path(ratio**power, y, u2, line_k, after, before, log_before))
        for power, share in zip(prior.powers, np.array(prior.weights) / sum(prior.weights), strict=True)
    ]
    highest = max(float(log_flat[0]), *(float(max(smooth.max(), jump.max())) for _, smooth, jump, _ in paths))
    chance = dates * onset_chance[:, None]
    cells = np.zeros(CELLS)
    for share, log_smooth, log_jump, freedom in paths:
        smooth = (1 - JUMP) * np.exp(log_smooth - highest)
        jump = JUMP * np.exp(log_jump - highest) * _occam(freedom, prior)
        cells += share * (chance * (smooth + jump)).sum(axis=0)
    rises = np.where((stepped > before) & (weights > 0), np.exp(log_stepped - highest), 0.0)
    stays = (1 - JUMP) * np.exp(log_flat[0] - highest)
    stays += JUMP * float((onset_chance * rises * _occam(weights, prior)).sum())
    cells *= 1 - prior.never
    total = cells.sum() + prior.never * stays
    return np.concatenate(([0.0], np.cumsum(cells) / total))


def _date_chances(onsets: Floats, prior: Prior) -> Floats:
    """Chance beforehand of every date, by onset; shape (onsets, dates)."""
    low, high = (
        np.clip(edge[None, :] - onsets[:, None], SHORTEST, LONGEST) for edge in (EDGES[:-1], EDGES[1:])
    )
    chance: Floats = np.log(high / low) / np.log(LONGEST / SHORTEST)
    return chance * ((_DATES[None, :] - onsets[:, None]) / _DATES[None, :]) ** prior.near


def _occam(weights: Floats, prior: Prior) -> Floats:
    cost: Floats = np.sqrt(2 * np.pi / np.maximum(weights, 1e-300)) / prior.jump_k
    return cost


def _path(
    s: Floats, y: Floats, u2: Floats, line_k: float, after: Bools, before: Floats, log_before: Floats
) -> tuple[Floats, Floats, Floats]:
    """Log-likelihood of one power by onset and date, without and with a jump, and a jump's weights.

    ``s`` is (x/D)^p of shape (onsets, dates, visits). Impossible paths have minus infinity.
    """
    held, target = 1 - s, y - line_k * s
    start, log_smooth, _ = _start(held, target, u2, None)
    log_smooth[start > line_k] = -np.inf
    start, log_jump, weights = _start(held, target, u2, after[:, None, :])
    log_jump += log_before[:, None]
    log_jump[(start > line_k) | (start < before[:, None])] = -np.inf
    return log_smooth, log_jump, weights


def _start(held: Floats, target: Floats, u2: Floats, only: Bools | None) -> tuple[Floats, Floats, Floats]:
    """Best m of y = m held + F s over some visits, its log-likelihood and the sum of weights."""
    count = 1.0 if only is None else only.astype(np.float64)
    weight = np.broadcast_to(count / u2, held.shape)
    for _ in range(_PASSES):
        weights = np.einsum("ocn,ocn,ocn->oc", weight, held, held)
        start = np.einsum("ocn,ocn,ocn->oc", weight, held, target) / np.maximum(weights, 1e-300)
        off = target - start[..., None] * held
        off *= off
        off /= u2
        weight = count * (NU + 1) / (NU + off) / u2
    log_likelihood = -(NU + 1) / 2 * (count * np.log1p(off / NU)).sum(axis=-1)
    return start, log_likelihood, weights


def _level(y: Floats, u2: Floats, only: Bools) -> tuple[Floats, Floats, Floats]:
    """Level of some visits by row of ``only``, its log-likelihood and the sum of weights."""
    weight = only / u2
    for _ in range(_PASSES):
        weights = weight.sum(axis=-1)
        level = (weight * y).sum(axis=-1) / np.maximum(weights, 1e-300)
        off = (y - level[:, None]) ** 2 / u2
        weight = only * (NU + 1) / (NU + off) / u2
    return level, -(NU + 1) / 2 * (only * np.log1p(off / NU)).sum(axis=-1), weights
