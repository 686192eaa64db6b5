"""The planner: how many more faults it catches than fixed rounds at the same hours, and how fast it is.

All of the plant is invented and all of its figures are assumed (`planning_world/world.py`): the ratios
say something, the levels do not.
"""

import json
import resource
import sys
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter

import numpy as np

from bench import plan_days
from bench.kept_rows import KeptRows, Row, fingerprint
from bench.planning_world.registers import capacity_for, own_months_minutes, register
from bench.planning_world.table import (
    BASELINES,
    REFERENCE,
    REPORTED_SEEDS,
    STRESS_SEEDS,
    STRESSES,
    WILD,
    compared,
    row,
)
from bench.planning_world.world import Settings
from service.planning.month import plan_months

ROOT = Path(__file__).resolve().parents[1]
OUT = ROOT / "var" / "bench" / "plan.json"
#: The code whose rows are of one run.
CODE = (ROOT / "service" / "planning", ROOT / "bench" / "planning_world", ROOT / "bench" / "plan_days.py")
SIZES = {2_000: 20, 20_000: 120}
GOALS = {
    "caught_gain_*": "≥ 0.20",
    "worst_stress_gain": "≥ 0.10",
    "seconds_20000": "≤ 60",
    "peak_mib_20000": "≤ 700",
    "hours_against_own_months_20000": "≤ -0.07",
}


def main() -> dict[str, object]:
    """Print one table and write var/bench/plan.json; a run that was cut short goes on where it stopped."""
    kept = KeptRows(OUT, code=fingerprint(*CODE))
    if kept.found:
        print(f"{kept.found} rows are of a run of the same code that was cut short.")
    figures: dict[str, object] = {}
    for assets, sites in SIZES.items():
        figures |= speed(assets, sites, kept)
    figures |= days(kept) | risk(kept)
    kept.finish(figures)
    print(json.dumps({"goals": GOALS} | figures, indent=2, ensure_ascii=False))
    return figures


def risk(kept: KeptRows) -> dict[str, object]:
    """Same hours, every baseline, the reference plant and the stress cases."""
    print(
        f"{'case':<26}{'baseline':<30}{'hours':>7}{'caught':>9}{'ours':>8}{'gain':>9}{'s.e.':>7}{'weighted':>10}{'critical':>16}"
    )
    figures: dict[str, object] = {}
    critical = []
    for name in BASELINES:
        found = _line(kept, "reference", name, settings=REFERENCE)
        figures[f"caught_gain_{name}"] = found["caught_gain"]
        figures[f"weighted_gain_{name}"] = found["weighted_gain"]
        critical.append(_number(found, "critical_gain"))
    held = []
    for case, settings in STRESSES.items():
        for name in BASELINES:
            found = _line(kept, case, name, settings=settings)
            if case != WILD:
                held.append(_number(found, "caught_gain"))
                critical.append(_number(found, "critical_gain"))
    figures["worst_stress_gain"] = min(held)
    figures["worst_critical_gain"] = min(critical)
    return figures


def _line(kept: KeptRows, case: str, name: str, *, settings: Settings) -> Row:
    seeds = REPORTED_SEEDS if case == "reference" else STRESS_SEEDS
    told = kept.row(f"{case} · {name}", lambda: row(case, name, compared(settings, name, seeds=seeds)))
    shares = ("caught_baseline", "caught_ours", "caught_gain", "caught_gain_se")
    caught = [_number(told, share) for share in (*shares, "weighted_gain")]
    print(
        f"{case:<26}{BASELINES[name]:<30}{told['hours']:>7}{caught[0]:>9.1%}"
        f"{caught[1]:>8.1%}{caught[2]:>+9.1%}{caught[3]:>7.1%}{caught[4]:>+10.1%}"
        f"{_number(told, 'critical_baseline'):>8.1%}{_number(told, 'critical_ours'):>8.1%}",
        flush=True,
    )
    return told


def _number(told: Row, name: str) -> float:
    return float(told[name] or 0.0)


def speed(assets: int, sites: int, kept: KeptRows) -> dict[str, object]:
    """Seconds and memory of one year's months, in a process of its own so that the peak is its own."""

    def measure() -> Row:
        with get_context("spawn").Pool(1) as pool:
            return pool.apply(_months, (assets, sites))

    told = kept.row(f"months of {assets}", measure)
    print(told, flush=True)
    names = ("seconds", "peak_mib", "hours_against_own_months", "peak_over_mean")
    return {f"{name}_{assets}": told[name] for name in names}


def _months(assets: int, sites: int) -> Row:
    due = register(assets, sites, seed=7)
    capacity = capacity_for(due, sites)
    own = own_months_minutes(due, capacity.visit_min)
    begun = perf_counter()
    plan = plan_months(due, capacity)
    seconds = perf_counter() - begun
    unit = 1024**2 if sys.platform == "darwin" else 1024
    return {
        "case": f"months of {assets:,} assets at {sites} sites",
        "seconds": round(seconds, 1),
        "peak_mib": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit, 1),
        "gap": round(plan.gap, 4),
        "hours_against_own_months": round(float(plan.minutes.sum() / own.sum()) - 1, 4),
        "peak_over_mean": round(float(plan.minutes.max() / plan.minutes.mean()), 4),
        "over_min": round(float(np.sum(plan.over.minutes)), 1),
    }


def days(kept: KeptRows) -> dict[str, object]:
    """The day routes: against a plain rule, and against an outside solver where one is installed."""
    against = []
    for size in plan_days.SIZES:
        told = kept.row(f"days of {size.assets}", partial(plan_days.row_of, size))
        print(told, flush=True)
        if told["value_vs_pyvrp_percent"] is not None:
            against.append(_number(told, "value_vs_pyvrp_percent"))
    return {"value_vs_pyvrp": round(min(against) / 100, 4) if against else None}


if __name__ == "__main__":
    main()
