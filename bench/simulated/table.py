"""One table: every detector at one false flag per 100 healthy point-years, and how the dates held."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from bench.simulated.drawn import ACCELERATING, LINEAR, STEPPED, Bools, Fleet, Floats, Ints
from bench.simulated.forecasts import Forecasts, forecasts
from bench.simulated.peers import least_squares, mann_kendall
from bench.simulated.replay import Replay, false_flags, faulty, leads, line_at, replay, scores_of
from bench.simulated.two_phases import TwoPhases, two_phases
from bench.simulated.worlds import bearings, like_parts, over_air
from service.trends.evidence import Scores
from service.trends.stages import (
    BEARINGS,
    CONFIRMED,
    FIRST_SIGN,
    LIKE_PARTS,
    OVER_AIR,
    Lines,
    margins,
    stages,
)

OURS = "ours"
#: Bootstrap over sites.
RESAMPLES = 400
FORECASTS = 500


@dataclass(frozen=True, slots=True)
class World:
    """A kind of reference, its fleets to report on, and their size.

    ``seeds`` were not looked at when lines and priors were chosen; those used for tuning are 101,
    1101, 1102 and 2101, and 202, 1202 and 2202 were seen while the worlds were being written. They
    were first run on 28 November 2026, with lines and priors as they stood; the prior of bearings was
    changed after that (on 2101 alone), which 2912, run once since, is the clean check of. Later that
    day how long faults last was set anew (``worlds.py``, on 101, 1101 and 2101): other fleets come of
    the same seeds. Lines, what is asked of points that are read often and the score of a first sign
    were then chosen on 101, 1101, 1102 and 2101; those reported were seen once between (first signs by
    sureness), before two phases at once and the form of bearings were settled on 1101, 1102 and 2101.
    912 and 1912 were kept for one last look and run once that evening, the score unchanged since: lead
    27.3 months and 0.6 % missed over air, 17.0 and 9.0 over like parts (13.1 % of two phases at once).
    The priors of the date followed on 101, 121 and 122; 1101, 1102, 1121 and 1122; 2101, 2121 and 2122
    (350 visits of each): of a grid over weights of the powers, width of a jump, share that never goes
    on, near dates, blur and ends those of the least squared gaps of the bins of 80 and more and
    shortfalls of the ranges, of near ties the better Brier score; those reported were looked at once after.
    """

    name: str
    prefix: str
    draw: Callable[..., Fleet]
    lines: Lines
    seeds: tuple[int, ...]
    sites: int


WORLDS = (
    World("over air", "", over_air, OVER_AIR, (909, 910, 911), 80),
    World("over like parts", "like_", like_parts, LIKE_PARTS, (1909, 1910, 1911), 60),
    World("bearings", "bearing_", bearings, BEARINGS, (2909, 2910, 2911), 60),
)


@dataclass(frozen=True, slots=True)
class Row:
    """How one detector did on one fleet."""

    detector: str
    line: float
    false_flags: float
    lead_months: float
    missed_share: float
    by_fault: tuple[float, float, float]
    leads: Floats


@dataclass(frozen=True, slots=True)
class Report:
    """One fleet: every detector, what ours gains on each, and the dates."""

    seed: int
    rows: tuple[Row, ...]
    paired: dict[str, tuple[float, float, float]]
    dates: Forecasts
    two: TwoPhases | None = None


def report(world: World, seed: int) -> Report:
    """Draw a fleet, replay it, and score every detector on it."""
    fleet = world.draw(seed, sites=world.sites)
    replayed = replay(fleet, world.lines)
    scores = scores_of(replayed, world.lines)
    points = faulty(fleet)
    detectors = _detectors(fleet, replayed, scores, world)
    rows = [_at_one(fleet, name, score, tall, points) for name, score, tall in detectors]
    stage = replayed.on_table(stages(scores, replayed.episodes, world.lines), fleet)
    rows.append(
        _row(fleet, "shipped: first sign or confirmed", world.lines.line, stage >= FIRST_SIGN, points)
    )
    rows.append(_row(fleet, "shipped: confirmed", world.lines.again, stage >= CONFIRMED, points))
    rows.append(_row(fleet, "perfect (first visit after onset)", np.nan, _after_onset(fleet), points))
    ours = next(row for row in rows if row.detector == OURS)
    site = fleet.site[points]
    paired = {row.detector: _paired(ours.leads - row.leads, site, seed) for row in rows[:4]}
    told = forecasts(
        fleet, replayed, scores, world.lines, flagged=stage >= CONFIRMED, most=FORECASTS, seed=seed
    )
    two = None
    if world.lines is LIKE_PARTS:
        margin, tall = next(rest for name, *rest in detectors if name == OURS)
        with np.errstate(invalid="ignore"):
            two = two_phases(fleet, (margin > ours.line) & tall)
    return Report(seed, tuple(rows), paired, told, two)


def _detectors(
    fleet: Fleet, replayed: Replay, scores: Scores, world: World
) -> list[tuple[str, Floats, Bools]]:
    margin = replayed.on_table(margins(scores, replayed.episodes, world.lines), fleet)
    with np.errstate(invalid="ignore"):
        tall = replayed.on_table(scores.rise_k, fleet) >= world.lines.least_rise_k
    return [
        ("rise as measured, fixed line", fleet.measured_k, fleet.read),
        ("rise at common load, fixed line", _over_usual(fleet, world), fleet.read),
        ("ordinary least squares", least_squares(fleet, replayed, fleet.common_k), fleet.read),
        ("Mann-Kendall, last 12", mann_kendall(fleet, replayed, fleet.common_k), fleet.read),
        (OURS, margin, tall),
    ]


def _over_usual(fleet: Fleet, world: World) -> Floats:
    """The figure a fixed line is laid on: for bearings the rise over the first three visits."""
    if world.lines is not BEARINGS:
        return fleet.common_k
    result = np.full_like(fleet.common_k, np.nan)
    for point in range(len(fleet.site)):
        for cut in np.unique(fleet.episode[point]):
            visits = np.flatnonzero(fleet.read[point] & (fleet.episode[point] == cut))
            if visits.size:
                rises = fleet.common_k[point, visits]
                result[point, visits] = rises - np.median(rises[:3])
    return result


def _after_onset(fleet: Fleet) -> Bools:
    with np.errstate(invalid="ignore"):
        after: Bools = (fleet.years > fleet.truth.onset[:, None]) & (fleet.truth.fault > 0)[:, None]
    return after


def _at_one(fleet: Fleet, name: str, score: Floats, tall: Bools, points: Ints) -> Row:
    line = line_at(fleet, score, tall)
    with np.errstate(invalid="ignore"):
        return _row(fleet, name, line, (score > line) & tall, points)


def _row(fleet: Fleet, name: str, line: float, flagged: Bools, points: Ints) -> Row:
    months, missed = leads(fleet, flagged, points)
    fault = fleet.truth.fault[points]
    lines = tuple(float(np.median(months[fault == kind])) for kind in (LINEAR, ACCELERATING, STEPPED))
    return Row(
        name,
        line,
        false_flags(fleet, flagged),
        float(np.median(months)),
        float(missed.mean()),
        (lines[0], lines[1], lines[2]),
        months,
    )


def _paired(gain: Floats, site: Ints, seed: int) -> tuple[float, float, float]:
    """Median of the paired gains, with its 90 % interval by resampling sites [months]."""
    rng = np.random.default_rng(seed)
    of_site = [gain[site == one] for one in np.unique(site)]
    drawn = [
        np.median(np.concatenate([of_site[k] for k in rng.integers(0, len(of_site), len(of_site))]))
        for _ in range(RESAMPLES)
    ]
    low, high = np.quantile(drawn, (0.05, 0.95))
    return float(np.median(gain)), float(low), float(high)


# ---- in words ---------------------------------------------------------------------------------------


def told(world: World, found: Report) -> str:
    """The table of one fleet."""
    head = f"{world.name}, seed {found.seed}: at 1.0 false flag per 100 healthy point-years"
    lines = [
        head,
        f"  {'detector':<36}{'line':>7}{'false':>7}{'lead':>7}{'missed':>8}   linear · faster · step",
    ]
    for row in found.rows:
        kinds = " · ".join(f"{months:.1f}" for months in row.by_fault)
        lines.append(
            f"  {row.detector:<36}{row.line:>7.2f}{row.false_flags:>7.2f}{row.lead_months:>7.1f}"
            f"{100 * row.missed_share:>7.1f}%   {kinds}"
        )
    for name, (middle, low, high) in found.paired.items():
        lines.append(f"  gain over {name}: {middle:.1f} months ({low:.1f} to {high:.1f})")
    if found.two is not None:
        lines.append(
            f"  two phases at once: {found.two.views} views, missed {100 * found.two.missed_alone:.1f} %,"
            f" with the view over air {100 * found.two.missed_with_air:.1f} %"
            f" (adds {found.two.extra_false_flags:.2f} false flags per 100 view-years)"
        )
    dates = found.dates
    kinds = ", ".join(
        f"{100 * dates.coverage(dates.fault == k):.0f}" for k in (LINEAR, ACCELERATING, STEPPED)
    )
    lines.append(
        f"  dates of {len(dates.left)} confirmed visits ({int(dates.real.sum())} real): held"
        f" {100 * dates.coverage():.0f} % (by kind {kinds}; last six months"
        f" {100 * dates.coverage(dates.left < 0.5):.0f}); came early {100 * dates.late_misses():.0f} %"
    )
    bins = "  ".join(
        f"{stated:.2f}/{happened:.2f} ({count})" for stated, happened, count in dates.reliability()
    )
    lines.append(f"  chance within 12 months, stated/happened: {bins}")
    return "\n".join(lines)


def figures(world: World, reports: list[Report]) -> dict[str, float]:
    """Means over the fleets, and the worst of them."""
    ours = [next(row for row in found.rows if row.detector == OURS) for found in reports]
    covered = [found.dates.coverage() for found in reports]
    return {
        f"{world.prefix}lead_months": round(float(np.mean([row.lead_months for row in ours])), 2),
        f"{world.prefix}lead_months_worst": round(min(row.lead_months for row in ours), 2),
        f"{world.prefix}missed_share": round(float(np.mean([row.missed_share for row in ours])), 4),
        f"{world.prefix}missed_share_worst": round(max(row.missed_share for row in ours), 4),
        f"{world.prefix}coverage_90": round(float(np.mean(covered)), 3),
        f"{world.prefix}coverage_90_worst": round(min(covered), 3),
    }


def lines_of(world: World, found: Report) -> list[dict[str, object]]:
    """Every row of one fleet, with what ours gains on it [months: middle, low, high]."""
    lines: list[dict[str, object]] = [
        {
            "world": world.name,
            "seed": found.seed,
            "detector": row.detector,
            "line": round(row.line, 3),
            "false_flags": round(row.false_flags, 3),
            "lead_months": round(row.lead_months, 2),
            "missed_share": round(row.missed_share, 4),
            "lead_by_fault": [round(months, 2) for months in row.by_fault],
            "ours_gains": [round(months, 2) for months in found.paired.get(row.detector, ())],
        }
        for row in found.rows
    ]
    dates = found.dates
    lines.append(
        {
            "world": world.name,
            "seed": found.seed,
            "dates_held": round(dates.coverage(), 3),
            "by_fault": [round(dates.coverage(dates.fault == k), 3) for k in (LINEAR, ACCELERATING, STEPPED)],
            "last_six_months": round(dates.coverage(dates.left < 0.5), 3),
            "chance_12": [list(one) for one in dates.reliability()],
        }
    )
    return lines
