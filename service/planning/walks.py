"""One crew day on the clock: an order of visits run forwards for arrivals, backwards for slack."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.planning.ground import NEVER, Ground, Spans

Order = tuple[int, ...]
NO_REST = -1


@dataclass(frozen=True, slots=True)
class Timing:
    """An order that keeps every rule [tenths of a minute from local midnight].

    Attributes
    ----------
    arrivals, starts, leaves : lists of int
        Per visit.
    latest : list of int
        Latest arrival per visit, then at the end, that still keeps every rule.
    legs : list of int
        Way to each visit, then home.
    finish : int
    rest_after : int
        Visits before the break; -1 for no break.
    rest_begin : int
    """

    arrivals: list[int]
    starts: list[int]
    leaves: list[int]
    latest: list[int]
    legs: list[int]
    finish: int
    rest_after: int = NO_REST
    rest_begin: int = 0


@dataclass(frozen=True, slots=True)
class Clocked:
    """The timing that holds, and those within which a further visit may be tried.

    A day that is still short enough to need no break may take a visit and stay so, or take one
    and the break with it.
    """

    timing: Timing
    tries: tuple[Timing, ...]


def clock_walk(ground: Ground, d: int, *, order: Sequence[int], end: int | None = None) -> Clocked | None:
    """Time an order on crew day ``d``; None where a rule breaks.

    Parameters
    ----------
    ground : Ground
    d : int
    order : sequence of int
        Candidates by their place in the ground.
    end : int, optional
        Another end of the shift [tenths of a minute].

    Returns
    -------
    Clocked or None
    """
    shift_end = ground.end[d] if end is None else end
    legs = walk_legs(ground, d, order=order)
    run = _Run(ground, d, order=order, legs=legs)
    free = run.timed(shift_end)
    if free is None:
        return None
    length = ground.rest_len[d]
    if not length:
        return Clocked(free, (free,))
    rested = _rested(ground, d, run=run, free=free, end=shift_end)
    limit = ground.rest_limit[d]
    if free.finish > limit:
        return None if rested is None else Clocked(rested, (rested,))
    short = run.timed(limit)
    assert short is not None
    return Clocked(short, (short,) if rested is None else (short, rested))


def clock_without_end(ground: Ground, d: int, *, order: Sequence[int]) -> Clocked | None:
    """Time an order as if the shift had neither end nor break; None where load hours break."""
    legs = walk_legs(ground, d, order=order)
    timing = _Run(ground, d, order=order, legs=legs).timed(NEVER // 2)
    return None if timing is None else Clocked(timing, (timing,))


def walk_legs(ground: Ground, d: int, *, order: Sequence[int]) -> list[int]:
    """Tenths to each visit, then home."""
    begin = ground.begin_node(d)
    nodes = np.array([begin, *order, begin + 1])
    legs: list[int] = ground.ways.legs(nodes[:-1], nodes[1:]).tolist()
    return legs


def _rested(ground: Ground, d: int, *, run: "_Run", free: Timing, end: int) -> Timing | None:
    """The same order with its break where it pushes what follows the least."""
    length, earliest, last = ground.rest_len[d], ground.rest_from[d], ground.rest_last[d]
    best, place = NEVER, NO_REST
    ready = [ground.start[d], *free.leaves]
    due = [*free.starts, free.finish]
    for k, at in enumerate(ready):
        begin = max(at, earliest)
        if begin > last:
            break
        arrive = begin + length + free.legs[k]
        push = max(arrive - due[k], 0)
        if arrive <= free.latest[k] and push < best:
            best, place = push, k
    return None if place == NO_REST else run.timed(end, rest_after=place)


class _Run:
    """One order with its legs and spans, ready to be run in both directions."""

    def __init__(self, ground: Ground, d: int, *, order: Sequence[int], legs: list[int]) -> None:
        spans, service = ground.spans[d], ground.service
        self.legs = legs
        self.spans: list[Spans] = [spans[at] for at in order]
        self.service = [service[at] for at in order]
        self.start = ground.start[d]
        self.rest = (ground.rest_len[d], ground.rest_from[d], ground.rest_last[d])

    def timed(self, end: int, *, rest_after: int = NO_REST) -> Timing | None:
        found = self._forward(end, rest_after)
        if found is None:
            return None
        arrivals, starts, leaves, finish, rest_begin = found
        return Timing(
            arrivals=arrivals,
            starts=starts,
            leaves=leaves,
            latest=self._backward(end, rest_after),
            legs=self.legs,
            finish=finish,
            rest_after=rest_after,
            rest_begin=rest_begin,
        )

    def _forward(self, end: int, rest_after: int) -> tuple[list[int], list[int], list[int], int, int] | None:
        length, earliest, last_rest = self.rest
        arrivals, starts, leaves = [], [], []
        clock, rest_begin = self.start, 0
        for k, (leg, spans, service) in enumerate(zip(self.legs, self.spans, self.service, strict=False)):
            if k == rest_after:
                rest_begin = max(clock, earliest)
                clock = rest_begin + length
            arrive = clock + leg
            for opens, last in spans:
                if arrive <= last:
                    start = arrive if arrive >= opens else opens
                    break
            else:
                return None
            arrivals.append(arrive)
            starts.append(start)
            clock = start + service
            leaves.append(clock)
        if rest_after == len(self.spans):
            rest_begin = max(clock, earliest)
            clock = rest_begin + length
        finish = clock + self.legs[-1]
        if finish > end or (rest_after != NO_REST and rest_begin > last_rest):
            return None
        return arrivals, starts, leaves, finish, rest_begin

    def _backward(self, end: int, rest_after: int) -> list[int]:
        length, _, last_rest = self.rest
        count = len(self.spans)
        latest = [0] * count + [end]
        for k in range(count - 1, -1, -1):
            begin = latest[k + 1] - self.legs[k + 1]
            if k + 1 == rest_after:
                begin = min(begin - length, last_rest)
            begin -= self.service[k]
            for opens, last in reversed(self.spans[k]):
                if opens <= begin:
                    latest[k] = last if last < begin else begin
                    break
            else:
                latest[k] = -1
        return latest
