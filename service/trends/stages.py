"""From scores to stages: no sign, a first sign, confirmed; with the lines of each kind of reference."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.trends.crossing import AIR_DATES, BASELINE_DATES, LIKE_DATES, Prior
from service.trends.evidence import Episodes, Scores

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NO_SIGN, FIRST_SIGN, CONFIRMED = 0, 1, 2
#: Visits looked back over for how often a point is read, and the ends of that figure [1/year].
_GAPS, _RATES = 8, (0.5, 24.0)


@dataclass(frozen=True, slots=True)
class Lines:
    """When a score is a sign, by kind of reference.

    Attributes
    ----------
    form : str
        Of ``score_visits``.
    line, per_log_rate : float
        A first sign is a sureness above line + per_log_rate ln(visits a year): who reads often
        gives chance more occasions.
    alone : float
        A first sign as well is Z above it: so far out that an engineer wants to hear of it
        although a slip of one reading may explain it.
    least_rise_k : float
        Least rise since the onset [K].
    again, at_once : float
        Confirmed by Z above ``again`` at two visits running, or above ``at_once`` at one.
    offset : str
        What a round shares: ``"kelvin"``, ``"share"`` or ``"none"``.
    prior : Prior
        For the date of crossing.

    Notes
    -----
    Tuned on simulated fleets (``bench/simulated``); it needs a field recheck.
    """

    form: str
    line: float
    per_log_rate: float
    alone: float
    least_rise_k: float
    again: float
    at_once: float
    offset: str
    prior: Prior


#: Lines, and what is asked of points that are read often, were set on simulated fleets 101 (about half
#: a false flag per 100 point-years), 1101 and 1102 (about one), and 2101 (about 0.7).
OVER_AIR = Lines("single", 2.4, 0.5, 5.0, 3.0, again=3.5, at_once=6.0, offset="kelvin", prior=AIR_DATES)
LIKE_PARTS = Lines("joint", 3.3, 0.6, 5.7, 3.0, again=4.0, at_once=6.0, offset="none", prior=LIKE_DATES)
BEARINGS = Lines(
    "drop one", 1.75, 0.6, np.inf, 3.0, again=3.5, at_once=np.inf, offset="kelvin", prior=BASELINE_DATES
)


def rates(episodes: Episodes, at: Ints) -> Floats:
    """Visits a year at some of the visits: one over the median of the last gaps; shape of ``at``."""
    years = episodes.years
    starts = np.sort(episodes.starts[episodes.counts > 0])
    place = at - starts[np.searchsorted(starts, at, side="right") - 1]
    later = at[:, None] - np.arange(_GAPS)
    usable = place[:, None] - np.arange(_GAPS) >= 1
    later = np.where(usable, later, 1)
    gaps = np.sort(np.where(usable, years[later] - years[later - 1], np.nan), axis=1)
    counts, rows = usable.sum(axis=1), np.arange(len(at))
    low, high = np.maximum((counts - 1) // 2, 0), np.minimum(counts // 2, _GAPS - 1)
    middle = (gaps[rows, low] + gaps[rows, high]) / 2
    rate: Floats = np.clip(1 / np.where(counts > 0, np.maximum(middle, 1e-6), 1.0), *_RATES)
    return rate


def margins(scores: Scores, episodes: Episodes, lines: Lines) -> Floats:
    """What of each visit lies over ``lines.line`` where it is a first sign: sureness, less what is asked
    of points that are read often, or a Z as far over ``lines.alone``; NaN where nothing was scored."""
    margin = scores.sureness.copy()
    scored = np.flatnonzero(np.isfinite(margin))
    margin[scored] -= lines.per_log_rate * np.log(rates(episodes, scored))
    over: Floats = np.fmax(margin, scores.z - lines.alone + lines.line)
    return over


def stages(scores: Scores, episodes: Episodes, lines: Lines) -> Ints:
    """The stage after each visit; shape (visits,).

    Parameters
    ----------
    scores : Scores
        Of every visit, not only the last.
    episodes : Episodes
    lines : Lines

    Returns
    -------
    ndarray of int
        ``NO_SIGN``, ``FIRST_SIGN`` or ``CONFIRMED``.

    Notes
    -----
    Confirmed ends after two visits running that are not above ``again``; a cut begins another
    series. A first sign is one visit's: the next has to say it again.
    """
    with np.errstate(invalid="ignore"):
        tall = scores.rise_k >= lines.least_rise_k
        sign = tall & (margins(scores, episodes, lines) > lines.line)
        strong = tall & (scores.z > lines.again)
        sudden = tall & (scores.z > lines.at_once)
    result = np.zeros(len(sign), dtype=np.int64)
    held = np.zeros(len(episodes.counts), dtype=bool)
    weak = np.full(len(episodes.counts), 2)
    for n in range(episodes.counts.max(initial=0)):
        rows = np.flatnonzero(episodes.counts > n)
        at = episodes.starts[rows] + n
        twice = strong[at] & (strong[at - 1] if n else False)
        weak[rows] = np.where(strong[at], 0, weak[rows] + 1)
        held[rows] = twice | sudden[at] | (held[rows] & (weak[rows] < 2))
        result[at] = np.where(held[rows], CONFIRMED, np.where(sign[at], FIRST_SIGN, NO_SIGN))
    return result


def last_stages(scores: Scores, episodes: Episodes, lines: Lines) -> Ints:
    """The stage after the last visit of each series, of shape (series,); ``NO_SIGN`` where it has none."""
    found = np.full(len(episodes.counts), NO_SIGN, dtype=np.int64)
    some = episodes.counts > 0
    found[some] = stages(scores, episodes, lines)[episodes.starts[some] + episodes.counts[some] - 1]
    return found
