"""Minutes from place to place in whole tenths: a block of paths per site, one table between sites."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from service.planning.crew_days import CrewDay, Gate, Work
from service.planning.places import Place, measure_legs

Integers = NDArray[np.int32]
#: Names the place of a day that has no base: the first gate, the last stop.
NOWHERE = -1
#: The planner counts in whole tenths of a minute.
TENTHS = 10
#: Up to so many nodes all ways are looked up in one table (4 MB), which is quicker.
MOST_IN_TABLE = 1_000


def tenths(minutes: float) -> int:
    """Whole tenths of a minute."""
    return round(minutes * TENTHS)


class Ways:
    """Ways between all candidates and bases [tenths of a minute].

    Nodes 0 … n − 1 are the candidates in the order given; then two per crew day, where it begins
    and where it ends. Memory grows with the squares of the sites' candidates, not of all.

    Attributes
    ----------
    site : ndarray of int32, shape (n + 2 d,)
        Row of a node's site in ``between``.
    between : ndarray of int32, shape (s, s)
        Drive and sign-in from site to site.
    cheapest_in : ndarray of int32, shape (n,)
        Shortest way to a candidate from another one of its site; 0 where it is alone.
    """

    def __init__(self, work: Work, places: Sequence[Place], crew_days: Sequence[CrewDay]) -> None:
        sites = sorted({place.site for place in places})
        bases: list[int] = []
        for day in crew_days:
            bases.extend(NOWHERE if key is None else key for key in (day.begins, day.ends))
        base_keys = sorted(set(bases))
        row = {site: k for k, site in enumerate(sites)}
        base_row = {key: len(sites) + k for k, key in enumerate(base_keys)}
        self.sites = tuple(sites)
        self.site: Integers = np.array(
            [row[place.site] for place in places] + [base_row[key] for key in bases], dtype=np.int32
        )
        self.between = _between(work, places, sites=sites, bases=base_keys)
        self._table: Integers | None = None
        self._measure_paths(work, places)
        if len(self.site) <= MOST_IN_TABLE:
            nodes = np.arange(len(self.site))
            self._table = self.legs(nodes[:, None], nodes[None, :])

    def legs(self, origin: NDArray[np.integer], target: NDArray[np.integer]) -> Integers:
        """Tenths from origin to target, for any shapes that broadcast."""
        if self._table is not None:
            near: Integers = self._table[origin, target]
            return near
        a, b = self.site[origin], self.site[target]
        inside = self._paths.take(self._row[origin] + self._column[target], mode="clip")
        found: Integers = np.where(a == b, inside, self.between[a, b])
        return found

    def _measure_paths(self, work: Work, places: Sequence[Place]) -> None:
        """One flat array of all sites' blocks; a way is at its row's begin plus its column."""
        nodes, n = len(self.site), len(places)
        self._row = np.zeros(nodes, dtype=np.int64)
        self._column = np.zeros(nodes, dtype=np.int64)
        self.cheapest_in: Integers = np.zeros(n, dtype=np.int32)
        blocks: list[Integers] = [np.zeros(1, dtype=np.int32)]
        begin = 1
        order = np.argsort(self.site[:n], kind="stable")
        edges = np.searchsorted(self.site[:n][order], np.arange(len(self.sites) + 1))
        for k in range(len(self.sites)):
            members = order[edges[k] : edges[k + 1]]
            walk = measure_legs([places[at] for at in members], rules=work.travel).walk[:-1, :-1]
            block = np.rint(walk * TENTHS).astype(np.int32)
            self._row[members] = begin + np.arange(len(members)) * len(members)
            self._column[members] = np.arange(len(members))
            if len(members) > 1:
                others = block + np.diag(np.full(len(members), np.iinfo(np.int32).max // 2, dtype=np.int32))
                self.cheapest_in[members] = others.min(axis=0)
            blocks.append(block.ravel())
            begin += block.size
        self._paths: Integers = np.concatenate(blocks)


def _between(work: Work, places: Sequence[Place], *, sites: Sequence[int], bases: Sequence[int]) -> Integers:
    """Drive and sign-in between sites and bases; between a base and nowhere, nothing."""
    gates = _gates(work, places)
    keys = [*sites, *bases]
    spots = [_spot(gates, key, label=k) for k, key in enumerate(keys)]
    drive = measure_legs(spots, rules=work.travel).drive[:-1, :-1]
    _type_in(drive, keys, work.drive_min)
    nowhere = np.array([key == NOWHERE and k >= len(sites) for k, key in enumerate(keys)])
    drive[nowhere, :] = drive[:, nowhere] = 0.0
    sign_in = np.zeros(len(keys))
    for k, key in enumerate(sites):
        own = gates[key].sign_in_min
        sign_in[k] = work.travel.sign_in_min if own is None else own
    total = drive + sign_in[None, :]
    np.fill_diagonal(total, 0.0)
    return np.rint(total * TENTHS).astype(np.int32)


def _gates(work: Work, places: Sequence[Place]) -> dict[int, Gate]:
    gates = {gate.site: gate for gate in work.gates}
    for place in places:
        held = gates.get(place.site, Gate(place.site))
        if held.latitude is None and place.latitude is not None:
            held = replace(held, latitude=place.latitude, longitude=place.longitude)
        gates[place.site] = held
    return gates


def _spot(gates: Mapping[int, Gate], key: int, *, label: int) -> Place:
    gate = gates.get(key)
    return Place(label) if gate is None else Place(label, None, None, gate.latitude, gate.longitude)


def _type_in(drive: NDArray[np.float64], keys: Sequence[int], typed: Mapping[tuple[int, int], float]) -> None:
    """Typed minutes in place of measured ones; a base at a site is no drive away from it."""
    for a, origin in enumerate(keys):
        for b, target in enumerate(keys):
            if origin == target and a != b:
                drive[a, b] = 0.0
            found = typed.get((origin, target))
            if found is not None:
                drive[a, b] = found
