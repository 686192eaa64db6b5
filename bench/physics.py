"""A million readings, to surface temperatures and to uncertainty budgets, against loops.

The loop of temperatures calls a root finder one by one. It is given the same band radiance: once as
the array function of the service called with single numbers, once as lean as plain Python allows.
The loop of budgets lets the `uncertainties` package propagate each reading, with derivatives given,
in the same two ways. All are timed on a sample, in the same run and turn about with the service,
and must find the same.
"""

import json
import math
from collections.abc import Callable
from multiprocessing import get_context
from pathlib import Path
from time import process_time

import numpy as np
from scipy.optimize import brentq

from bench.budget_loop import BY_ARRAY_FUNCTIONS, BY_PLAIN_PYTHON
from bench.budget_loop import budgets as budgets_one_by_one
from service.physics.assumptions import Assumptions, Input
from service.physics.budget_terms import over_air_terms, terms_at_common_load
from service.physics.optics import Optics
from service.physics.radiance import BAND_8_14, C2, SIGMA, ZERO_C, exact_band_radiance
from service.physics.surface import apparent_temperature, surface_temperature
from service.physics.uncertainty import Budget, budget_of

READINGS, LOOPED, TURNS, SEED = 1_000_000, 200, 5, 20_263
GOALS = {"inversion_ratio": "≥ 1000", "budget_ratio": "≥ 300", "peak_mib": "≤ 1024"}
#: as many as take long enough to meet the same machine as a million at once
BUDGETS_LOOPED = 1_000
#: budgets are made so many at a time: more at once are no faster and hold more memory
BUDGET_BLOCK = 50_000
OUT = Path(__file__).resolve().parents[1] / "var" / "bench" / "physics.json"
Draw = tuple[np.ndarray, Optics]
BudgetDraw = tuple[np.ndarray, Optics, np.ndarray, np.ndarray]
LINES = (
    Input.CAMERA,
    Input.NOISE,
    Input.EMISSIVITY,
    Input.REFLECTED,
    Input.TRANSMISSION,
    Input.PLACEMENT,
    Input.AIR,
    Input.CURRENT,
    Input.EXPONENT,
)
#: largest difference from the loop that is the spline's and not a fault [K]
ALLOWED_K = 2e-6
#: the same for a budget, whose figures are up to some twenty times larger [K]
ALLOWED_BUDGET_K = 1e-4


def draw() -> Draw:
    """Apparent temperatures and settings, each reading with its own of everything."""
    rng = np.random.default_rng(SEED)
    surface_c = rng.uniform(-20.0, 500.0, READINGS)
    optics = Optics(
        emissivity=rng.uniform(0.3, 1.0, READINGS),
        reflected_c=rng.uniform(-10.0, 50.0, READINGS),
        transmission=rng.uniform(0.8, 1.0, READINGS),
        air_c=rng.uniform(-10.0, 45.0, READINGS),
    )
    return apparent_temperature(surface_c, optics).value, optics


def by_array_function(celsius: float) -> float:
    return float(exact_band_radiance(celsius))


def by_plain_python(celsius: float) -> float:
    """The same series in ``math`` alone: the least a loop can cost."""
    kelvin = celsius + ZERO_C
    share = 0.0
    for edge_um, sign in ((BAND_8_14.upper_um, 1.0), (BAND_8_14.lower_um, -1.0)):
        x = C2 * 1e6 / (edge_um * kelvin)
        for n in range(math.ceil(38.0 / x), 0, -1):
            share += sign * math.exp(-n * x) * (((x / n + 3 / n**2) * x + 6 / n**3) * x + 6 / n**4)
    return SIGMA * kelvin**4 / math.pi * 15.0 / math.pi**4 * share


def loop(drawn: Draw, radiance: Callable[[float], float]) -> list[float]:
    """One root a reading, for the first of them."""
    found = []
    settings = zip(drawn[0], *(np.asarray(part) for part in drawn[1][:4]), strict=True)
    for _, (seen, eps, reflected, tau, air) in zip(range(LOOPED), settings, strict=False):
        others = tau * (1 - eps) * radiance(reflected) + (1 - tau) * radiance(air)
        own = (radiance(seen) - others) / (tau * eps)
        found.append(brentq(lambda t, own=own: radiance(t) - own, -99.0, 999.0, xtol=1e-9))
    return found


def seconds(work: Callable[[], object]) -> float:
    """Processor time: what else runs on the machine does not count. Neither side uses threads."""
    begun = process_time()
    work()
    return process_time() - begun


def inversions() -> dict[str, float]:
    """How many times faster a million at once are than the loop, a reading."""
    drawn = draw()
    ours = surface_temperature(*drawn).value_c[:LOOPED]
    for radiance in (by_array_function, by_plain_python):
        worst = float(np.abs(np.array(loop(drawn, radiance)) - ours).max())
        if not worst < ALLOWED_K:
            raise AssertionError(f"{radiance.__name__}: temperatures differ by {worst} K")
    spent = [
        (
            seconds(lambda: surface_temperature(*drawn)) / READINGS,
            seconds(lambda: loop(drawn, by_array_function)) / LOOPED,
            seconds(lambda: loop(drawn, by_plain_python)) / LOOPED,
        )
        for _ in range(TURNS)
    ]
    once, looped, lean = (min(column) for column in zip(*spent, strict=True))
    return {
        "inversion_ratio": round(looped / once, 1),
        "inversion_lean_ratio": round(lean / once, 1),
        "us_per_inversion": round(once * 1e6, 4),
        "loop_us_per_inversion": round(looped * 1e6, 1),
        "lean_loop_us_per_inversion": round(lean * 1e6, 1),
    }


def draw_budgets() -> BudgetDraw:
    """Apparent temperatures, settings, air and currents of loaded parts."""
    rng = np.random.default_rng(SEED)
    ambient_c = rng.uniform(0.0, 40.0, READINGS)
    optics = Optics(
        emissivity=rng.uniform(0.5, 0.95, READINGS),
        reflected_c=ambient_c + rng.uniform(-5.0, 5.0, READINGS),
        transmission=rng.uniform(0.95, 0.99, READINGS),
        air_c=ambient_c,
    )
    surface_c = ambient_c + rng.uniform(2.0, 80.0, READINGS)
    apparent_c = apparent_temperature(surface_c, optics).value
    return apparent_c, optics, ambient_c, rng.uniform(40.0, 120.0, READINGS)


def budgets_at_once(drawn: BudgetDraw, many: int = READINGS) -> list[Budget]:
    """Rise over air at a common load of 100 A with u and nine lines each, block by block."""
    apparent, optics, ambient, amps = drawn
    given, found = Assumptions(), []
    for start in range(0, many, BUDGET_BLOCK):
        at = slice(start, min(start + BUDGET_BLOCK, many))
        settings = Optics(*(np.asarray(part)[at] if np.ndim(part) else part for part in optics))
        rise = over_air_terms(apparent[at], settings, ambient_c=ambient[at], assumptions=given)
        found.append(budget_of(terms_at_common_load(rise, amps[at], common_load_a=100.0, assumptions=given)))
    return found


def budgets() -> dict[str, float]:
    """How many times faster a million budgets are than the loop, a budget."""
    drawn = draw_budgets()
    ours = budgets_at_once(drawn, LOOPED)[0]
    same = np.stack([ours.value, ours.u, *(ours.contributions[line] for line in LINES)], axis=-1)
    for way in (BY_ARRAY_FUNCTIONS, BY_PLAIN_PYTHON):
        worst = float(np.abs(np.array(list(budgets_one_by_one(drawn, LOOPED, way))) - same).max())
        if not worst < ALLOWED_BUDGET_K:
            raise AssertionError(f"budgets differ by {worst} K")
    spent = [
        (
            seconds(lambda: budgets_at_once(drawn)) / READINGS,
            *(
                seconds(lambda way=way: list(budgets_one_by_one(drawn, BUDGETS_LOOPED, way))) / BUDGETS_LOOPED
                for way in (BY_ARRAY_FUNCTIONS, BY_PLAIN_PYTHON)
            ),
        )
        for _ in range(TURNS)
    ]
    once, looped, lean = (min(column) for column in zip(*spent, strict=True))
    return {
        "budget_ratio": round(looped / once, 1),
        "budget_lean_ratio": round(lean / once, 1),
        "us_per_budget": round(once * 1e6, 4),
        "loop_us_per_budget": round(looped * 1e6, 1),
        "lean_loop_us_per_budget": round(lean * 1e6, 1),
    }


def peak() -> dict[str, float]:
    """Most memory that a fresh process holds which inverts a million and keeps a million budgets."""
    with get_context("spawn").Pool(1) as pool:
        return {"peak_mib": round(pool.apply(peak_of_a_million), 1)}


def peak_of_a_million() -> float:
    """High-water mark of this process [MiB]; of all it maps, libraries too."""
    surface_temperature(*draw())
    kept = budgets_at_once(draw_budgets())
    assert sum(block.u.size for block in kept) == READINGS
    status = Path("/proc/self/status")
    if status.exists():
        lines = dict(line.split(":", 1) for line in status.read_text().splitlines())
        return int(lines["VmHWM"].split()[0]) / 1024
    import resource
    import sys

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1024**2 if sys.platform == "darwin" else 1024)


#: each measures some figures by itself
FIGURES: tuple[Callable[[], dict[str, float]], ...] = (inversions, budgets, peak)


def main() -> dict[str, float]:
    """Print the figures and write var/bench/physics.json."""
    print(f"{READINGS:,} readings, one core; loops timed on {LOOPED}, least of {TURNS} turns")
    figures: dict[str, float] = {}
    for measure in FIGURES:
        found = measure()
        for name, figure in found.items():
            print(f"{name:<30}{figure:>12g}  {GOALS.get(name, '')}", flush=True)
        figures |= found
    OUT.parent.mkdir(parents=True, exist_ok=True)
    OUT.write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")
    return figures


if __name__ == "__main__":
    main()
