"""The three worlds: points over air, like parts over their median, bearings over their baseline.

Everything in them is invented; scatter, slips and shares are common practice, no source. Loads
were set once, on the tuning seeds, by how plain fixed lines and the stated uncertainties came out.
How long faults last was set again, on the same seeds, by what a perfect detector would reach, told
beside the study of trends for each world (34.9, 34.5 and 27.1 months): even between its ends and no
longer than 0.6 of the time watched gives 34.9, 34.8 and 26.9, where a log-normal law of the same
median, which stood here before, gave 33.0, 32.0 and 25.7. Over air faults begin after a fifth of the
time watched (yearly routes miss few there); elsewhere after a twentieth.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from bench.simulated.drawn import (
    ACCELERATING,
    BLOWN,
    DROPPED,
    HEALTHY,
    LINEAR,
    REPAIRED,
    WANDERING,
    Bools,
    Fleet,
    Floats,
    Ints,
    Truth,
    joined,
)

#: Months between rounds: how many rounds are walked, and how usual that is.
EVERY = {1: (60, 0.20), 3: (40, 0.35), 6: (24, 0.30), 12: (12, 0.15)}
#: Exponent that loads are brought to common load with; the true one is drawn from 1.6 to 2.0.
EXPONENT = 1.8
_MISSED = 0.08


def over_air(seed: int, *, sites: int) -> Fleet:
    """Forty points a site; the camera's offset and the air's error are shared by a round."""
    rng = np.random.default_rng(seed)
    return joined([_air_site(rng, site) for site in range(sites)])


def like_parts(seed: int, *, sites: int, scatter_k: float = 0.5, mean_load: float = 0.65) -> Fleet:
    """Fourteen views of three phases a site: each less the median of the three."""
    rng = np.random.default_rng(seed)
    return joined([_like_site(rng, site, scatter_k, mean_load) for site in range(sites)])


def bearings(seed: int, *, sites: int) -> Fleet:
    """Forty bearings a site, greased now and then; load and season act, and are not scaled away."""
    rng = np.random.default_rng(seed)
    return joined([_bearing_site(rng, site) for site in range(sites)])


# ---- what the worlds share ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Faults:
    kind: Ints
    onset: Floats
    lasts: Floats


def _dates(rng: np.random.Generator, months: int) -> Floats:
    rounds, step = EVERY[months][0], months / 12
    dates: Floats = np.arange(rounds) * step + rng.uniform(-0.2, 0.2, rounds) * step
    return dates


def _interval(rng: np.random.Generator) -> int:
    return int(rng.choice(list(EVERY), p=[share for _, share in EVERY.values()]))


def _faults(
    rng: np.random.Generator,
    count: int,
    span: float,
    *,
    share: float,
    ends: tuple[float, float],
    earliest: float = 0.05,
) -> _Faults:
    """Faults that last evenly between two ends, or most of what is watched where that is less.

    ``earliest`` is the first onset as a share of the time watched.
    """
    kind = np.where(rng.random(count) < share, rng.integers(LINEAR, 4, count), HEALTHY)
    lasts = np.minimum(rng.uniform(*ends, count), 0.6 * span)
    onset = rng.uniform(earliest * span, span - lasts)
    return _Faults(kind, onset, lasts)


def _way(x: Floats, kind: Ints, step: Floats, pace: Floats) -> Floats:
    """Share of the way from onset (x = 0) to the limit (x = 1); it goes on past 1."""
    late = np.maximum(x, 0.0)
    faster = np.expm1(pace * (0.25 * late + 0.75 * late**2)) / np.expm1(pace)
    stepped = step + (1 - step) * late
    share = np.where(kind == LINEAR, late, np.where(kind == ACCELERATING, faster, stepped))
    way: Floats = np.where((x > 0) & (kind != HEALTHY), np.minimum(share, 2.0), 0.0)
    return way


def _slips(rng: np.random.Generator, shape: tuple[int, ...]) -> Floats:
    """Two readings in a hundred were taken with a wrong emissivity."""
    factor = np.where(rng.random(shape) < 0.5, rng.uniform(0.55, 0.85, shape), rng.uniform(1.2, 1.6, shape))
    slips: Floats = np.where(rng.random(shape) < 0.02, factor, 1.0)
    return slips


def _typed(rng: np.random.Generator, load: Floats) -> Floats:
    """Load as it was written down: 3 % off, and one in a hundred wrong."""
    wrong = np.where(rng.random(load.shape) < 0.5, 0.75, 1.35)
    slip = np.where(rng.random(load.shape) < 0.01, wrong, 1.0)
    typed: Floats = load * (1 + rng.normal(0, 0.03, load.shape)) * slip
    return typed


def _loads(
    rng: np.random.Generator,
    dates: Floats,
    count: int,
    *,
    base: tuple[float, float],
    ends: tuple[float, float],
) -> Floats:
    """Load over common load, shared by four neighbours, with a yearly swing."""
    groups = -(-count // 4)
    swing = rng.uniform(0, 0.12, (groups, 1)) * np.sin(2 * np.pi * (dates + rng.random((groups, 1))))
    load = rng.uniform(*base, (groups, 1)) + swing + rng.normal(0, 0.10, (groups, len(dates)))
    return np.repeat(np.clip(load, *ends), 4, axis=0)[:count]


def _season(rng: np.random.Generator, dates: Floats, shape: tuple[int, ...], most: float) -> Floats:
    season: Floats = 1 + rng.uniform(0, most, shape) * np.sin(2 * np.pi * (dates + rng.random(shape)))
    return season


def _wander(
    rng: np.random.Generator, dates: Floats, shape: tuple[int, ...], k_per_root_year: float
) -> Floats:
    steps = rng.normal(0, k_per_root_year, shape) * np.sqrt(np.maximum(np.diff(dates, prepend=dates[0]), 0))
    return np.cumsum(steps, axis=-1)


def _usual(
    rng: np.random.Generator, true: Floats, dates: Floats, faults: _Faults, mended: tuple[float, float]
) -> tuple[Floats, Ints, Ints]:
    """What happens to healthy points: recorded repairs, unrecorded drops, harmless wander."""
    count = len(true)
    draw = rng.random(count)
    nuisance = np.select([draw < 0.10, draw < 0.15, draw < 0.20], [REPAIRED, DROPPED, WANDERING], 0)
    nuisance = np.where(faults.kind == HEALTHY, nuisance, 0)
    after = dates > (rng.uniform(0.2, 0.8, count) * dates[-1])[:, None]
    kept, dropped = rng.uniform(*mended, (count, 1)), rng.uniform(0.4, 0.7, (count, 1))
    changed = np.where(after & (nuisance == REPAIRED)[:, None], true * kept, true)
    changed = np.where(after & (nuisance == DROPPED)[:, None], changed * dropped, changed)
    changed += np.where((nuisance == WANDERING)[:, None], _wander(rng, dates, true.shape, 0.6), 0.0)
    return changed, (after & (nuisance == REPAIRED)[:, None]).astype(np.int64), nuisance


def _truth(
    faults: _Faults, nuisance: Ints, span: float, limit_k: float, second: Bools | None = None
) -> Truth:
    count = len(faults.kind)
    return Truth(
        fault=faults.kind,
        onset=faults.onset,
        limit=faults.onset + faults.lasts,
        nuisance=nuisance,
        second=np.zeros(count, dtype=bool) if second is None else second,
        span=np.full(count, span),
        limit_k=np.full(count, limit_k),
    )


def _alone(site: int, months: int, dates: Floats, common: Floats) -> dict[str, Any]:
    """What points that have no like part share: place, dates of what was read, and one rise for both."""
    count = len(common)
    return {
        "site": np.full(count, site),
        "view": np.full(count, -1),
        "months": np.full(count, months),
        "years": np.where(np.isfinite(common), dates, np.nan),
        "common_k": common,
        "air_k": common,
    }


# ---- over air ----------------------------------------------------------------------------------


def _air_site(rng: np.random.Generator, site: int, count: int = 40, limit_k: float = 50.0) -> Fleet:
    months = _interval(rng)
    dates = _dates(rng, months)
    span = float(dates[-1] - dates[0])
    faults = _faults(rng, count, span, share=0.15, ends=(1.0, 6.0), earliest=0.2)
    healthy_k = np.clip(np.exp(rng.normal(np.log(8), 0.5, (count, 1))), 2, 22)
    step = rng.uniform(6, 22, (count, 1)) / (limit_k - healthy_k)
    x = (dates - faults.onset[:, None]) / faults.lasts[:, None]
    way = _way(x, faults.kind[:, None], step, rng.uniform(1.2, 3.0, (count, 1)))
    true, episode, nuisance = _usual(rng, healthy_k + (limit_k - healthy_k) * way, dates, faults, (0.5, 1.0))
    load = _loads(rng, dates, count, base=(0.42, 0.90), ends=(0.4, 1.1))
    air = (1 + rng.normal(0, 0.05, len(dates))) * _season(rng, dates, (count, 1), 0.07)
    seen = (1 + rng.normal(0, 0.02, true.shape)) * _slips(rng, true.shape)
    camera = np.clip(rng.normal(0, 1, len(dates)), -2, 2)
    measured = true * load ** rng.uniform(1.6, 2.0, (count, 1)) * air * seen + camera
    measured += rng.normal(0, 0.5, true.shape)
    measured[rng.random(true.shape) < _MISSED] = np.nan
    typed = np.maximum(_typed(rng, load), 0.4)
    scale = typed**-EXPONENT
    common = measured * scale
    stated = np.exp(rng.normal(0, 0.25))
    own = np.sqrt((0.5 * scale) ** 2 + common**2 * ((EXPONENT * 0.03) ** 2 + 0.05**2 + 0.03**2))
    return Fleet(
        **_alone(site, months, dates, common),
        measured_k=measured,
        load=typed,
        u_own_k=stated * own,
        u_shared_k=stated * scale,
        episode=episode,
        truth=_truth(faults, nuisance, span, limit_k),
    )


# ---- like parts --------------------------------------------------------------------------------


def _like_site(
    rng: np.random.Generator,
    site: int,
    scatter_k: float,
    mean_load: float,
    views: int = 14,
    limit_k: float = 15.0,
) -> Fleet:
    months = _interval(rng)
    dates = _dates(rng, months)
    span, shape = float(dates[-1] - dates[0]), (views, 3, len(dates))
    true, bad, faults, second = _faulty_views(rng, dates, views, span, limit_k)
    true, episode, nuisance = _usual_views(rng, true, dates, bad)
    over_air, typed = _phases_read(rng, true, dates, scatter_k, mean_load)
    scale = np.maximum(typed, 0.4)[:, None] ** -EXPONENT
    measured = over_air - np.median(over_air, axis=1, keepdims=True)
    common, at_common_air = measured * scale, over_air * scale
    stated = np.exp(rng.normal(0, 0.25))
    # a difference: half a variance more than that of one reading, 0.35 K^2
    own = np.sqrt(1.5 * 0.35 * scale**2 + (common * EXPONENT * 0.03) ** 2 + (0.02 * at_common_air) ** 2)

    def flat(values: Floats) -> Floats:
        return np.ascontiguousarray(np.broadcast_to(values, shape)).reshape(views * 3, -1)

    count = views * 3
    return Fleet(
        site=np.full(count, site),
        view=np.repeat(np.arange(views) + site * views, 3),
        months=np.full(count, months),
        years=np.where(np.isfinite(flat(common)), dates, np.nan),
        measured_k=flat(measured),
        common_k=flat(common),
        air_k=flat(at_common_air),
        load=flat(typed[:, None]),
        u_own_k=flat(stated * own),
        u_shared_k=np.zeros((count, len(dates))),
        episode=np.repeat(episode, 3, axis=0),
        truth=_truth(faults, nuisance.reshape(count), span, limit_k, second),
    )


def _faulty_views(
    rng: np.random.Generator, dates: Floats, views: int, span: float, limit_k: float
) -> tuple[Floats, Bools, _Faults, Bools]:
    """True rises of the phases at common load, views with a fault, faults and weaker phases by point."""
    own_k = np.clip(np.exp(rng.normal(np.log(8), 0.5, (views, 1))), 2, 22)
    own_k = own_k + rng.normal(0, rng.uniform(0.3, 1.0, (views, 1)), (views, 3))
    bad = rng.random(views) < 5 / 14
    of_view = _faults(rng, views, span, share=1.0, ends=(1.0, 6.0))
    two = bad & (rng.random(views) < 0.2)
    kind = np.zeros((views, 3), dtype=np.int64)
    kind[:, 0] = np.where(bad, of_view.kind, HEALTHY)
    kind[:, 1] = np.where(two, of_view.kind, HEALTHY)
    x = ((dates - of_view.onset[:, None]) / of_view.lasts[:, None])[:, None]
    step, pace = rng.uniform(2, 8, (views, 1, 1)) / limit_k, rng.uniform(1.2, 3.0, (views, 1, 1))
    way = _way(x, kind[:, :, None], step, pace)
    way[:, 1] *= rng.uniform(0.5, 1.0, (views, 1))
    second = np.zeros((views, 3), dtype=bool)
    second[:, 1] = two
    faults = _Faults(kind.ravel(), np.repeat(of_view.onset, 3), np.repeat(of_view.lasts, 3))
    return own_k[:, :, None] + limit_k * way, bad, faults, second.ravel()


def _phases_read(
    rng: np.random.Generator, true: Floats, dates: Floats, scatter_k: float, mean_load: float
) -> tuple[Floats, Floats]:
    """Rises over air as read, NaN where a view was missed or too lightly loaded; load as typed."""
    views, _, rounds = true.shape
    shape = (views, 3, rounds)
    usual = _loads(rng, dates, views, base=(mean_load - 0.15, mean_load + 0.15), ends=(0.3, 1.0))
    load = np.clip(usual + rng.normal(0, 0.12, (views, rounds)), 0.3, 1.0)
    amps = load[:, None] * (1 + rng.normal(0, 0.015, (views, 3, 1))) * _unequal(rng, shape)
    seen = (1 + rng.normal(0, 0.02, shape)) * _slips(rng, shape)
    wind = 1 + rng.normal(0, 0.05, (views, 1, rounds))
    over_air = true * amps ** rng.uniform(1.6, 2.0, (views, 1, 1)) * seen * wind
    over_air *= _season(rng, dates, (views, 3, 1), 0.02)
    camera = np.sqrt(0.9) * rng.normal(0, 1, rounds)
    over_air += camera + rng.normal(0, np.hypot(np.sqrt(0.1), scatter_k), shape)
    typed = _typed(rng, load)
    gone = (rng.random(load.shape) < _MISSED) | (typed < 0.4)
    over_air[np.broadcast_to(gone[:, None], shape)] = np.nan
    return over_air, typed


def _unequal(rng: np.random.Generator, shape: tuple[int, int, int]) -> Floats:
    """At one visit in ten one phase carries a tenth more or less, and nobody knows."""
    views, _, rounds = shape
    factor = np.ones(shape)
    view, at = np.nonzero(rng.random((views, rounds)) < 0.10)
    factor[view, rng.integers(0, 3, len(view)), at] += rng.choice((-0.1, 0.1), len(view))
    return factor


def _usual_views(
    rng: np.random.Generator, true: Floats, dates: Floats, bad: Bools
) -> tuple[Floats, Ints, Ints]:
    """What happens to healthy views: repairs that even them out, drops, wander, a blown fuse."""
    views, _, rounds = true.shape
    draw = rng.random(views)
    kind = np.select(
        [draw < 0.10, draw < 0.15, draw < 0.22, draw < 0.27], [REPAIRED, DROPPED, WANDERING, BLOWN], 0
    )
    kind = np.where(bad, 0, kind)
    one = np.arange(3) == rng.integers(0, 3, views)[:, None]
    nuisance = np.where(one | (kind == REPAIRED)[:, None], kind[:, None], 0)
    after = dates > (rng.uniform(0.2, 0.8, views) * dates[-1])[:, None]
    fresh = 0.9 * true[:, :, :1].mean(axis=1, keepdims=True) + rng.normal(0, 0.5, (views, 3, 1))
    changed = np.where(after[:, None] & (nuisance == REPAIRED)[:, :, None], fresh, true)
    drop = np.where(
        after[:, None] & (nuisance == DROPPED)[:, :, None], rng.uniform(1.5, 4.0, (views, 3, 1)), 0.0
    )
    changed = changed - drop
    changed += np.where((nuisance == WANDERING)[:, :, None], _wander(rng, dates, true.shape, 0.4), 0.0)
    begins = rng.integers(1, rounds, views)[:, None]
    cold = (np.arange(rounds) >= begins) & (np.arange(rounds) < begins + rng.integers(1, 3, (views, 1)))
    changed = np.where((nuisance == BLOWN)[:, :, None] & cold[:, None], 0.3, np.maximum(changed, 0.3))
    return changed, (after & (kind == REPAIRED)[:, None]).astype(np.int64), nuisance


# ---- bearings ----------------------------------------------------------------------------------


def _bearing_site(rng: np.random.Generator, site: int, count: int = 40, limit_k: float = 40.0) -> Fleet:
    months = int(rng.choice((1, 3, 6), p=(0.4, 0.4, 0.2)))
    dates = _dates(rng, months)
    span = float(dates[-1] - dates[0])
    faults = _faults(rng, count, span, share=0.15, ends=(0.75, 4.0))
    healthy_k = np.clip(np.exp(rng.normal(np.log(18), 0.4, (count, 1))), 7, 45)
    x = (dates - faults.onset[:, None]) / faults.lasts[:, None]
    step = rng.uniform(6, 18, (count, 1)) / limit_k
    way = _way(x, faults.kind[:, None], step, rng.uniform(1.2, 3.0, (count, 1)))
    true, episode, nuisance = _usual(rng, healthy_k + limit_k * way, dates, faults, (0.8, 1.0))
    load = _loads(rng, dates, count, base=(0.42, 0.90), ends=(0.4, 1.1))
    works = (1 + rng.uniform(0, 0.8, (count, 1)) * (load - 0.75)) * _season(rng, dates, (count, 1), 0.10)
    greased = np.where(rng.random(true.shape) < 0.02, rng.uniform(9, 18, true.shape), 0.0)
    seen = (1 + rng.normal(0, 0.02, true.shape)) * _slips(rng, true.shape)
    air = 1 + rng.normal(0, 0.05, len(dates))
    camera = np.clip(rng.normal(0, 1, len(dates)), -2, 2)
    measured = (true * works + greased) * seen * air + camera + rng.normal(0, 0.7, true.shape)
    measured[rng.random(true.shape) < _MISSED] = np.nan
    stated = np.exp(rng.normal(0, 0.25))
    return Fleet(
        **_alone(site, months, dates, measured),
        measured_k=measured,
        load=np.ones_like(measured),
        u_own_k=stated * np.sqrt(0.7**2 + measured**2 * (0.05**2 + 0.03**2)),
        u_shared_k=stated * np.ones_like(measured),
        episode=episode,
        truth=_truth(faults, nuisance, span, limit_k),
    )
