"""A fleet as the engine sees it, visit by visit: what would have been said, and when."""

from dataclasses import dataclass

import numpy as np

from bench.simulated.drawn import Bools, Fleet, Floats, Ints
from service.trends.evidence import Episodes, Scores, score_visits
from service.trends.offsets import Levelled, Readings, level_rounds, site_scales
from service.trends.stages import Lines


@dataclass(frozen=True, slots=True)
class Replay:
    """Visits in the order of point, episode and date, with where each lies in the fleet's table."""

    point: Ints
    round: Ints
    episodes: Episodes

    def on_table(self, values: Floats, fleet: Fleet) -> Floats:
        """Values of visits as a table (points, rounds); NaN where nothing was read."""
        table = np.full(fleet.years.shape, np.nan)
        table[self.point, self.round] = values
        return table


def replay(fleet: Fleet, lines: Lines) -> Replay:
    """The fleet's visits, levelled as far as was known at each."""
    point, at = np.nonzero(fleet.read)
    cut = fleet.episode[point, at]
    levelled, readings = _levelled(fleet, point, at, lines)
    scale = site_scales(levelled, readings, each_round=True)[readings.group]
    episode_of = point * (int(fleet.episode.max()) + 1) + cut
    _, starts, counts = np.unique(episode_of, return_index=True, return_counts=True)
    episodes = Episodes(
        starts=starts,
        counts=counts,
        view=_views(fleet, point[starts], cut[starts]),
        years=fleet.years[point, at],
        rise_k=levelled.rise_k,
        u_k=levelled.u_k,
        scale=scale,
    )
    return Replay(point, at, episodes)


def _levelled(fleet: Fleet, point: Ints, at: Ints, lines: Lines) -> tuple[Levelled, Readings]:
    rounds = fleet.years.shape[1]
    site = fleet.site[point]
    group = site * rounds + at
    readings = Readings(
        point=point,
        group=group,
        episode=fleet.episode[point, at],
        rise_k=fleet.common_k[point, at],
        u_own_k=fleet.u_own_k[point, at],
        u_shared_k=fleet.u_shared_k[point, at],
        load=fleet.load[point, at],
        site=np.repeat(np.arange(int(fleet.site.max()) + 1), rounds),
        order=np.tile(np.arange(rounds), int(fleet.site.max()) + 1),
    )
    levelled = level_rounds(readings, log=lines.offset == "share", remove=lines.offset != "none")
    return levelled, readings


def _views(fleet: Fleet, point: Ints, cut: Ints) -> Ints:
    view = fleet.view[point]
    return np.where(view < 0, -1, view * (int(fleet.episode.max()) + 1) + cut)


def scores_of(replayed: Replay, lines: Lines) -> Scores:
    """What each visit said, being the last."""
    return score_visits(replayed.episodes, form=lines.form)


# ---- flags against the truth -----------------------------------------------------------------------


def edges(fleet: Fleet, flagged: Bools) -> Bools:
    """New flags: flagged at a reading and not at the reading before it of the same episode."""
    before = np.zeros(len(flagged), dtype=bool)
    episode = np.full(len(flagged), -1)
    result = np.zeros_like(flagged)
    for j in range(flagged.shape[1]):
        read = fleet.read[:, j]
        before[read & (fleet.episode[:, j] != episode)] = False
        episode[read] = fleet.episode[read, j]
        result[read, j] = flagged[read, j] & ~before[read]
        before[read] = flagged[read, j]
    return result


def false_flags(fleet: Fleet, flagged: Bools) -> float:
    """New flags on healthy points per 100 of their years."""
    healthy = fleet.truth.fault == 0
    years = float(fleet.truth.span[healthy].sum())
    return float(edges(fleet, flagged)[healthy].sum()) / years * 100


def leads(fleet: Fleet, flagged: Bools, points: Ints) -> tuple[Floats, Bools]:
    """Months from the first flag after the onset to the limit, 0 where missed; and which were missed."""
    truth = fleet.truth
    years = fleet.years[points]
    with np.errstate(invalid="ignore"):
        in_time = (years > truth.onset[points, None]) & (years <= truth.limit[points, None])
    told = flagged[points] & in_time
    first = np.where(told, years, np.inf).min(axis=1)
    missed = ~np.isfinite(first)
    return np.where(missed, 0.0, (truth.limit[points] - np.where(missed, 0, first)) * 12), missed


def faulty(fleet: Fleet) -> Ints:
    """Points with a fault that their like parts do not share; two phases at once are told apart."""
    two = np.isin(fleet.view, fleet.view[fleet.truth.second])
    return np.flatnonzero((fleet.truth.fault > 0) & ~two)


def line_at(fleet: Fleet, score: Floats, tall: Bools, rate: float = 1.0) -> float:
    """The lowest line of a score with at most so many false flags per 100 healthy point-years."""
    low, high = float(np.nanquantile(score, 0.3)), float(np.nanmax(score))
    for _ in range(36):
        middle = (low + high) / 2
        with np.errstate(invalid="ignore"):
            too_many = false_flags(fleet, (score > middle) & tall) > rate
        low, high = (middle, high) if too_many else (low, middle)
    return high
