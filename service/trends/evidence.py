"""How sure each visit of each series made it that something had changed, by the form of its reference."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.trends.bank import Best, surest_shape
from service.trends.joint import surest_of_three, with_two_at_once

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Visits below which nothing is scored.
LEAST_VISITS = 4
#: Visits up to an onset that the level before it must be known from (two readings make no level),
#: and visits looked at, the last ones: five years of months, in which a slow climb shows.
LEAST_BEFORE, MOST_VISITS = 3, 60
#: How much of the sureness of the form "drop one" is that without one of the last two visits; the rest
#: is that of all visits. Of a lone reading too little is left for a sign, of a young rise more.
WITHOUT_ONE = 0.75


@dataclass(frozen=True, slots=True)
class Episodes:
    """Visits of series since their last cut, end to end and in order of date.

    Attributes
    ----------
    starts, counts : ndarray of int, shape (series,)
        Series k has the visits starts[k] to starts[k] + counts[k].
    view : ndarray of int, shape (series,)
        What a series is a like part of; -1 for none.
    years, rise_k, u_k, scale : ndarray, shape (visits,)
        Dates [years], rises and standard uncertainties [K], and by what the uncertainties of the
        site were to be multiplied at each visit.
    """

    starts: Ints
    counts: Ints
    view: Ints
    years: Floats
    rise_k: Floats
    u_k: Floats
    scale: Floats

    def scaled_u_k(self, at: Ints) -> Floats:
        """Uncertainties of visits of shape (..., n) by what was known of the site at the last of them [K]."""
        scaled: Floats = self.u_k[at] * self.scale[at[..., -1:]]
        return scaled


@dataclass(frozen=True, slots=True)
class Scores:
    """What each visit, being the last one, said; every array has shape (visits,).

    Attributes
    ----------
    z, sureness, rise_k, step_sd_k : ndarray
        As in ``Best``; NaN before the fourth visit, and at visits that were not asked for.
    onset_years : ndarray
        Date of the last visit before the change [years].
    shape, after : ndarray of int
        Its shape, and visits after the onset.
    """

    z: Floats
    sureness: Floats
    rise_k: Floats
    step_sd_k: Floats
    onset_years: Floats
    shape: Ints
    after: Ints

    @classmethod
    def blank(cls, size: int) -> "Scores":
        """Nothing scored yet."""
        z, sureness, rise_k, step_sd_k, onset_years = np.full((5, size), np.nan)
        return cls(z, sureness, rise_k, step_sd_k, onset_years, *np.zeros((2, size), dtype=np.int64))

    def at_last(self, episodes: Episodes) -> "Scores":
        """What the last visit of each series said, of shape (series,); blank where it has none."""
        some = episodes.counts > 0
        last = episodes.starts[some] + episodes.counts[some] - 1
        found = Scores.blank(len(some))
        for name in self.__slots__:
            getattr(found, name)[some] = getattr(self, name)[last]
        return found


def score_visits(
    episodes: Episodes, *, form: str, back: range | None = None, into: Scores | None = None
) -> Scores:
    """Score every visit as if it were the last one, or only some of the latest of each series.

    Parameters
    ----------
    episodes : Episodes
    form : str
        ``"single"`` the bank; ``"drop one"`` the least of the bank over all visits and over
        those without one of the last two, so that no single reading makes a flag (sureness is
        ``WITHOUT_ONE`` of the least and the rest of that of all visits); ``"joint"``
        the form of three like parts, two of which may rise at once, and the bank for series that
        are not read as three.
    back : range, optional
        Score the visits so many before the last of each series (``range(2)``: the last two);
        without, all.
    into : Scores, optional
        Scores of the same visits, of which the others are kept; without, the others stay blank.

    Returns
    -------
    Scores

    Raises
    ------
    ValueError
        Another form.
    """
    if form not in ("single", "drop one", "joint"):
        raise ValueError(f"form is 'single', 'drop one' or 'joint', got {form!r}")
    scores = Scores.blank(len(episodes.years)) if into is None else into
    threes = _threes(episodes) if form == "joint" else np.zeros((0, 3), dtype=np.int64)
    alone = np.setdiff1d(np.arange(len(episodes.counts)), threes.ravel())
    for n in range(LEAST_VISITS, episodes.counts.max(initial=0) + 1):
        enough = episodes.counts >= n
        if back is not None:
            enough &= (episodes.counts >= n + back.start) & (episodes.counts < n + back.stop)
        rows = alone[enough[alone]]
        if rows.size:
            at = episodes.starts[rows, None] + np.arange(max(0, n - MOST_VISITS), n)
            years, y, u = episodes.years[at], episodes.rise_k[at], episodes.scaled_u_k(at)
            found = surest_shape(years, y, u, least_before=LEAST_BEFORE)
            _put(scores, at, years, _least(found, years, y, u) if form == "drop one" else found)
        views = threes[enough[threes[:, 0]]]
        if views.size:
            _score_threes(scores, episodes, views, n)
    return scores


def _score_threes(scores: Scores, episodes: Episodes, views: Ints, n: int) -> None:
    at = episodes.starts[views][:, :, None] + np.arange(max(0, n - MOST_VISITS), n)
    u = np.sqrt((episodes.u_k[at] ** 2).mean(axis=1)) * episodes.scale[at[:, 0, -1:]]
    years, rise_k = episodes.years[at[:, 0]], episodes.rise_k[at]
    rises = surest_of_three(years, rise_k, u, least_before=LEAST_BEFORE)
    falls = surest_of_three(years, -rise_k, u, least_before=LEAST_BEFORE)
    for part, found in enumerate(with_two_at_once(rises, falls)):
        _put(scores, at[:, part], years, found)


def _put(scores: Scores, at: Ints, years: Floats, found: Best) -> None:
    last = at[:, -1]
    for name in ("z", "sureness", "rise_k", "step_sd_k"):
        getattr(scores, name)[last] = getattr(found, name)
    onset = np.maximum(found.onset, 0)
    scores.onset_years[last] = np.where(found.onset < 0, np.nan, years[np.arange(len(years)), onset])
    scores.shape[last] = found.shape
    scores.after[last] = np.where(found.onset < 0, 0, at.shape[1] - 1 - found.onset)


def _least(found: Best, years: Floats, y: Floats, u: Floats) -> Best:
    """The least scores with one of the last two visits left out; NaN while too few are left."""
    n = years.shape[1]
    if n <= LEAST_VISITS:
        return replace(found, z=np.full(len(years), np.nan), sureness=np.full(len(years), np.nan))
    kept = np.array([np.delete(np.arange(n), gone) for gone in (n - 1, n - 2)])
    # without the one and without the other, series after series, in one fit
    without = (part[:, kept].reshape(-1, n - 1) for part in (years, y, u))
    least = surest_shape(*without, least_before=LEAST_BEFORE)
    z, sureness = (
        np.fmin(whole, np.fmin.reduce(part.reshape(-1, len(kept)), axis=1))
        for whole, part in ((found.z, least.z), (found.sureness, least.sureness))
    )
    return replace(found, z=z, sureness=WITHOUT_ONE * sureness + (1 - WITHOUT_ONE) * found.sureness)


def _threes(episodes: Episodes) -> Ints:
    """Series that are three like parts of one view with the same dates; shape (views, 3)."""
    order = np.argsort(episodes.view, kind="stable")
    view = episodes.view[order]
    first = np.flatnonzero((view >= 0) & np.concatenate(([True], view[1:] != view[:-1])))
    size = np.diff(np.concatenate((np.searchsorted(view, view[first]), [len(view)]))) if first.size else first
    triples = [order[at : at + 3] for at, count in zip(first, size, strict=True) if count == 3]
    alike = [three for three in triples if _together(episodes, three)]
    return np.array(alike, dtype=np.int64).reshape(-1, 3)


def _together(episodes: Episodes, three: Ints) -> bool:
    count = episodes.counts[three[0]]
    if (episodes.counts[three] != count).any():
        return False
    dates = episodes.years[episodes.starts[three][:, None] + np.arange(count)]
    return bool((dates == dates[0]).all())
