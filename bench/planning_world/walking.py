"""Month by month: faults begin, fail, or are found by whoever comes along."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from bench.planning_world.world import BURN_IN_YEARS, FAULTS, Bools, Floats, Ints, World
from service.planning.delay_time import GRADUAL


@dataclass(frozen=True, slots=True)
class Seen:
    """What the readings of one month showed, each of shape (n,)."""

    read: Bools
    clear: Bools
    found: Bools
    sign: Bools


class Way(Protocol):
    """A way of planning: it says what is read, and is told what that showed."""

    def reads(self, month: int) -> Bools: ...

    def told(self, month: int, seen: Seen, failed: Bools) -> None: ...


@dataclass(frozen=True, slots=True)
class Outcome:
    """Faults caught and failed by criticality (the three of the world), and hours a year."""

    caught: Floats
    failed: Floats
    hours_per_year: float


@dataclass(slots=True)
class _Faults:
    """The fault each piece has or gets next."""

    number: Ints
    onset: Floats
    end: Floats


def walk(world: World, way: Way) -> Outcome:
    """Let the years pass; the first ones are not counted."""
    every = np.arange(world.assets)
    faults = _first(world)
    caught, failed = np.zeros(world.assets), np.zeros(world.assets)
    minutes = 0.0
    for month in range(1, world.months + 1):
        counted = month > 12 * BURN_IN_YEARS
        gone = faults.end <= month
        failed += gone * counted
        _renew(world, faults, every[gone], faults.end[gone])
        read = way.reads(month)
        seen = _look(world, faults, read, month)
        mended = seen.found & (faults.end >= month + world.settings.lead_months)
        caught += mended * counted
        _renew(world, faults, every[mended], np.full(mended.sum(), month + world.settings.lead_months))
        way.told(month, seen, gone)
        minutes += _minutes(world, read) * counted
    years = world.settings.years - BURN_IN_YEARS
    by = [world.criticality == c for c in np.unique(world.criticality)]
    return Outcome(
        np.array([caught[of].sum() for of in by]),
        np.array([failed[of].sum() for of in by]),
        minutes / 60 / years,
    )


def _first(world: World) -> _Faults:
    onset = world.draws.gap[:, 0].copy()
    return _Faults(np.zeros(world.assets, dtype=np.int64), onset, onset + world.draws.delay[:, 0])


def _renew(world: World, faults: _Faults, which: Ints, at: Floats) -> None:
    faults.number[which] = (faults.number[which] + 1) % FAULTS
    number = faults.number[which]
    faults.onset[which] = at + world.draws.gap[which, number]
    faults.end[which] = faults.onset[which] + world.draws.delay[which, number]


def _look(world: World, faults: _Faults, read: Bools, month: int) -> Seen:
    clear = read & ~world.draws.unreadable[month]
    share = (month - faults.onset) / (faults.end - faults.onset)
    seen = clear & (share >= GRADUAL.first_seen) & (world.draws.seen[month] < world.found_share)
    found = seen & (world.draws.plain[month] < GRADUAL.clearness(share))
    false = clear & ~seen & (world.draws.false[month] < world.settings.false_share)
    return Seen(read, clear, found, (seen & ~found) | false)


def _minutes(world: World, read: Bools) -> float:
    count = np.bincount(world.site[read], minlength=world.settings.sites).astype(np.float64)
    walk_min: NDArray[np.float64] = world.walk_min(count)
    visits = (count > 0).sum() * world.settings.setup_min
    return float(world.read_min[read].sum() + walk_min.sum() + visits)
