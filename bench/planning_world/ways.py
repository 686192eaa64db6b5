"""The ways of planning that are compared: fixed rounds of four sorts, and ours."""

from dataclasses import dataclass

import numpy as np

from bench.planning_world.walking import Seen
from bench.planning_world.world import Bools, Floats, Ints, World
from service.planning.class_floors import ClassFloor, caught_by_intervals, intervals_with_floor
from service.planning.fault_rates import Record, learned_rates
from service.planning.first_signs import (
    Signs,
    chance_after_reading,
    chance_behind_sign,
    worth_of_reading_now,
)
from service.planning.intervals import (
    ELECTRICAL_CEILING_MONTHS,
    neta_months,
)
from service.planning.joint_intervals import CEILINGS, Assets, JointIntervals, Sites

#: Equipment that is not electrical. Assumed: a plant may well ask for less.
OTHER_CEILING_MONTHS = 24.0
#: Ours plans with so much of the hours: the rest is what a year may overrun.
PLANNED_SHARE = 0.997
NEEDS, GRADES = ("low", "medium", "high"), ("poor", "average", "good")
CRITICAL = 15.0


def fixed_months(world: World, name: str) -> Floats:
    """Months between two readings of each piece by a fixed rule."""
    critical = world.criticality >= CRITICAL
    if name == "annual":
        return np.where(critical, 3.0, 12.0)
    if name == "half_yearly":
        return np.full(world.assets, 6.0)
    if name == "quarterly":
        return np.full(world.assets, 3.0)
    need = np.searchsorted([1.0, 4.0, 15.0], world.criticality)
    table = np.array([[min(neta_months(n, g), ELECTRICAL_CEILING_MONTHS) for g in GRADES] for n in NEEDS])
    months: Floats = table[need, world.true_grade]
    return months


@dataclass(slots=True)
class FixedRounds:
    """All of a site on the same months, sites spread over the year."""

    world: World
    months: Floats

    def reads(self, month: int) -> Bools:
        due: Bools = (month + self.world.site) % self.months == 0
        return due

    def told(self, month: int, seen: Seen, failed: Bools) -> None:
        """Fixed rounds do not listen."""


@dataclass(slots=True)
class _State:
    """What a planner remembers: of equipment (n,) and of sites (s,)."""

    last: Floats
    faults: Ints
    chance: Floats
    sign_month: Floats
    last_trip: Floats
    base: Ints
    interval: Floats
    price: float = 0.0
    minutes: float = 0.0
    kept_back: float = 0.0


class JointRounds:
    """Ours: one price, learned rates, first signs read again, replanned every year."""

    def __init__(
        self,
        world: World,
        *,
        hours_per_year: float,
        ceilings: Floats,
        before: Floats,
        exponent: float = 0.1,
        signs: bool = True,
    ) -> None:
        self.before = before
        self.world, self.hours, self.ceilings = world, hours_per_year * PLANNED_SHARE, ceilings
        self.weight, self.signs = world.criticality**exponent, signs
        n, s = world.assets, world.settings.sites
        self.pf = _pooled(world.guess_pf_months, world.kind)
        self.lead = np.full(n, world.settings.lead_months)
        self.rate = world.guess_per_year
        self.state = _State(
            last=np.full(n, np.nan),
            faults=np.zeros(n, dtype=np.int64),
            chance=np.zeros(n),
            sign_month=np.zeros(n),
            last_trip=np.zeros(s),
            base=np.ones(s, dtype=np.int64),
            interval=np.ones(n),
            kept_back=0.04 * hours_per_year * 60,
        )

    def reads(self, month: int) -> Bools:
        if (month - 1) % 12 == 0:
            self._replan(month)
        state, site = self.state, self.world.site
        trips = month - state.last_trip >= state.base
        age = month - state.last
        read = trips[site] & (age + state.base[site] > state.interval + 1e-9)
        if self.signs:
            read = read | self._again(month, trips, read)
        state.last_trip = np.where(trips, month, state.last_trip)
        state.minutes += self._minutes(read)
        return read

    def told(self, month: int, seen: Seen, failed: Bools) -> None:
        state = self.state
        state.faults = state.faults + failed + seen.found
        state.last = np.where(seen.clear, month, state.last)
        if self.signs:
            self._weigh(month, seen)
        over = failed | seen.found | (state.chance < 0.02)
        state.chance = np.where(over, 0.0, state.chance)

    def _replan(self, month: int) -> None:
        state, world = self.state, self.world
        years = (month - 1) / 12
        if years > 0:
            self.rate = learned_rates(
                Record(
                    world.kind,
                    world.grade,
                    world.guess_per_year,
                    state.faults,
                    np.full(world.assets, years),
                )
            )
            state.kept_back += 0.6 * (state.minutes - self.hours * 60)
            state.minutes = 0.0
        else:
            self.rate = learned_rates(
                Record(world.kind, world.grade, world.guess_per_year, state.faults, np.zeros(world.assets))
            )
        plan = self._plan((self.hours * 60 - state.kept_back) / 60 / 12)
        state.base, state.interval, state.price = plan.base_months, plan.interval_months * 1.0, plan.price
        if years == 0:
            self._spread(plan)

    def _plan(self, hours_per_month: float) -> JointIntervals:
        world = self.world
        full = np.bincount(world.site, minlength=world.settings.sites).astype(float)
        sites = Sites(np.full(world.settings.sites, world.settings.setup_min), world.walk_min(full))
        assets = Assets(
            site=world.site,
            rate_per_year=self.rate,
            pf_months=self.pf,
            found_share=world.found_share * (1 - world.settings.unreadable_share),
            weight=self.weight,
            read_min=world.read_min,
            ceiling_months=self.ceilings,
            lead_months=self.lead,
        )
        critical = world.criticality >= CRITICAL
        least = float(caught_by_intervals(assets, self.before)[critical].sum())
        return intervals_with_floor(
            assets, sites, hours_per_month=hours_per_month, floor=ClassFloor(critical, least)
        )

    def _spread(self, plan: JointIntervals) -> None:
        """The first visits, spread over each interval."""
        state, site = self.state, self.world.site
        first = 1 + np.arange(len(plan.base_months)) % np.maximum(plan.base_months, 1)
        state.last_trip = first - plan.base_months.astype(float)
        base = plan.base_months[site]
        turn = np.arange(len(site)) % np.maximum(plan.interval_months // base, 1)
        state.last = first[site] - plan.interval_months + turn * base.astype(float)

    def _signs(self, which: Ints, month: int) -> Signs:
        state = self.state
        return Signs(
            state.chance[which],
            month - state.sign_month[which],
            self.pf[which],
            self.world.found_share[which],
            self.lead[which],
        )

    def _again(self, month: int, trips: Bools, read: Bools) -> Bools:
        """Signs worth another reading now: on a visit that is made anyway, or on one of their own."""
        state, world = self.state, self.world
        which = np.flatnonzero((state.chance > 0) & ~read)
        extra = np.zeros(world.assets, dtype=bool)
        if not len(which):
            return extra
        site = world.site[which]
        ahead = np.where(trips, state.base, state.base - (month - state.last_trip))[site]
        worth = self.weight[which] * worth_of_reading_now(
            self._signs(which, month), months_until_next=ahead.astype(float)
        )
        net = worth / state.price - world.read_min[which] - 1.0
        good = net > 0
        total = np.bincount(site[good], weights=net[good], minlength=len(trips))
        count = np.bincount(site[good], minlength=len(trips)).astype(float)
        opened = trips | (total > world.settings.setup_min + world.walk_min(count))
        extra[which[good & opened[site]]] = True
        return extra

    def _weigh(self, month: int, seen: Seen) -> None:
        state, world = self.state, self.world
        known = np.flatnonzero((state.chance > 0) & seen.clear & ~seen.found)
        fresh = np.flatnonzero((state.chance == 0) & seen.sign)
        if len(known):
            state.chance[known] = chance_after_reading(self._signs(known, month), seen.sign[known])
            again = known[seen.sign[known]]
            state.sign_month[again] = month
        state.chance[fresh] = chance_behind_sign(
            self.rate[fresh], self.pf[fresh], found_share=world.found_share[fresh]
        )
        state.sign_month[fresh] = month

    def _minutes(self, read: Bools) -> float:
        world = self.world
        count = np.bincount(world.site[read], minlength=world.settings.sites).astype(float)
        visits = (count > 0).sum() * world.settings.setup_min
        return float(world.read_min[read].sum() + world.walk_min(count).sum() + visits)


def ceilings(world: World) -> Floats:
    """Hard ceilings of the class; the critical class has a floor of faults caught instead of one more."""
    none = np.full((world.assets, len(CEILINGS) - 1), np.inf)
    classed = np.where(world.electrical, ELECTRICAL_CEILING_MONTHS, OTHER_CEILING_MONTHS)
    return np.column_stack([classed, none])


def _pooled(guess: Floats, kind: Ints) -> Floats:
    """A guess for one piece is half believed against that of its kind."""
    logs = np.log(guess)
    middle = np.array([np.median(logs[kind == k]) if (kind == k).any() else 0 for k in range(kind.max() + 1)])
    pooled: Floats = np.exp(0.5 * logs + 0.5 * middle[kind])
    return pooled
