"""A fleet on one day: whom a list by false discovery names, and how many of those are healthy."""

from dataclasses import dataclass

import numpy as np

from bench.simulated.drawn import Bools, Fleet, Floats, Ints
from bench.simulated.replay import Replay, replay, scores_of
from bench.simulated.table import World
from service.trends.discovery import adjusted, chance_of_z, divisor_for

#: Days of the snapshot, one a site, as a share of its years: some faults are young, some old.
EARLIEST, LATEST = 0.3, 1.0


@dataclass(frozen=True, slots=True)
class Listed:
    """The list of one fleet: how many it names, the share of them that is healthy, and the share
    of the faults begun by then that it names."""

    named: int
    false_share: float
    power: float


def listed(world: World, *, seed: int, sites: int, share: float, divisor: float | None = None) -> Listed:
    """Draw a fleet, stop each site on a day, and list its points at a share of false ones."""
    fleet = world.draw(seed, sites=sites)
    replayed = replay(fleet, world.lines)
    points, at = _last_visits(fleet, np.random.default_rng(seed))
    z = replayed.on_table(scores_of(replayed, world.lines).z, fleet)[points, at]
    visits = replayed.on_table(_since_cut(replayed), fleet)[points, at]
    scored = np.isfinite(z)
    by_chance = np.full(len(z), np.nan)
    law = divisor_for(world.lines.form) if divisor is None else divisor
    by_chance[scored] = chance_of_z(z[scored], np.maximum(visits[scored], 4), divisor=law)
    with np.errstate(invalid="ignore"):
        named: Bools = adjusted(by_chance) <= share
    faulty = (fleet.truth.fault[points] > 0) & (fleet.years[points, at] > fleet.truth.onset[points])
    return Listed(
        int(named.sum()),
        float((named & ~faulty).sum() / max(named.sum(), 1)),
        float((named & faulty).sum() / max(faulty.sum(), 1)),
    )


def _last_visits(fleet: Fleet, rng: np.random.Generator) -> tuple[Ints, Ints]:
    """Points that had been read by their site's day, and their last visit until then."""
    span = np.where(fleet.read, fleet.years, 0.0).max(axis=1)
    day = rng.uniform(EARLIEST, LATEST, int(fleet.site.max()) + 1)[fleet.site] * span
    with np.errstate(invalid="ignore"):
        until = fleet.read & (fleet.years <= day[:, None])
    points = np.flatnonzero(until.any(axis=1))
    return points, until.shape[1] - 1 - until[points, ::-1].argmax(axis=1)


def _since_cut(replayed: Replay) -> Floats:
    """How many visits each visit had behind it since the last cut, itself among them."""
    episodes = replayed.episodes
    owner = np.repeat(np.arange(len(episodes.counts)), episodes.counts)
    count: Floats = np.arange(len(owner), dtype=np.float64) - episodes.starts[owner] + 1
    return count
