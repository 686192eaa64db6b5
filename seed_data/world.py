"""Five invented years of rounds: what the camera showed, from loads, weather and the truth in faults.py.

The noise follows the study of like parts: scatter 0.5 K a phase, camera offset 1 K (one sd) shared by a
round, loads 30–100 % with mean 65 %, lasting phase differences up to 0.6 K, true load exponent 1.6–2.0.
"""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np

from seed_data.faults import LAST, MONTHS, ODDITIES, Fault, plan_faults
from seed_data.utility import EquipmentSpec, PointSpec, SiteSpec, ViewSpec, build_utility

TECHNICIANS = ("a.quill", "t.marsh")


@dataclass(frozen=True, slots=True)
class RowStory:
    """One row of a filled file; ``reason`` is a letter where the point was not assessable."""

    tag: str
    taken: datetime
    temperature_c: float | None = None
    ambient_c: float | None = None
    amps: float | None = None
    neutral_a: float | None = None
    wind_m_s: float | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class RoundStory:
    site: str
    month: int
    on: date
    technician: str
    rows: tuple[RowStory, ...]


@dataclass(frozen=True, slots=True)
class RepairStory:
    fault: Fault
    on: date


@dataclass(frozen=True, slots=True)
class World:
    sites: tuple[SiteSpec, ...]
    rounds: tuple[RoundStory, ...]
    repairs: tuple[RepairStory, ...]
    faults: tuple[Fault, ...]
    first: date
    last: date

    @property
    def faulty_tags(self) -> frozenset[str]:
        """Points that ever carry a fault or an oddity; all others are healthy throughout."""
        return frozenset(f.tag for f in self.faults) | frozenset(o.tag for o in ODDITIES)


def month_start(last: date, month: int) -> date:
    """First day of history month ``month``; ``last`` is the last day of the last one."""
    index = last.year * 12 + last.month - 1 - LAST + month
    return date(index // 12, index % 12 + 1, 1)


def last_month_end(today: date) -> date:
    """The last month-end before ``today``."""
    return today.replace(day=1) - timedelta(days=1)


class _Nature:
    """Lasting traits of points and the draws of single visits."""

    def __init__(
        self, seed: int, scatter_k: float, sites: tuple[SiteSpec, ...], faults: tuple[Fault, ...]
    ) -> None:
        self.rng = np.random.default_rng(seed)
        self.scatter_k = scatter_k
        self.faults: dict[str, list[Fault]] = {}
        for fault in faults:
            self.faults.setdefault(fault.tag, []).append(fault)
        self.odd = {(o.tag, o.month): o.kind for o in ODDITIES}
        self.traits: dict[str, tuple[float, float, float]] = {}
        for site in sites:
            for equipment in site.equipment:
                for view in equipment.views:
                    self._settle(view)

    def _settle(self, view: ViewSpec) -> None:
        kind = view.points[0].kind
        median = {"bearing": 18.0, "motor": 24.0}.get(kind, 8.0)
        low, high = {"bearing": (10.0, 30.0), "motor": (14.0, 38.0)}.get(kind, (3.0, 18.0))
        shared = float(np.clip(median * np.exp(self.rng.normal(0, 0.4)), low, high))
        exponent = float(self.rng.uniform(1.6, 2.0))
        for point in view.points:
            base = {"RAV-P3-DE": 26.0, "QUA-MCC1-F02-L2": 8.0}.get(point.tag, shared)
            self.traits[point.tag] = (base, float(np.clip(self.rng.normal(0, 0.3), -0.6, 0.6)), exponent)

    def extra_k(self, tag: str, month: float) -> float:
        return sum(fault.extra_k(month) for fault in self.faults.get(tag, ()))


def build_world(today: date, *, seed: int = 22, scatter_k: float = 0.5) -> World:
    """The whole story, ending at the last month-end before ``today``; the same inputs give the same world."""
    sites = build_utility()
    faults = plan_faults(sites)
    nature = _Nature(seed, scatter_k, sites, faults)
    last = last_month_end(today)
    rounds = []
    for month in range(MONTHS):
        for site in sites:
            if month < site.first_month or (month - site.first_month) % site.interval_months:
                continue
            missed = nature.rng.random() < 0.03
            if missed and month < LAST - 3:
                continue
            rounds.append(_walk(nature, site, month, last))
    rounds.sort(key=lambda r: (r.on, r.site))
    repairs = tuple(
        RepairStory(fault, month_start(last, fault.mended) + timedelta(days=25))
        for fault in faults
        if fault.mended is not None
    )
    return World(sites, tuple(rounds), repairs, faults, month_start(last, 0), last)


def _walk(nature: _Nature, site: SiteSpec, month: int, last: date) -> RoundStory:
    rng = nature.rng
    on = month_start(last, month) + timedelta(days=int(rng.integers(7, 19)))
    on += timedelta(days=(7 - on.weekday()) if on.weekday() > 4 else 0)
    season = float(np.sin((on.timetuple().tm_yday - 110) / 365 * 2 * np.pi))
    air = 11.0 + 6.5 * season + float(rng.normal(0, 2.0))
    camera = float(rng.normal(0, 1.0))
    wind = float(min(rng.rayleigh(0.6), 7.0))
    taken = datetime.combine(on, time(7, 40))
    rows: list[RowStory] = []
    for equipment in site.equipment:
        ambient = round(air + (0.0 if equipment.outdoor else 5.0), 1)
        demand = float(np.clip(rng.normal(0.65 + 0.05 * season, 0.12), 0.3, 1.0))
        for view in equipment.views:
            taken += timedelta(minutes=2)
            rows += _read(nature, equipment, view, month=month, taken=taken, ambient=ambient, camera=camera,
                          demand=demand, wind=wind)  # fmt: skip
        taken += timedelta(minutes=3)
    return RoundStory(
        site.code, month, on, TECHNICIANS[month % 2 if site.interval_months == 1 else 0], tuple(rows)
    )


def _read(
    nature: _Nature, equipment: EquipmentSpec, view: ViewSpec, *, month: int, taken: datetime, ambient: float,
    camera: float, demand: float, wind: float,
) -> list[RowStory]:  # fmt: skip
    rng = nature.rng
    odd = next((nature.odd[(p.tag, month)] for p in view.points if (p.tag, month) in nature.odd), "")
    if not odd and month < LAST and rng.random() < 0.03:
        reason = str(rng.choice(["K", "Q", "O", "C", "B", "T"], p=[0.3, 0.15, 0.3, 0.05, 0.1, 0.1]))
        return [RowStory(point.tag, taken, reason=reason) for point in view.points]
    load = float(np.clip(demand + rng.normal(0, 0.08), 0.3, 1.0))
    if odd == "idle":
        load = 0.31
    shares = np.full(len(view.points), load) * (1 + rng.normal(0, 0.01, len(view.points)))
    if len(view.points) == 3 and not odd and rng.random() < 0.02:
        shares[int(rng.integers(3))] *= float(rng.choice([0.86, 1.14]))
    rows = []
    for point, share in zip(view.points, shares, strict=True):
        kind = nature.odd.get((point.tag, month), "")
        rise = 0.3 if kind == "blown" else _rise(nature, point, float(share), month + taken.day / 31)
        shown = ambient + rise + camera + float(rng.normal(0, nature.scatter_k))
        if rng.random() < 0.004 and not kind:
            shown = ambient + (shown - ambient) * float(rng.uniform(0.7, 0.9))
        amps = None
        if view.asks_amps and point.common_load_a:
            amps = (
                0.0
                if kind == "blown"
                else round(point.common_load_a * float(share) * (1 + rng.normal(0, 0.01)), 1)
            )
        neutral = (
            round(float(rng.uniform(2, 12)), 1) if view.asks_neutral and point is view.points[0] else None
        )
        rows.append(
            RowStory(
                point.tag,
                taken,
                round(shown, 1),
                ambient,
                amps,
                neutral,
                round(wind, 1) if equipment.outdoor else None,
            )
        )
    return rows


def _rise(nature: _Nature, point: PointSpec, share: float, month: float) -> float:
    """True rise over air, kelvin, of one point at this share of its common load."""
    base, lasting, exponent = nature.traits[point.tag]
    extra = nature.extra_k(point.tag, month)
    if point.component == "top oil":
        k = 0.7 * share
        return float(60.0 * ((1 + 6 * k * k) / 7) ** 0.8)
    if point.kind == "bearing":
        return base + 3.0 * (share - 0.65) + extra
    if point.kind == "motor":
        return base + 9.0 * (share - 0.65) + extra
    return (base + lasting + extra) * share**exponent
