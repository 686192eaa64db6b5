"""The trend engine: its speed against a loop over the reference libraries, and how early it is right."""

import json
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import numpy as np
import pymannkendall
from scipy import stats

from bench.simulated.table import WORLDS, figures, lines_of, report, told
from bench.trend_scale import scale
from service.trends.bank import surest_shape
from service.trends.engine import assess
from service.trends.fits import fit
from service.trends.policy import OVER_LIKE_PARTS
from service.trends.series import SeriesBlock

SERIES, VISITS, LOOPED, SEED = 100_000, 24, 400, 20_261
OUT = Path(__file__).resolve().parents[1] / "var" / "bench" / "trends.json"


def draw(series: int = SERIES) -> SeriesBlock:
    """Series with irregular dates and 8 % of visits missed."""
    rng = np.random.default_rng(SEED)
    days = np.sort(rng.uniform(0, 1500, (series, VISITS)), axis=1)
    rise_k = rng.normal(8, 2, days.shape)
    rise_k[rng.random(days.shape) < 0.08] = np.nan
    unknown = np.full(days.size, np.nan)
    return SeriesBlock(
        ids=np.arange(series),
        offsets=np.arange(series + 1) * VISITS,
        days=days.ravel(),
        rise_k=rise_k.ravel(),
        u_own_k=unknown,
        episode=np.zeros(days.size, dtype=np.int64),
        load_ratio=unknown,
    )


def best_of(times: int, work: Callable[[], object]) -> float:
    """Least seconds of some runs."""
    spent = []
    for _ in range(times):
        begun = perf_counter()
        work()
        spent.append(perf_counter() - begun)
    return min(spent)


def loop(block: SeriesBlock) -> list[tuple[float, float, float, float, float]]:
    """One call a series: scipy's slope with limits, pymannkendall's S and p."""
    found = []
    for k in range(LOOPED):
        at = slice(k * VISITS, (k + 1) * VISITS)
        days, rise_k = block.days[at], block.rise_k[at]
        kept = np.isfinite(rise_k)
        slope = stats.theilslopes(rise_k[kept], days[kept], 0.9)
        ranks = pymannkendall.original_test(rise_k[kept])
        found.append((slope.slope, slope.low_slope, slope.high_slope, ranks.s, ranks.p))
    return found


def largest_difference(block: SeriesBlock) -> float:
    """Largest difference of slope or limits from the loop [K/day]; S must be the same."""
    worst = 0.0
    for k, (slope, low, high, s, _) in enumerate(loop(block)):
        at = slice(k * VISITS, (k + 1) * VISITS)
        kept = np.isfinite(block.rise_k[at])
        one = fit(block.days[at][kept][None], block.rise_k[at][kept][None])
        if int(one.s[0]) != int(s):
            raise AssertionError(f"S differs from pymannkendall in series {k}")
        ours = (one.slope[0], one.slope_lo[0], one.slope_hi[0])
        worst = max(worst, *(abs(a - b) for a, b in zip(ours, (slope, low, high), strict=True)))
    if worst > 1e-12:
        raise AssertionError(f"slopes differ from scipy by {worst}")
    return worst


def main() -> dict[str, float]:
    """Print the tables and write var/bench/trends.json."""
    found, rows = speed() | scale(), []
    for world in WORLDS:
        reports = []
        for seed in world.seeds:
            reports.append(report(world, seed))
            print("\n" + told(world, reports[-1]), flush=True)
        found |= figures(world, reports)
        rows += [line for one in reports for line in lines_of(world, one)]
    OUT.parent.mkdir(parents=True, exist_ok=True)
    OUT.write_text(json.dumps(found | {"rows": rows}, indent=2) + "\n", encoding="utf-8")
    return found


def speed() -> dict[str, float]:
    """Time a series takes, against the loop."""
    block = draw()
    looped_us = best_of(3, lambda: loop(block)) / LOOPED * 1e6
    engine_us = best_of(5, lambda: assess(block, OVER_LIKE_PARTS)) / SERIES * 1e6
    days, rise_k = block.days.reshape(SERIES, VISITS), np.nan_to_num(block.rise_k.reshape(SERIES, VISITS))
    fit_us = best_of(5, lambda: fit(days, rise_k)) / SERIES * 1e6
    years, u_k = days / 365.25, np.full_like(days, 2.0)
    bank_us = best_of(3, lambda: surest_shape(years, rise_k, u_k)) / SERIES * 1e6

    print(f"{SERIES:,} series of {VISITS} visits, 8 % missed, one core; loop timed on {LOOPED}")
    print(f"{'way':<58}{'µs/series':>10}{'ratio':>8}")
    for way, cost in (
        ("loop: scipy theilslopes + pymannkendall original_test", looped_us),
        ("engine: both fits, words and figures (the door)", engine_us),
        ("engine: one fit of all 24 visits, no words", fit_us),
        ("shape bank, all onsets, three shapes, three fits", bank_us),
    ):
        print(f"{way:<58}{cost:>10.2f}{looped_us / cost:>8.0f}")
    worst = largest_difference(block)
    print(f"same S on {LOOPED}; largest difference of slope or limit {worst:.1e} K/day")
    return {
        "speed_ratio": round(looped_us / fit_us, 1),
        "ratio": round(looped_us / engine_us, 1),
        "us_per_series": round(engine_us, 3),
        "fit_us_per_series": round(fit_us, 3),
        "loop_us_per_series": round(looped_us, 1),
        "bank_us_per_series": round(bank_us, 2),
    }


if __name__ == "__main__":
    main()
