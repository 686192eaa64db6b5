"""What a practitioner has otherwise: fixed lines, ordinary least squares, Mann-Kendall."""

from collections.abc import Callable

import numpy as np
from scipy.special import stdtr

from bench.simulated.drawn import Fleet, Floats
from bench.simulated.replay import Replay
from service.trends.ranks import one_sided_p

_LEAST = 4
#: Visits of the Mann-Kendall test, the last ones.
_LATEST = 12


def least_squares(fleet: Fleet, replayed: Replay, rise_k: Floats) -> Floats:
    """-log10 of the one-sided p of an ordinary slope over all visits since repair."""
    return _scored(fleet, replayed, rise_k, _slope_score, most=None)


def mann_kendall(fleet: Fleet, replayed: Replay, rise_k: Floats) -> Floats:
    """-log10 of the one-sided p of Mann-Kendall over the last 12 visits since repair."""
    return _scored(fleet, replayed, rise_k, _rank_score, most=_LATEST)


def _scored(
    fleet: Fleet,
    replayed: Replay,
    rise_k: Floats,
    score: Callable[[Floats, Floats], Floats],
    *,
    most: int | None,
) -> Floats:
    episodes = replayed.episodes
    y = rise_k[replayed.point, replayed.round]
    result = np.full(len(y), np.nan)
    for n in range(_LEAST, episodes.counts.max() + 1):
        rows = np.flatnonzero(episodes.counts >= n)
        at = episodes.starts[rows, None] + np.arange(0 if most is None else max(0, n - most), n)
        result[at[:, -1]] = score(episodes.years[at], y[at])
    return replayed.on_table(result, fleet)


def _slope_score(years: Floats, y: Floats) -> Floats:
    n = years.shape[1]
    t = years - years.mean(axis=1, keepdims=True)
    off = y - y.mean(axis=1, keepdims=True)
    s_tt = (t * t).sum(axis=1)
    slope = (t * off).sum(axis=1) / s_tt
    rest = ((off - slope[:, None] * t) ** 2).sum(axis=1)
    student = slope / np.sqrt(np.maximum(rest, 1e-12) / (n - 2) / s_tt)
    return -np.log10(np.maximum(stdtr(n - 2, -student), 1e-300))


def _rank_score(years: Floats, y: Floats) -> Floats:
    i, j = np.triu_indices(y.shape[1], 1)
    s = np.sign(y[:, j] - y[:, i]).sum(axis=1).astype(np.int64)
    p, _ = one_sided_p(s, days=np.sort(years, axis=1), rise_k=np.sort(y, axis=1))
    return np.where(s > 0, -np.log10(p), 0.0)
