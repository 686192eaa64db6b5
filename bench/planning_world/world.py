"""The plant: what stands where, how it fails, and what a planner is told of it. All figures are assumed."""

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import gamma

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

YEARS, BURN_IN_YEARS = 12, 2
MONTHS = 12 * YEARS
#: Faults drawn beforehand for each piece; more than any lives to see.
FAULTS = 40
CRITICALITIES: tuple[float, ...] = (1.0, 4.0, 15.0)
CRITICALITY_SHARES: tuple[float, ...] = (0.5, 0.3, 0.2)
FRAILTY_CV = 0.9
#: Sites are of uneven size: spread of its logarithm, and ground per point.
SITE_LN_SD, AREA_PER_POINT_M2 = 0.8, 300.0
#: Of the logarithm of hidden frailty and the noise of him who grades it.
GRADE_NOISE_SD = 0.8
POOR_SHARE, GOOD_SHARE = 0.2, 0.3
#: Walk through k points on an area A: 0.7124·√(kA) (Beardwood–Halton–Hammersley, from memory), in
#: corridors 1.3 times as long, at 50 m/min.
TOUR, DETOUR, PACE_M_PER_MIN = 0.7124, 1.3, 50.0


@dataclass(frozen=True, slots=True)
class Kind:
    """Faults a year, mean months from first sign to failure, chance seen, minutes, electrical, share of all."""

    name: str
    rate_per_year: float
    pf_months: float
    found_share: float
    read_min: float
    electrical: bool
    share: float


KINDS: tuple[Kind, ...] = (
    Kind("joint behind an open cover", 0.040, 6.0, 0.9, 5.0, True, 0.25),
    Kind("switch behind a closed door", 0.030, 9.0, 0.5, 3.0, True, 0.25),
    Kind("fuse and its clips", 0.050, 4.0, 0.9, 4.0, True, 0.12),
    Kind("transformer and bushings", 0.015, 14.0, 0.8, 6.0, True, 0.08),
    Kind("bearing", 0.080, 3.0, 0.8, 3.0, False, 0.12),
    Kind("coupling, belt or trap", 0.040, 6.0, 0.7, 3.5, False, 0.18),
)


@dataclass(frozen=True, slots=True)
class Settings:
    """What differs between the reference and the stress cases."""

    assets: int = 2000
    sites: int = 20
    years: int = YEARS
    setup_min: float = 55.0
    false_share: float = 0.01
    unreadable_share: float = 0.1
    lead_months: float = 0.5
    guess_ln_sd: float = 0.0
    frail: bool = True
    blind: bool = False


@dataclass(frozen=True, slots=True)
class Draws:
    """Luck, drawn beforehand so that every way of planning meets the same: (n, FAULTS) and (months, n)."""

    gap: Floats
    delay: Floats
    seen: NDArray[np.float32]
    plain: NDArray[np.float32]
    false: NDArray[np.float32]
    unreadable: Bools


@dataclass(frozen=True, slots=True)
class World:
    """Equipment (n,), sites (s,), and what is told of them (``guess_*``, ``grade``; -1 not told)."""

    settings: Settings
    site: Ints
    kind: Ints
    criticality: Floats
    electrical: Bools
    found_share: Floats
    read_min: Floats
    true_grade: Ints
    grade: Ints
    guess_per_year: Floats
    guess_pf_months: Floats
    area_m2: Floats
    draws: Draws

    @property
    def assets(self) -> int:
        return len(self.site)

    @property
    def months(self) -> int:
        return 12 * self.settings.years

    def walk_min(self, count: Floats) -> Floats:
        """Walk past so many points of each site [minutes]."""
        walk: Floats = TOUR * np.sqrt(count * self.area_m2) * DETOUR / PACE_M_PER_MIN
        return walk


def draw_world(settings: Settings, seed: int) -> World:
    """A plant and its luck."""
    draw = np.random.default_rng(seed)
    n = settings.assets
    kind = draw.choice(len(KINDS), n, p=[k.share for k in KINDS])
    shape = 1 / FRAILTY_CV**2
    frailty = draw.gamma(shape, 1 / shape, n) if settings.frail else np.ones(n)
    looks = np.log(frailty + 1e-3) + draw.normal(0, GRADE_NOISE_SD, n)
    edges = np.quantile(looks, [GOOD_SHARE, 1 - POOR_SHARE])
    grade = 2 - np.searchsorted(edges, looks)
    rate = np.array([k.rate_per_year for k in KINDS])[kind]
    pf = np.array([k.pf_months for k in KINDS])[kind]
    size = draw.lognormal(0.0, SITE_LN_SD, settings.sites)
    site = np.sort(draw.choice(settings.sites, n, p=size / size.sum()))
    return World(
        settings=settings,
        site=site,
        kind=kind,
        criticality=draw.choice(CRITICALITIES, n, p=CRITICALITY_SHARES),
        electrical=np.array([k.electrical for k in KINDS])[kind],
        found_share=np.array([k.found_share for k in KINDS])[kind],
        read_min=np.array([k.read_min for k in KINDS])[kind],
        true_grade=grade,
        grade=np.full(n, -1) if settings.blind else grade,
        guess_per_year=rate * _misjudged(draw, kind, settings.guess_ln_sd),
        guess_pf_months=pf * _misjudged(draw, kind, settings.guess_ln_sd),
        area_m2=AREA_PER_POINT_M2 * np.bincount(site, minlength=settings.sites).astype(float),
        draws=_luck(draw, settings, rate * frailty, pf),
    )


def _misjudged(draw: Generator, kind: Ints, ln_sd: float) -> Floats:
    """Half of the variance lies in the figure of the kind, half in that of the single piece."""
    each = ln_sd / np.sqrt(2)
    wrong: Floats = np.exp(draw.normal(0, each, len(KINDS))[kind] + draw.normal(0, each, len(kind)))
    return wrong


def _luck(draw: Generator, settings: Settings, rate_per_year: Floats, pf_months: Floats) -> Draws:
    n, months = len(rate_per_year), 12 * settings.years
    gap = draw.exponential(1.0, (n, FAULTS)) * (12 / np.maximum(rate_per_year, 1e-6))[:, None]
    delay = draw.weibull(2.0, (n, FAULTS)) * (pf_months / gamma(1.5))[:, None]
    uniform = [draw.random((months + 1, n), dtype=np.float32) for _ in range(3)]
    return Draws(gap, delay, *uniform, draw.random((months + 1, n)) < settings.unreadable_share)
