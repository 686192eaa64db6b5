"""The search for better crew days: a part is cleared and filled anew, step by step, from a seed.

The budget is in steps, never in seconds; scores and minutes are whole numbers and equal ones are
decided by key, so that the same work and seed give the same plan on every machine.
"""

import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np

from service.planning.filling import Filler, Floats
from service.planning.ground import Ground
from service.planning.insertion import Flags, Indices
from service.planning.shortening import shorten_walk
from service.planning.walks import Clocked, Order, clock_walk

#: Told while it works: steps done, steps in all, value so far.
Progress = Callable[[int, int, int], None]

#: Own settings of the search (tuned on the synthetic months of bench/plan_days.py, no source).
LONGEST_STRING = 14
STRINGS, BLOCKS, WEAKEST = 0.55, 0.75, 0.95
SECOND_DAY_SHARE = 0.8
SHADE = 1.4
WARM, COLD = 0.30, 0.01
MINUTE_PRICE = 0.05
PASSES_IN_STEP, PASSES_AT_ENDS = 4, 60
#: Parts in which the work is told to be under way.
TOLD_PARTS = 100


class Search:
    """Crew days with their orders and clocks, and the pool of those on none.

    Parameters
    ----------
    ground : Ground
    seed : int
    orders : mapping of int to sequence of int, optional
        Candidates per crew day to begin with, both by their place in the ground; what no longer
        fits is dropped, the least worthy first. Days that are frozen keep theirs.
    stay_price : int
        Taken off the value for each visit of ``orders`` that leaves its crew day.
    """

    def __init__(
        self,
        ground: Ground,
        *,
        seed: int,
        orders: Mapping[int, Sequence[int]] | None = None,
        stay_price: int = 0,
    ) -> None:
        self.ground = ground
        self.rng = np.random.default_rng(seed)
        self.filler = Filler(ground)
        self.stay_price = stay_price
        count = len(ground.days)
        self.orders: list[Order] = [()] * count
        self.marks: list[tuple[int, int]] = [(0, 0)] * count
        self.clocks: list[Clocked | None] = [clock_walk(ground, d, order=()) for d in range(count)]
        self.day_of: Indices = np.full(ground.count, -1, dtype=np.int64)
        self.home: Indices = np.full(ground.count, -1, dtype=np.int64)
        self.open = [d for d in range(count) if not ground.days[d].frozen and self.clocks[d] is not None]
        for d, order in (orders or {}).items():
            self.home[list(order)] = d
            self._begin_with(d, tuple(order))
        self.marks = [self._mark(d, self.orders[d], self.clocks[d]) for d in range(count)]
        self.price = 0.0

    def _begin_with(self, d: int, order: Order) -> None:
        ground = self.ground
        if not ground.days[d].frozen:
            order = tuple(at for at in order if ground.eligible[d][at])
            while clock_walk(ground, d, order=order) is None and order:
                order = self._without_one(d, order)
        self._put(d, order)

    def _without_one(self, d: int, order: Order) -> Order:
        """One visit less: the least worthy whose loss mends the day, else the least worthy."""
        ranked = sorted(order, key=lambda at: (bool(self.ground.pinned[at]), int(self.ground.worth[at]), at))
        for at in ranked:
            rest = tuple(k for k in order if k != at)
            if clock_walk(self.ground, d, order=rest) is not None:
                return rest
        return tuple(k for k in order if k != ranked[0])

    def _put(self, d: int, order: Order, clocked: Clocked | None = None) -> None:
        self.day_of[self.day_of == d] = -1
        self.day_of[list(order)] = d
        self.orders[d] = order
        self.clocks[d] = clocked or clock_walk(self.ground, d, order=order)
        self.marks[d] = self._mark(d, order, self.clocks[d])

    def fill_all(self, *, thorough: bool = False) -> None:
        """Pins, then what must be read, then all others; the crew days with the least choice first."""
        ground = self.ground
        must = ground.worth > ground.score
        ranked = sorted(self.open, key=lambda d: (int(ground.eligible[d].sum()), d))
        for wanted in (ground.pinned, must, np.ones(ground.count, dtype=bool)):
            for d in ranked:
                free = (self.day_of < 0) & wanted
                if not (free & ground.eligible[d]).any():
                    continue
                order, clocked = self.filler.fill(d, order=self.orders[d], free=free, thorough=thorough)
                order, clocked = shorten_walk(
                    ground, d, order=order, clocked=clocked, most_passes=PASSES_AT_ENDS
                )
                order, clocked = self.filler.fill(d, order=order, free=free, thorough=thorough)
                self._put(d, order, clocked)

    def run(self, steps: int, progress: Progress | None = None) -> None:
        """So many steps, then the best crew days that were met, with all that still fits."""
        self.fill_all()
        best, best_rank = list(self.orders), self._rank()
        every = max(steps // TOLD_PARTS, 1)
        self.price = MINUTE_PRICE * self._density()
        heat = self._heat()
        for step in range(steps if self.open and self.ground.count else 0):
            self._step(heat * WARM * (COLD / WARM) ** (step / steps))
            if self._rank() > best_rank:
                best, best_rank = list(self.orders), self._rank()
            if progress is not None and (step + 1) % every == 0:
                progress(step + 1, steps, self.value(best))
        for d in self.open:
            if self.orders[d] != best[d]:
                self.day_of[self.day_of == d] = -1
        for d in self.open:
            if self.orders[d] != best[d]:
                self._put(d, best[d])
        self.fill_all(thorough=True)

    def value(self, orders: Sequence[Order]) -> int:
        return int(sum(self.ground.score[list(order)].sum() for order in orders))

    def _density(self) -> float:
        """Score per tenth of a minute of the crew days as they stand."""
        spent = sum(self.marks[d][1] - self.ground.start[d] for d in self.open if self.orders[d])
        return self.value([self.orders[d] for d in self.open]) / max(spent, 1)

    def _heat(self) -> float:
        """Mean score of a candidate: the unit in which a worse plan may be accepted."""
        return float(self.ground.score.sum()) / max(self.ground.count, 1)

    def _rank(self) -> tuple[int, int]:
        """What is compared: the worth of all that is placed, then the earlier ends."""
        return sum(self.marks[d][0] for d in self.open), -sum(self.marks[d][1] for d in self.open)

    def _mark(self, d: int, order: Order, clocked: Clocked | None) -> tuple[int, int]:
        at = list(order)
        worth = int(self.ground.worth[at].sum())
        if self.stay_price:
            worth += self.stay_price * int((self.home[at] == d).sum())
        return worth, 0 if clocked is None else clocked.timing.finish

    def _step(self, heat: float) -> None:
        """Clear a part of one or two neighbouring days, fill them anew, keep or put back."""
        draws = self.rng.random(9).tolist()
        # Sometimes nearly by worth alone, sometimes nearly by chance.
        shade: Floats = 1.0 + SHADE * draws[8] * (self.rng.random(self.ground.count) - 0.5)
        near = self._neighbours(draws)
        if not near:
            return
        held = [self.marks[d] for d, _ in near]
        free = self.day_of < 0
        left: list[tuple[int, Order]] = []
        for k, (d, at) in enumerate(near):
            gone = self._cleared(d, at, kind=draws[3 + k], share=draws[5 + k], shade=shade)
            free[list(gone)] = True
            rest = tuple(one for one in self.orders[d] if one not in gone)
            # Ways are whole tenths: the way past a visit may be one longer than the way over it.
            if clock_walk(self.ground, d, order=rest) is None:
                return
            left.append((d, rest))
        if draws[7] < 0.5:
            left.reverse()
        after = [(d, *self._filled(d, order, free=free, shade=shade)) for d, order in left]
        marks = [self._mark(*row) for row in after]
        gain = sum(mark[0] for mark in marks) - sum(mark[0] for mark in held)
        later = sum(mark[1] for mark in marks) - sum(mark[1] for mark in held)
        change = gain - self.price * later
        if change >= 0 or (heat > 0 and draws[2] < math.exp(max(change / heat, -700.0))):
            for d, _, _ in after:
                self.day_of[self.day_of == d] = -1
            for d, order, clocked in after:
                self._put(d, order, clocked)

    def _neighbours(self, draws: Sequence[float]) -> list[tuple[int, int]]:
        """One or two days near a drawn candidate, each with the visit that lies nearest to it."""
        ground = self.ground
        placed = np.flatnonzero((self.day_of >= 0) & ~self._frozen_of())
        if not placed.size:
            return []
        drawn = np.array([int(draws[0] * ground.count)])
        far = ground.ways.legs(drawn, placed)
        first = int(placed[far.argmin()])
        found = [(int(self.day_of[first]), first)]
        others = self.day_of[placed] != found[0][0]
        if draws[1] < SECOND_DAY_SHARE and others.any():
            rest = placed[others]
            second = int(rest[far[others].argmin()])
            found.append((int(self.day_of[second]), second))
        return found

    def _frozen_of(self) -> Flags:
        frozen = np.array([day.frozen for day in self.ground.days], dtype=bool)
        found: Flags = np.where(self.day_of >= 0, frozen[self.day_of], False)
        return found

    def _cleared(self, d: int, at: int, *, kind: float, share: float, shade: Floats) -> set[int]:
        """What leaves a day: a string around a visit, its whole site, the weakest, or all."""
        order = self.orders[d]
        ground = self.ground
        block = tuple(one for one in order if ground.ways.site[one] == ground.ways.site[at])
        if kind < STRINGS or (kind < BLOCKS and len(block) == 1):
            length = 1 + int(share * min(len(order), LONGEST_STRING))
            begin = max(0, min(order.index(at) - length // 2, len(order) - length))
            gone = order[begin : begin + length]
        elif kind < BLOCKS:
            gone = block
        elif kind < WEAKEST:
            density = self.densities(d) * shade[list(order)]
            weakest = np.argsort(density, kind="stable")[: 1 + int(share * len(order) / 3)]
            gone = tuple(order[k] for k in weakest.tolist())
        else:
            gone = order
        return {one for one in gone if not ground.pinned[one]}

    def densities(self, d: int) -> Floats:
        """Worth per tenth of a minute that leaving a visit out would save, shape (m,)."""
        order, clocked = self.orders[d], self.clocks[d]
        if clocked is None or not order:
            return np.zeros(len(order))
        begin = self.ground.begin_node(d)
        nodes = np.array([begin, *order, begin + 1])
        legs = np.array(clocked.timing.legs, dtype=np.int64)
        direct = self.ground.ways.legs(nodes[:-2], nodes[2:])
        at = list(order)
        saved = legs[:-1] + legs[1:] - direct + self.ground.service_array[at]
        found: Floats = self.ground.worth[at] / np.maximum(saved, 1)
        return found

    def _filled(self, d: int, order: Order, *, free: Flags, shade: Floats) -> tuple[Order, Clocked]:
        order, clocked = self.filler.fill(d, order=order, free=free, shade=shade)
        home = clocked.timing.finish
        order, clocked = shorten_walk(
            self.ground, d, order=order, clocked=clocked, most_passes=PASSES_IN_STEP
        )
        if clocked.timing.finish < home:
            order, clocked = self.filler.fill(d, order=order, free=free, shade=shade)
        return order, clocked
