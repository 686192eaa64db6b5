"""Filling one crew day: the visit that is worth most per added minute, again and again.

A site that is not yet visited is judged as the best bundle of its visits that still fits, so that
its drive and sign-in are shared; otherwise a rich site far away would never be opened.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.planning.ground import NEVER, Ground
from service.planning.insertion import Flags, Gaps, Indices, gaps_of, pushes
from service.planning.walks import Clocked, Order, clock_walk

Floats = NDArray[np.float64]

#: Candidates times gaps up to which all are tried singly besides the bundles.
MOST_TRIED_SINGLY = 1_500
#: Bundles that are tried out exactly before one is taken.
MOST_BUNDLES_TRIED = 3
#: Way within a site per visit of a bundle, over the shortest one: a guess that only ranks bundles.
BUNDLE_DETOUR = 1.5


@dataclass(frozen=True, slots=True)
class Offer:
    """One visit at one place of an order, with its worth per added tenth of a minute."""

    density: float
    candidate: int
    position: int


class Filler:
    """Fills crew days from a common pool."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        about = ground.service_array + np.rint(BUNDLE_DETOUR * ground.ways.cheapest_in).astype(np.int32)
        self.about: Indices = np.maximum(about, 1).astype(np.int64)
        density = ground.worth / self.about
        site = ground.ways.site[: ground.count]
        #: site by site, the best per minute first, equal ones by key
        self.ranked: Indices = np.lexsort((np.arange(ground.count), -density, site)).astype(np.int64)
        self.sites = len(ground.ways.sites)

    def fill(
        self, d: int, *, order: Order, free: Flags, shade: Floats | None = None, thorough: bool = False
    ) -> tuple[Order, Clocked]:
        """Add visits to crew day ``d`` until none fits; those taken leave the pool ``free``.

        Parameters
        ----------
        d : int
        order : tuple of int
            What is on the day; its own order stays.
        free : ndarray of bool, shape (n,)
            Not on any day; changed in place.
        shade : ndarray of float, shape (n,), optional
            Factors on the worth, for variety.
        thorough : bool
            Try every candidate at every gap before saying that none fits.

        Returns
        -------
        tuple of int, Clocked

        Raises
        ------
        ValueError
            Where the order given already breaks a rule.
        """
        clocked = clock_walk(self.ground, d, order=order)
        if clocked is None:
            raise ValueError(f"crew day {self.ground.days[d].key} breaks a rule as it stands")
        worth = self.ground.worth if shade is None else self.ground.worth * shade
        pool = self.ranked[(free & self.ground.eligible[d])[self.ranked]]
        bundle: Offer | None = None
        stale = True
        while pool.size:
            gaps = gaps_of(self.ground, d, order=order, clocked=clocked)
            # Where every site holds one candidate there are no bundles: each is tried by itself.
            alone = self._alone(pool)
            single = self._best_single(d, order=order, gaps=gaps, pool=pool, worth=worth, thorough=alone)
            # Bundles seldom gain as a day fills: the last look holds until singles fall below it.
            if alone:
                bundle = None
            elif stale or single is None or (bundle is not None and single.density < bundle.density):
                bundle = self._best_bundle(d, order=order, gaps=gaps, pool=pool, worth=worth)
                stale = False
            if single is None and bundle is None and thorough:
                single = self._best_single(d, order=order, gaps=gaps, pool=pool, worth=worth, thorough=True)
            taken = single
            if bundle is not None and (single is None or bundle.density > single.density):
                taken, stale = bundle, True
            if taken is None:
                break
            order = (*order[: taken.position], taken.candidate, *order[taken.position :])
            found = clock_walk(self.ground, d, order=order)
            assert found is not None, "what was tried at a gap keeps every rule"
            clocked = found
            free[taken.candidate] = False
            pool = pool[pool != taken.candidate]
        return order, clocked

    def _alone(self, pool: Indices) -> bool:
        site = self.ground.ways.site[pool]
        return bool((site[1:] != site[:-1]).all())

    def _best_single(
        self, d: int, *, order: Order, gaps: Gaps, pool: Indices, worth: NDArray[np.generic], thorough: bool
    ) -> Offer | None:
        chosen = pool
        if not thorough and pool.size * len(gaps.position) > MOST_TRIED_SINGLY:
            on = np.zeros(self.sites, dtype=bool)
            on[self.ground.ways.site[list(order)]] = True
            chosen = pool[on[self.ground.ways.site[pool]]]
        return self._best_at(d, gaps=gaps, chosen=chosen, worth=worth)

    def _best_at(self, d: int, *, gaps: Gaps, chosen: Indices, worth: NDArray[np.generic]) -> Offer | None:
        if not chosen.size:
            return None
        ground = self.ground
        push, _ = pushes(
            ground, gaps, chosen=chosen, opens=ground.opens[d][:, chosen], lasts=ground.lasts[d][:, chosen]
        )
        at = push.argmin(axis=1)
        least = push[np.arange(len(chosen)), at]
        density = np.where(least < NEVER, worth[chosen] / np.maximum(least, 1), -1.0)
        best = int(density.argmax())
        if density[best] < 0:
            return None
        return Offer(float(density[best]), int(chosen[best]), int(gaps.position[at[best]]))

    def _best_bundle(
        self, d: int, *, order: Order, gaps: Gaps, pool: Indices, worth: NDArray[np.generic]
    ) -> Offer | None:
        ways = self.ground.ways
        on = np.zeros(self.sites + len(ways.between), dtype=bool)
        on[ways.site[list(order)]] = True
        off = pool[~on[ways.site[pool]]]
        if not off.size:
            return None
        site = ways.site[off]
        firsts = np.flatnonzero(np.concatenate([[True], site[1:] != site[:-1]]))
        sums = _Sums(self.about[off], worth[off].astype(np.float64), firsts)
        edges = self._edges(gaps)
        density = sums.density(*self._entries(gaps, edges=edges, sites=site[firsts]))
        ranked = np.argsort(-density, axis=None, kind="stable")[:MOST_BUNDLES_TRIED]
        best: Offer | None = None
        for flat in ranked.tolist():
            row, column = divmod(flat, len(edges))
            if density[row, column] <= 0 or (best is not None and best.density >= density[row, column]):
                break
            members = off[sums.of(row)]
            found = self._bundle_at(d, gaps=_only(gaps, int(edges[column])), members=members, worth=worth)
            if found is not None and (best is None or found.density > best.density):
                best = found
        return best

    def _bundle_at(self, d: int, *, gaps: Gaps, members: Indices, worth: NDArray[np.generic]) -> Offer | None:
        """The bundle of those members that fit singly into one gap; its first visit is offered."""
        ground = self.ground
        push, arrive = pushes(
            ground, gaps, chosen=members, opens=ground.opens[d][:, members], lasts=ground.lasts[d][:, members]
        )
        push = push[:, 0]
        fits = push < NEVER
        if not fits.any():
            return None
        members, push, arrive = members[fits], push[fits], arrive[fits, 0]
        entry, room = self._entries(
            gaps, edges=np.zeros(1, dtype=np.int64), sites=ground.ways.site[members[:1]]
        )
        sums = _Sums(self.about[members], worth[members].astype(np.float64), np.zeros(1, dtype=np.int64))
        density = float(sums.density(entry, room)[0, 0])
        alone = worth[members] / np.maximum(push, 1)
        first = int(alone.argmax())
        return Offer(max(density, float(alone[first])), int(members[first]), int(gaps.position[0]))

    def _edges(self, gaps: Gaps) -> Indices:
        """Gaps between two sites; within a site none is opened."""
        site = self.ground.ways.site
        found: Indices = np.flatnonzero(site[gaps.before] != site[gaps.after])
        return found if found.size else np.arange(len(gaps.position))

    def _entries(self, gaps: Gaps, *, edges: Indices, sites: NDArray[np.integer]) -> tuple[Indices, Indices]:
        """Detour to each site at each edge, and the room there is for its bundle, shape (s, e)."""
        between, site = self.ground.ways.between, self.ground.ways.site
        a, b = site[gaps.before[edges]], site[gaps.after[edges]]
        detour = between[a[None, :], sites[:, None]] + between[sites[:, None], b[None, :]]
        there = gaps.ready[edges] + gaps.rest_len[edges] + detour
        entry = np.maximum(there - gaps.old[edges], 0).astype(np.int64)
        room = (gaps.latest[edges] - there).astype(np.int64)
        return entry, room


class _Sums:
    """Running sums of minutes and worth, site by site, and the best beginning of each."""

    def __init__(self, minutes: Indices, worth: Floats, firsts: Indices) -> None:
        self.firsts = firsts
        count = len(minutes)
        self.ends = np.concatenate([firsts[1:], [count]])
        self.rank = np.repeat(np.arange(len(firsts)), self.ends - firsts)
        spent, won = np.cumsum(minutes), np.cumsum(worth)
        self.minutes = spent - (spent[firsts] - minutes[firsts])[self.rank]
        self.worth = won - (won[firsts] - worth[firsts])[self.rank]

    def of(self, row: int) -> slice:
        return slice(int(self.firsts[row]), int(self.ends[row]))

    def density(self, entry: Indices, room: Indices) -> Floats:
        """Worth per tenth of the best beginning of each site's bundle that fits, shape (s, e)."""
        minutes = self.minutes[:, None]
        ratio = np.where(minutes <= room[self.rank], self.worth[:, None] / (entry[self.rank] + minutes), 0.0)
        found: Floats = np.maximum.reduceat(ratio, self.firsts, axis=0)
        return found


def _only(gaps: Gaps, at: int) -> Gaps:
    keep = slice(at, at + 1)
    return Gaps(
        before=gaps.before[keep],
        after=gaps.after[keep],
        ready=gaps.ready[keep],
        old=gaps.old[keep],
        latest=gaps.latest[keep],
        rest_len=gaps.rest_len[keep],
        rest_from=gaps.rest_from[keep],
        rest_last=gaps.rest_last[keep],
        position=gaps.position[keep],
        any_rest=gaps.any_rest,
    )
