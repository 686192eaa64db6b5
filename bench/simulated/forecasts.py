"""How often the range of dates held the day on which the limit was truly reached."""

from dataclasses import dataclass

import numpy as np

from bench.simulated.drawn import Bools, Fleet, Floats, Ints
from bench.simulated.replay import Replay
from service.trends.crossing import FARTHEST, crossing
from service.trends.evidence import Scores
from service.trends.stages import Lines

#: Stated chances are compared with what happened in bins between these.
BINS = (0.0, 0.05, 0.15, 0.30, 0.50, 0.80, 1.0)


@dataclass(frozen=True, slots=True)
class Forecasts:
    """Forecasts at drawn visits, with what then happened; every array has shape (forecasts,).

    Attributes
    ----------
    left : ndarray
        True years from the visit to the limit; infinite on healthy points.
    early, late, likeliest : ndarray
        Range and middle [years after the visit].
    chance_6, chance_12 : ndarray
        Stated chances of the limit within 6 and 12 months.
    fault : ndarray of int
        Kind of fault of the point.
    """

    left: Floats
    early: Floats
    late: Floats
    likeliest: Floats
    chance_6: Floats
    chance_12: Floats
    fault: Ints

    @property
    def real(self) -> Bools:
        """Those at which something was truly on its way to the limit."""
        return np.isfinite(self.left)

    @property
    def held(self) -> Bools:
        """Whether the range held the day; beyond ``FARTHEST`` any open end holds it."""
        left = np.minimum(self.left, FARTHEST)
        return (self.early <= left) & (left <= self.late)

    def coverage(self, chosen: Bools | None = None) -> float:
        """Share of the real ones held, of those chosen [0, 1]; NaN without any."""
        rows = self.real if chosen is None else self.real & chosen
        return float(self.held[rows].mean()) if rows.any() else float("nan")

    def late_misses(self) -> float:
        """Share of the real ones that came before the range began."""
        return float((np.minimum(self.left, FARTHEST) < self.early)[self.real].mean())

    def reliability(self) -> list[tuple[float, float, int]]:
        """By bin of the stated chance of 12 months: mean stated, share that happened, how many."""
        stated, happened = self.chance_12, self.left <= 1.0
        at = np.clip(np.searchsorted(BINS, stated, side="right") - 1, 0, len(BINS) - 2)
        return [
            (float(stated[at == k].mean()), float(happened[at == k].mean()), int((at == k).sum()))
            for k in range(len(BINS) - 1)
            if (at == k).any()
        ]


def forecasts(
    fleet: Fleet, replayed: Replay, scores: Scores, lines: Lines, *, flagged: Bools, most: int, seed: int
) -> Forecasts:
    """Forecast at so many flagged visits, drawn at random; two visits or more after the onset."""
    point, at = replayed.point, replayed.round
    limit_k = fleet.truth.limit_k[point]
    episodes = replayed.episodes
    owner = np.repeat(np.arange(len(episodes.counts)), episodes.counts)
    place = np.arange(len(point)) - episodes.starts[owner]
    with np.errstate(invalid="ignore"):
        asked = flagged[point, at] & (scores.after >= 2) & (place >= 4)
        not_yet = (fleet.truth.fault[point] == 0) | (fleet.years[point, at] < fleet.truth.limit[point])
    two = np.isin(fleet.view, fleet.view[fleet.truth.second])
    candidates = np.flatnonzero(asked & not_yet & ~two[point])
    drawn = np.random.default_rng(seed).permutation(candidates)[:most]
    over_baseline = lines.form == "drop one"
    rows = []
    for k in drawn:
        begins = episodes.starts[owner[k]]
        visits = slice(begins, k + 1)
        # a bearing's line lies over its own baseline: the median of its first three visits
        usual = float(np.median(episodes.rise_k[begins : begins + 3]))
        found = crossing(
            episodes.years[visits],
            episodes.rise_k[visits] - (usual if over_baseline else 0.0),
            episodes.u_k[visits] * episodes.scale[k],
            line_k=float(limit_k[k]),
            prior=lines.prior,
        )
        faulty = fleet.truth.fault[point[k]] > 0 and fleet.truth.onset[point[k]] < episodes.years[k]
        left = fleet.truth.limit[point[k]] - episodes.years[k] if faulty else np.inf
        rows.append(
            (
                left,
                found.earliest,
                found.latest,
                found.likeliest,
                found.chance(0.5),
                found.chance(1.0),
                fleet.truth.fault[point[k]],
            )
        )
    left, early, late, likeliest, chance_6, chance_12, fault = np.array(rows).T
    return Forecasts(left, early, late, likeliest, chance_6, chance_12, fault.astype(np.int64))
