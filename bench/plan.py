"""The planner: how many more faults it catches than fixed rounds at the same hours, and how fast it is.

All of the plant is invented and all of its figures are assumed (`planning_world/world.py`): the ratios
say something, the levels do not.
"""

import importlib
import json
import resource
import sys
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter

import numpy as np

from bench.planning_world.registers import capacity_for, own_months_minutes, register
from bench.planning_world.table import (
    BASELINES,
    REFERENCE,
    REPORTED_SEEDS,
    STRESS_SEEDS,
    STRESSES,
    WILD,
    Compared,
    compared,
    row,
)
from service.planning.month import plan_months

OUT = Path(__file__).resolve().parents[1] / "var" / "bench" / "plan.json"
SIZES = {2_000: 20, 20_000: 120}
#: Rows of a benchmark of day routes are added where that module stands beside this one.
DAYS = "bench.plan_days"
GOALS = {
    "caught_gain_*": "≥ 0.20",
    "worst_stress_gain": "≥ 0.10",
    "seconds_20000": "≤ 60",
    "peak_mib_20000": "≤ 700",
}
Row = dict[str, str | float]


def main() -> dict[str, object]:
    """Print one table and write var/bench/plan.json."""
    rows: list[Row] = []
    figures: dict[str, object] = {"value_vs_pyvrp": None} | risk(rows)
    for assets, sites in SIZES.items():
        figures |= speed(assets, sites, rows)
    figures |= days(rows)
    OUT.parent.mkdir(parents=True, exist_ok=True)
    OUT.write_text(json.dumps(figures | {"rows": rows}, indent=2) + "\n", encoding="utf-8")
    print(json.dumps({"goals": GOALS} | figures, indent=2, ensure_ascii=False))
    return figures


def risk(rows: list[Row]) -> dict[str, object]:
    """Same hours, every baseline, the reference plant and the stress cases."""
    print(
        f"{'case':<26}{'baseline':<30}{'hours':>7}{'caught':>9}{'ours':>8}{'gain':>9}{'s.e.':>7}{'weighted':>10}{'critical':>16}"
    )
    figures: dict[str, object] = {}
    critical_worse = []
    for name in BASELINES:
        found = _line("reference", name, compared(REFERENCE, name, seeds=REPORTED_SEEDS), rows)
        figures[f"caught_gain_{name}"] = round(found.caught_gain, 4)
        figures[f"weighted_gain_{name}"] = round(found.weighted_gain, 4)
        critical_worse.append(found.critical[1] / found.critical[0] - 1)
    held = []
    for case, settings in STRESSES.items():
        for name in BASELINES:
            found = _line(case, name, compared(settings, name, seeds=STRESS_SEEDS), rows)
            if case != WILD:
                held.append(found.caught_gain)
                critical_worse.append(found.critical[1] / found.critical[0] - 1)
    figures["worst_stress_gain"] = round(min(held), 4)
    figures["worst_critical_gain"] = round(min(critical_worse), 4)
    return figures


def _line(case: str, name: str, found: Compared, rows: list[Row]) -> Compared:
    told = row(case, name, found)
    rows.append(told)
    print(
        f"{case:<26}{BASELINES[name]:<30}{told['hours']:>7}{told['caught_baseline']:>9.1%}"
        f"{told['caught_ours']:>8.1%}{told['caught_gain']:>+9.1%}{told['caught_gain_se']:>7.1%}"
        f"{told['weighted_gain']:>+10.1%}{told['critical_baseline']:>8.1%}{told['critical_ours']:>8.1%}",
        flush=True,
    )
    return found


def speed(assets: int, sites: int, rows: list[Row]) -> dict[str, object]:
    """Seconds and memory of one year's months, in a process of its own so that the peak is its own."""
    with get_context("spawn").Pool(1) as pool:
        told = pool.apply(_months, (assets, sites))
    rows.append(told)
    print(told, flush=True)
    return {f"seconds_{assets}": told["seconds"], f"peak_mib_{assets}": told["peak_mib"]}


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


def days(rows: list[Row]) -> dict[str, object]:
    """What the benchmark of day routes measured, where it stands beside this one."""
    try:
        measured = importlib.import_module(DAYS)
    except ModuleNotFoundError:
        return {}
    told = list(measured.rows())
    rows.extend({"case": "day routes"} | one for one in told)
    against = [one["value_vs_pyvrp_percent"] for one in told if one.get("value_vs_pyvrp_percent") is not None]
    return {"value_vs_pyvrp": round(min(against) / 100, 4) if against else None}


if __name__ == "__main__":
    main()
