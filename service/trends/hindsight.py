"""A look back over past visits: what would have been said at each, knowing only what came before it."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.trends.crossing import crossing
from service.trends.evidence import Episodes, Scores, score_visits
from service.trends.levelling import as_episodes, without_rounds
from service.trends.offsets import Levelled
from service.trends.policy import DAYS_PER_YEAR, Policy
from service.trends.series import SeriesBlock, Visits, every_episode
from service.trends.stages import CONFIRMED, FIRST_SIGN, stages

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Flags:
    """Runs of visits at which a series was flagged; every array has shape (flags,).

    Attributes
    ----------
    series : ndarray of int
        Its place in the block.
    first_day, confirmed_day, ended_day : ndarray
        Days of the first visit that said so, of the first that confirmed it (NaN for never), and
        of the first later visit that did not say so any more (NaN while it lasts), or that came
        after a cut.
    cut : ndarray of bool
        Whether a repair or another cut ended it.
    """

    series: Ints
    first_day: Floats
    confirmed_day: Floats
    ended_day: Floats
    cut: Bools


@dataclass(frozen=True, slots=True)
class LookBack:
    """Past visits, scored one by one.

    ``watched_years`` is the time between the first and the last visit of all episodes together.
    """

    block: SeriesBlock
    visits: Visits
    episodes: Episodes
    scores: Scores
    levelled: Levelled
    policy: Policy
    watched_years: float

    def flags(self, shift: float = 0.0) -> Flags:
        """What would have been flagged with every line so much higher."""
        lines = self.policy.lines
        moved = replace(
            lines,
            line=lines.line + shift,
            alone=lines.alone + shift,
            again=lines.again + shift,
            at_once=lines.at_once + shift,
        )
        return _runs(stages(self.scores, self.episodes, moved), self.visits)

    def forecast(self, series: int, day: float) -> tuple[float, float] | None:
        """The range of days that was told of a series on the day of a visit; None without a line."""
        line_k = np.nan if self.block.line_k is None else float(self.block.line_k[series])
        for row in np.flatnonzero(self.visits.series == series):
            rows = np.arange(self.visits.counts[row]) + self.visits.starts[row]
            if day not in self.visits.days[rows] or not np.isfinite(line_k):
                continue
            rows = rows[self.visits.days[rows] <= day]
            one = crossing(
                self.episodes.years[rows],
                self.visits.rise_k[rows],
                self.episodes.scaled_u_k(rows),
                line_k=line_k,
                prior=self.policy.lines.prior,
            )
            return day + one.earliest * DAYS_PER_YEAR, day + one.latest * DAYS_PER_YEAR
        return None


def look_back(block: SeriesBlock, policy: Policy) -> LookBack:
    """Score every past visit of every episode of the wanted series, oldest first.

    Parameters
    ----------
    block : SeriesBlock
        As for ``assess``; past episodes count here.
    policy : Policy

    Returns
    -------
    LookBack

    Notes
    -----
    Rounds are levelled by earlier rounds alone, and a site's uncertainties scaled by what had been
    read until then, so that nothing is known too early (but for the own scatter of rises that are
    not brought to common load, which is that of the whole episode). Thresholds are those of today: it says
    what this engine would have told, not what an earlier one did.

    Examples
    --------
    >>> import numpy as np
    >>> rises = np.array([0.2, -0.1, 0.0, 0.3, 0.1, 2.0, 4.1, 6.0, 8.2])
    >>> block = SeriesBlock(
    ...     ids=np.array([12]), offsets=np.array([0, 9]), days=np.arange(9) * 30.0, rise_k=rises,
    ...     u_own_k=np.full(9, 0.5), episode=np.zeros(9, dtype=np.int64), load_ratio=np.full(9, np.nan))
    >>> from service.trends.policy import OVER_LIKE_PARTS
    >>> found = look_back(block, OVER_LIKE_PARTS).flags()
    >>> found.first_day.tolist(), found.confirmed_day.tolist(), bool(np.isnan(found.ended_day[0]))
    ([180.0], [180.0], True)
    """
    levelled, scale = without_rounds(block, policy, as_then=True)
    visits = every_episode(block, levelled.rise_k)
    episodes = as_episodes(block, visits, levelled.u_k, scale, policy)
    scores = score_visits(episodes, form=policy.lines.form)
    some = visits.counts > 0
    watched = (visits.last_days()[some] - visits.first_days()[some]).sum() / DAYS_PER_YEAR
    return LookBack(block, visits, episodes, scores, levelled, policy, float(watched))


def _runs(stage: Ints, visits: Visits) -> Flags:
    owner = np.repeat(np.arange(len(visits.counts)), visits.counts)
    flagged = stage >= FIRST_SIGN
    before = np.zeros(len(stage), dtype=bool)
    before[1:] = flagged[:-1] & (owner[1:] == owner[:-1])
    begins = np.flatnonzero(flagged & ~before)
    run = np.cumsum(flagged & ~before) - 1
    confirmed = np.full(len(begins), np.nan)
    at = np.flatnonzero(stage == CONFIRMED)[::-1]
    confirmed[run[at]] = visits.days[at]
    ended = np.full(len(begins), np.nan)
    gone = np.flatnonzero(before & ~flagged)
    ended[run[gone]] = visits.days[gone]
    # a run that lasts to the end of an episode ends with the next one of its series
    row = owner[begins]
    following = np.minimum(row + 1, len(visits.series) - 1)
    replaced = (following > row) & (visits.series[following] == visits.series[row])
    cut = np.isnan(ended) & replaced
    ended[cut] = visits.first_days()[following[cut]]
    return Flags(visits.series[row], visits.days[begins], confirmed, ended, cut)
