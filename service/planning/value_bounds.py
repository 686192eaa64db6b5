"""What no plan can exceed: the value of a relaxed problem, solved to a proven bound."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.planning.ground import NEVER, Ground

#: The solver stops at this gap or after so many nodes, never after seconds: a result repeats.
RELATIVE_GAP = 0.002
MOST_NODES = 400
#: Rows for load hours: only the most frequent ones.
MOST_HOUR_ROWS = 12


@dataclass(slots=True)
class _Rows:
    """Rows of a sparse matrix with their upper limits."""

    row: list[NDArray[np.int64]]
    column: list[NDArray[np.int64]]
    factor: list[NDArray[np.float64]]
    upper: list[float]

    def add(self, columns: NDArray[np.int64], factors: NDArray[np.float64], upper: float) -> None:
        self.row.append(np.full(len(columns), len(self.upper), dtype=np.int64))
        self.column.append(columns)
        self.factor.append(factors)
        self.upper.append(upper)


def value_bound(ground: Ground, days: list[int]) -> int:
    """An upper bound on the score that fits on the crew days given.

    Parameters
    ----------
    ground : Ground
    days : list of int
        Crew days that may be filled.

    Returns
    -------
    int

    Notes
    -----
    Relaxed are order, clock and the single day: each visit takes its time and the shortest way from
    a neighbour of its site, each site is entered a whole number of times at its cheapest, and one
    budget of time holds for all crew days, for those with a qualified person, for each category,
    and for each kind of load hours. The gap to it says mostly how weak the bound is.
    """
    # a third of a second of every start, and only who asks for a bound needs it
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    usable = ground.eligible[days].any(axis=0) if days else np.zeros(ground.count, dtype=bool)
    chosen = np.flatnonzero(usable & _opens_at_all(ground, days))
    if not chosen.size:
        return 0
    rows, sites = _rows(ground, days, chosen=chosen)
    n = len(chosen)
    matrix = coo_array(
        (np.concatenate(rows.factor), (np.concatenate(rows.row), np.concatenate(rows.column))),
        shape=(len(rows.upper), n + sites),
    ).tocsr()
    found = milp(
        np.r_[-ground.score[chosen].astype(np.float64), np.zeros(sites)],
        constraints=LinearConstraint(matrix, ub=np.array(rows.upper)),
        integrality=np.r_[np.zeros(n), np.ones(sites)],
        bounds=Bounds(np.zeros(n + sites), np.r_[np.ones(n), np.full(sites, float(n))]),
        options={"mip_rel_gap": RELATIVE_GAP, "node_limit": MOST_NODES},
    )
    everything = int(ground.score[chosen].sum())
    proven = getattr(found, "mip_dual_bound", None)
    if proven is None or not np.isfinite(proven):
        return everything
    return min(everything, int(np.floor(-proven + 1e-6)))


def _opens_at_all(ground: Ground, days: list[int]) -> NDArray[np.bool_]:
    found = np.zeros(ground.count, dtype=bool)
    for d in days:
        found |= ground.eligible[d] & (ground.lasts[d] >= 0).any(axis=0)
    return found


def _rows(ground: Ground, days: list[int], *, chosen: NDArray[np.int64]) -> tuple[_Rows, int]:
    """Constraints over the share of each visit, then the entries of each site."""
    n = len(chosen)
    site, row = np.unique(ground.ways.site[chosen], return_inverse=True)
    entry = _entries(ground, days, site=site)
    inside = np.minimum(ground.ways.cheapest_in[chosen], entry[row])
    takes = (ground.service_array[chosen] + inside).astype(np.float64)
    # The first visit of an entry has no way within the site: the longest of these is given back.
    back = np.zeros(len(site), dtype=np.int64)
    np.maximum.at(back, row, inside)
    toll = (entry - back).astype(np.float64)
    shift = np.array([_length(ground, d) for d in days], dtype=np.float64)
    rows = _Rows([], [], [], [])
    visits, entries = np.arange(n), n + np.arange(len(site))
    rows.add(np.r_[visits, entries], np.r_[takes, toll], float(shift.sum()))
    for k in range(len(site)):
        own = np.flatnonzero(row == k)
        rows.add(np.r_[own, n + k], np.r_[takes[own], toll[k] - shift.max()], 0.0)
    for k in range(n):
        rows.add(np.array([k, n + row[k]]), np.array([1.0, -1.0]), 0.0)
    _add_kinds(rows, ground, days, chosen=chosen, takes=takes, shift=shift)
    _add_hours(rows, ground, days, chosen=chosen, takes=takes, slack=float(inside.max()))
    return rows, len(site)


def _entries(ground: Ground, days: list[int], *, site: NDArray[np.integer]) -> NDArray[np.int64]:
    """Cheapest drive and sign-in into each site from any other one or any begin."""
    begins = ground.ways.site[[ground.begin_node(d) for d in days]]
    origins = np.unique(np.r_[site, begins])
    way = ground.ways.between[np.ix_(origins, site)].astype(np.int64)
    way[origins[:, None] == site[None, :]] = NEVER
    found: NDArray[np.int64] = way.min(axis=0)
    return found


def _length(ground: Ground, d: int) -> int:
    """Minutes for visits: without the cheapest way home, and without the break where there is one."""
    home = int(
        ground.ways.between[: len(ground.ways.sites), ground.ways.site[ground.begin_node(d) + 1]].min()
    )
    whole = ground.end[d] - ground.start[d] - home
    if not ground.rest_len[d]:
        return max(whole, 0)
    short = ground.rest_limit[d] - ground.start[d] - home
    return max(short, whole - ground.rest_len[d], 0)


def _add_kinds(
    rows: _Rows,
    ground: Ground,
    days: list[int],
    *,
    chosen: NDArray[np.int64],
    takes: NDArray[np.float64],
    shift: NDArray[np.float64],
) -> None:
    """Visits that may only go on some of the crew days: the time of those days."""
    kinds, row = np.unique(ground.eligible[days][:, chosen].T, axis=0, return_inverse=True)
    for kind in kinds:
        if not kind.all():
            within = ~(kinds & ~kind).any(axis=1)
            own = np.flatnonzero(within[row.ravel()])
            rows.add(own, takes[own], float(shift[kind].sum()))


def _add_hours(
    rows: _Rows,
    ground: Ground,
    days: list[int],
    *,
    chosen: NDArray[np.int64],
    takes: NDArray[np.float64],
    slack: float,
) -> None:
    """Visits whose work lies within the same hours on every day: what fits into these hours."""
    opens, lasts = ground.opens[days][:, :, chosen], ground.lasts[days][:, :, chosen]
    first = np.where(opens < NEVER, opens, NEVER).min(axis=(0, 1))
    last = lasts.max(axis=(0, 1)) + ground.service_array[chosen]
    hulls, row, count = np.unique(
        np.stack([first, last], axis=1), axis=0, return_inverse=True, return_counts=True
    )
    for k in np.argsort(-count, kind="stable")[:MOST_HOUR_ROWS].tolist():
        begin, end = int(hulls[k][0]), int(hulls[k][1])
        if end >= NEVER:
            continue
        own = np.flatnonzero((hulls[:, 0] >= begin)[row.ravel()] & (hulls[:, 1] <= end)[row.ravel()])
        room = sum(max(min(end, ground.end[d]) - max(begin, ground.start[d]), 0) + slack for d in days)
        rows.add(own, takes[own], float(room))
