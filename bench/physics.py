"""A million readings brought to surface temperatures, against a root finder called one by one.

The loop is given the same band radiance: once as the array function of the service called with
single numbers, once as lean as plain Python allows. Both are timed on a sample, in the same run and
turn about with the service, and must find the same temperatures.
"""

import json
import math
from collections.abc import Callable
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter

import numpy as np
from scipy.optimize import brentq

from service.physics.optics import Optics
from service.physics.radiance import BAND_8_14, C2, SIGMA, ZERO_C, exact_band_radiance
from service.physics.surface import apparent_temperature, surface_temperature

READINGS, LOOPED, TURNS, SEED = 1_000_000, 200, 5, 20_263
GOALS = {"inversion_ratio": "≥ 1000", "peak_mib": "≤ 1024"}
OUT = Path(__file__).resolve().parents[1] / "var" / "bench" / "physics.json"
Draw = tuple[np.ndarray, Optics]
#: largest difference from the loop that is the spline's and not a fault [K]
ALLOWED_K = 2e-6


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
    begun = perf_counter()
    work()
    return perf_counter() - begun


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


def peak() -> dict[str, float]:
    """Most memory that a fresh process holds which draws and inverts a million."""
    with get_context("spawn").Pool(1) as pool:
        return {"peak_mib": round(pool.apply(peak_of_a_million), 1)}


def peak_of_a_million() -> float:
    """High-water mark of this process [MiB]; of all it maps, libraries too."""
    surface_temperature(*draw())
    status = Path("/proc/self/status")
    if status.exists():
        lines = dict(line.split(":", 1) for line in status.read_text().splitlines())
        return int(lines["VmHWM"].split()[0]) / 1024
    import resource
    import sys

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1024**2 if sys.platform == "darwin" else 1024)


#: each measures some figures by itself
FIGURES: tuple[Callable[[], dict[str, float]], ...] = (inversions, peak)


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
