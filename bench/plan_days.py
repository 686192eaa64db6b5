"""The day planner on synthetic months: seconds, gap, memory, and its value against a plain rule.

``row_of()`` each size of register; the plain rule takes the visits by due date and walks on to the
nearest one, on the same hours and under the same hard rules. All plants are drawn from a seed.
"""

import importlib.util
import multiprocessing
import resource
import sys
from dataclasses import dataclass, replace
from time import perf_counter, process_time
from typing import Any

import numpy as np

from bench.kept_rows import Row
from service.planning.crew_days import Candidate, CrewDay, Gate, Windows, Work
from service.planning.day_routes import PlannedDays, plan_days
from service.planning.ground import Ground
from service.planning.places import Place
from service.planning.walks import clock_walk

SEED = 20_264
MORNING: Windows = ((420.0, 600.0),)
AFTERNOON: Windows = ((780.0, 900.0),)
BASE = 10_000
#: the outside solver weighs scores against way: so large that scores decide
PRIZE_SCALE = 1_000
#: visits in a row that the plain rule cannot fit before it calls a day full
MOST_REFUSED = 60
#: own worth of a visit by criticality (planning study: 1, 4 and 15), never a published figure
CRITICALITY = np.array([1, 4, 15])


@dataclass(frozen=True, slots=True)
class Size:
    """One month of a register of so many assets; hours are deliberately short."""

    assets: int
    sites: int
    candidates: int
    crew_days: int
    shift_min: float
    steps: int


SIZES = (
    Size(200, 2, 31, 1, 200.0, 600),
    Size(2_000, 20, 320, 4, 420.0, 600),
    Size(20_000, 120, 3_222, 40, 450.0, 2_000),
)


def month(size: Size, seed: int = SEED) -> tuple[Work, dict[int, int]]:
    """A synthetic month, and the day on which each candidate is due.

    A quarter behind covers, a quarter only from 07 to 10, a tenth only from 13 to 15; every second
    crew day has a qualified person.
    """
    rng = np.random.default_rng(seed)
    latitude, longitude = 50 + rng.uniform(-0.25, 0.25, size.sites), 9 + rng.uniform(-0.4, 0.4, size.sites)
    gates = [Gate(s, float(latitude[s]), float(longitude[s])) for s in range(size.sites)]
    gates.append(Gate(BASE, 50.0, 9.0))
    site = rng.integers(0, size.sites, size.candidates)
    spot_m = rng.uniform(0, 400, (size.candidates, 2))
    minutes = rng.integers(3, 12, size.candidates)
    draw, covered = rng.random(size.candidates), rng.random(size.candidates) < 0.25
    criticality = CRITICALITY[rng.choice(3, size.candidates, p=(0.6, 0.3, 0.1))]
    lateness = rng.uniform(0.6, 1.4, size.candidates)
    score = np.rint(100 * np.sqrt(criticality) * lateness**2 * np.where(lateness > 1, 1.5, 1.0))
    candidates = [
        Candidate(
            key=k,
            place=Place(int(site[k]), float(spot_m[k, 0]), float(spot_m[k, 1])),
            minutes=float(minutes[k]) + 4.0 * covered[k],
            score=int(score[k]),
            windows=MORNING if draw[k] < 0.25 else AFTERNOON if draw[k] < 0.35 else (),
            needs_qualified_person=bool(covered[k]),
        )
        for k in range(size.candidates)
    ]
    days = [
        CrewDay(d, d // 2, 420.0, 420.0 + size.shift_min, d % 2, BASE, BASE, has_qualified_person=d % 2 == 0)
        for d in range(size.crew_days)
    ]
    due = {k: int(-1000 * lateness[k]) for k in range(size.candidates)}
    return Work(candidates, days, gates), due


def plain_rule(work: Work, due: dict[int, int]) -> int:
    """By due date as many as fit, each day walked on to the nearest: its value on the same hours."""
    ground = Ground(work)
    left = sorted(range(ground.count), key=lambda at: (due[ground.candidates[at].key], at))
    value = 0
    for d in range(len(ground.days)):
        order: tuple[int, ...] = ()
        refused = 0
        for at in left:
            if ground.eligible[d][at] and refused < MOST_REFUSED:
                tried = nearest_next(ground, d, (*order, at))
                fits = clock_walk(ground, d, order=tried) is not None
                order, refused = (tried, 0) if fits else (order, refused + 1)
        value += int(ground.score[list(order)].sum())
        left = [at for at in left if at not in order]
    return value


def nearest_next(ground: Ground, d: int, chosen: tuple[int, ...]) -> tuple[int, ...]:
    """Those whose load hours close soonest first, and within them always the nearest."""
    order: list[int] = []
    here, left = ground.begin_node(d), list(chosen)
    while left:
        closes = [ground.spans[d][at][-1][1] if ground.spans[d][at] else 0 for at in left]
        first = [at for at, close in zip(left, closes, strict=True) if close == min(closes)]
        way = ground.ways.legs(np.array([here]), np.array(first))
        here = first[int(way.argmin())]
        order.append(here)
        left.remove(here)
    return tuple(order)


def referee_value(work: Work, iterations: int) -> int | None:
    """The same month by an outside solver of vehicle routes; None where it is not installed.

    It knows no break, so that both are asked without one. Ways and minutes are this planner's.
    """
    if importlib.util.find_spec("pyvrp") is None:
        return None
    pyvrp: Any = importlib.import_module("pyvrp")
    stop: Any = importlib.import_module("pyvrp.stop")
    ground, model = Ground(work), pyvrp.Model()
    # All crew days of a month have the same hours here, and each candidate one span at most.
    chosen = [at for at in range(ground.count) if ground.spans[0][at]]
    nodes = [*chosen, ground.begin_node(0)]
    locations = [model.add_location(0, 0) for _ in nodes]
    depot = model.add_depot(locations[-1])
    for location, at in zip(locations, chosen, strict=False):
        span = ground.spans[0][at][0]
        model.add_client(
            location,
            service_duration=ground.service[at],
            tw_early=span[0],
            tw_late=min(span[1], ground.end[0]),
            prize=ground.candidates[at].score * PRIZE_SCALE,
            required=False,
        )
    way = ground.ways.legs(np.array(nodes)[:, None], np.array(nodes)[None, :]).tolist()
    for able in (False, True):
        profile = model.add_profile()
        fleet = [d for d, day in enumerate(ground.days) if day.has_qualified_person == able]
        for b, to in enumerate(locations):
            covered = b < len(chosen) and ground.candidates[chosen[b]].needs_qualified_person
            far = ground.end[0] * 2 if covered and not able else 0
            for a, origin in enumerate(locations):
                if a != b:
                    model.add_edge(origin, to, way[a][b], way[a][b] + far, profile)
        if fleet:
            model.add_vehicle_type(
                len(fleet),
                start_depot=depot,
                end_depot=depot,
                tw_early=ground.start[0],
                tw_late=ground.end[0],
                start_late=ground.start[0],
                profile=profile,
            )
    best = model.solve(stop.MaxIterations(iterations), seed=1, display=False).best
    return int(best.prizes()) // PRIZE_SCALE if best.is_feasible() else 0


def over_referee_percent(work: Work, steps: int, iterations: int = 4_000) -> float | None:
    """By how much this planner's value is above the referee's, both without a break [%]."""
    unbroken = replace(work, crew_days=[replace(day, break_min=0.0) for day in work.crew_days])
    other = referee_value(unbroken, iterations)
    if not other:
        return None
    return round(100 * (plan_days(unbroken, steps=steps, bounded=False).value / other - 1), 1)


def measured(size: Size) -> Row:
    """One row; run it in a process of its own, since memory is the process's peak."""
    work, due = month(size)
    begun = perf_counter()
    greedy = plan_days(work, steps=0, bounded=False).value
    first_s = perf_counter() - begun
    begun, begun_cpu = perf_counter(), process_time()
    plan: PlannedDays = plan_days(work, steps=size.steps)
    seconds, cpu_s = perf_counter() - begun, process_time() - begun_cpu
    peak_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024 if sys.platform == "darwin" else 1)
    plain = plain_rule(work, due)
    return {
        "assets": size.assets,
        "candidates": size.candidates,
        "crew_days": size.crew_days,
        "steps": size.steps,
        "first_s": round(first_s, 2),
        "final_s": round(seconds, 2),
        "final_cpu_s": round(cpu_s, 2),
        "value": plan.value,
        "first_value": greedy,
        "bound": plan.bound,
        "gap_percent": round(100 * (plan.gap or 0.0), 1),
        "plain_value": plain,
        "over_plain_percent": round(100 * (plan.value / plain - 1), 1),
        # Its table of all ways is built pair by pair: too slow for the largest.
        "value_vs_pyvrp_percent": over_referee_percent(work, size.steps) if size.assets <= 2_000 else None,
        "peak_mib": round(peak_kib / 1024),
    }


def row_of(size: Size) -> Row:
    """The row of one size of register, measured in a process of its own."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(measured, (size,))


if __name__ == "__main__":
    for each in SIZES:
        print(row_of(each))
