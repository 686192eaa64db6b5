"""How the trend engine grows: time and memory at ten thousand, a hundred thousand and a million series."""

import json
import resource
import subprocess
import sys
from time import process_time
from typing import Any

SIZES = (10_000, 100_000, 1_000_000)
#: the resident size is told in KiB, on macOS in bytes
_PER_MIB = 1 << 20 if sys.platform == "darwin" else 1 << 10


def scale() -> dict[str, float]:
    """Assess each size in a process of its own, whose highest memory is its own too."""
    print(f"\n{'series of 24 visits':<22}{'s':>8}{'µs/series':>12}{'input MiB':>11}{'peak MiB':>10}")
    found: dict[str, float] = {}
    for size in SIZES:
        child = [sys.executable, "-m", "bench.trend_scale", str(size)]
        told = json.loads(subprocess.run(child, check=True, capture_output=True, text=True).stdout)
        cost = told["seconds"] / size * 1e6
        print(
            f"{size:<22,}{told['seconds']:>8.2f}{cost:>12.2f}{told['input_mib']:>11.0f}{told['peak_mib']:>10.0f}"
        )
        found[f"us_per_series_{size}"] = round(cost, 2)
        found[f"peak_mib_{size}"] = round(told["peak_mib"])
    return found


def _peak_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / _PER_MIB


def _measure(size: int) -> dict[str, Any]:
    """Processor seconds of one assessment, and memory with everything in it: libraries, input, results."""
    from bench.trends import draw
    from service.trends.engine import assess
    from service.trends.policy import OVER_LIKE_PARTS

    block = draw(size)
    before = _peak_mib()
    begun = process_time()
    assess(block, OVER_LIKE_PARTS)
    return {"seconds": process_time() - begun, "input_mib": before, "peak_mib": _peak_mib()}


if __name__ == "__main__":
    print(json.dumps(_measure(int(sys.argv[1]))))
