"""What one more visit would cost on a crew day: every candidate at every gap, in one step."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.planning.ground import NEVER, Ground
from service.planning.walks import NO_REST, Clocked, Order, Timing
from service.planning.ways import Integers

Flags = NDArray[np.bool_]
Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Gaps:
    """The gaps of an order, as arrays of shape (g,) [tenths of a minute].

    Attributes
    ----------
    before, after : ndarray of int64
        Nodes on both sides.
    ready : ndarray of int32
        When the crew can set out from ``before``.
    old, latest : ndarray of int32
        When it now arrives at ``after``, and when it may at the latest.
    rest_len, rest_from, rest_last : ndarray of int32
        Break taken after the new visit; a length of 0 for none.
    position : ndarray of int64
        Visits before the gap.
    any_rest : bool
    """

    before: Indices
    after: Indices
    ready: Integers
    old: Integers
    latest: Integers
    rest_len: Integers
    rest_from: Integers
    rest_last: Integers
    position: Indices
    any_rest: bool


def gaps_of(ground: Ground, d: int, *, order: Order, clocked: Clocked) -> Gaps:
    """All gaps of a timed order; the gap that holds the break counts twice, before and after it."""
    begin = ground.begin_node(d)
    nodes = [begin, *order, begin + 1]
    rows: list[tuple[int, ...]] = []
    for timing in clocked.tries:
        rows += _rows(ground, d, nodes=nodes, timing=timing)
    columns = np.array(rows, dtype=np.int64).T
    ready, old, latest, rest_len, rest_from, rest_last = columns[2:8].astype(np.int32)
    return Gaps(
        before=columns[0],
        after=columns[1],
        ready=ready,
        old=old,
        latest=latest,
        rest_len=rest_len,
        rest_from=rest_from,
        rest_last=rest_last,
        position=columns[8],
        any_rest=any(timing.rest_after != NO_REST for timing in clocked.tries),
    )


def _rows(ground: Ground, d: int, *, nodes: list[int], timing: Timing) -> list[tuple[int, ...]]:
    ready = [ground.start[d], *timing.leaves]
    old = [*timing.arrivals, timing.finish]
    none = (0, 0, NEVER)
    rows: list[tuple[int, ...]] = [
        (nodes[k], nodes[k + 1], ready[k], old[k], timing.latest[k], *none, k) for k in range(len(ready))
    ]
    k = timing.rest_after
    if k != NO_REST:
        rest = (ground.rest_len[d], ground.rest_from[d], ground.rest_last[d])
        rested = timing.rest_begin + ground.rest_len[d]
        rows.append((nodes[k], nodes[k + 1], ready[k], old[k], timing.latest[k], *rest, k))
        rows[k] = (nodes[k], nodes[k + 1], rested, old[k], timing.latest[k], *none, k)
    return rows


def pushes(
    ground: Ground, gaps: Gaps, *, chosen: Indices, opens: Integers, lasts: Integers
) -> tuple[Integers, Integers]:
    """By how much each candidate in each gap would delay what follows [tenths of a minute].

    Parameters
    ----------
    ground : Ground
    gaps : Gaps
    chosen : ndarray of int64, shape (n,)
        Candidates by their place in the ground.
    opens, lasts : ndarray of int32, shape (w, n)
        Begin spans of the chosen ones.

    Returns
    -------
    push, arrive : ndarray of int32, shape (n, g)
        ``NEVER`` in ``push`` where a rule would break; arrival at the candidate.
    """
    return push_in(
        ground,
        gaps,
        to=ground.ways.legs(gaps.before, chosen[:, None]),
        on=ground.ways.legs(chosen[:, None], gaps.after),
        service=ground.service_array[chosen],
        opens=opens,
        lasts=lasts,
    )


def push_in(
    ground: Ground,
    gaps: Gaps,
    *,
    to: Integers,
    on: Integers,
    service: Integers,
    opens: Integers,
    lasts: Integers,
) -> tuple[Integers, Integers]:
    """``pushes`` with the ways to and from the candidates given, shape (n, g)."""
    arrive: Integers = gaps.ready + to
    start: Integers = np.full(arrive.shape, NEVER, dtype=np.int32)
    for k in range(len(opens) - 1, -1, -1):
        start = np.where(arrive <= lasts[k][:, None], np.maximum(arrive, opens[k][:, None]), start)
    done: Integers = start + service[:, None]
    if gaps.any_rest:
        rested = np.where(done <= gaps.rest_last, np.maximum(done, gaps.rest_from) + gaps.rest_len, NEVER)
        done = np.where(gaps.rest_len > 0, rested, done)
    there: Integers = done + on
    push: Integers = np.where(there <= gaps.latest, there - gaps.old, NEVER).astype(np.int32)
    return push, arrive
