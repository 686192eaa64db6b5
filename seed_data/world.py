"""Five invented years of rounds: what the camera showed, from loads, weather and the truth in faults.py.

The noise follows the study of like parts: scatter 0.5 K a phase, camera offset 1 K (one sd) shared by a
round, loads 30–100 % with mean 65 %, lasting phase differences up to 0.6 K, true load exponent 1.6–2.0.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np

from seed_data.faults import (
    GUSTS,
    HEALTHY_K,
    HOT_PARTS,
    LAST,
    LIGHTER,
    LOADS,
    MONTHLY_FROM,
    MONTHS,
    NEVER_READ,
    ODDITIES,
    REPAIR_DAY,
    STEADY,
    Fault,
    HotPart,
    plan_faults,
)
from seed_data.utility import PLAN, EquipmentSpec, PointSpec, SiteSpec, ViewSpec, build_utility

TECHNICIANS = ("a.quill", "t.marsh")
#: letters of the reasons why a view could not be read, how often, and what is noted beside them
REASONS = (
    ("K", 0.28, ""),
    ("Q", 0.14, ""),
    ("O", 0.28, ""),
    ("C", 0.05, "Blanket over the terminals"),
    ("B", 0.10, "Pallets in front of the door"),
    ("T", 0.10, ""),
    ("S", 0.02, "Smell of burning, door left shut, control room told"),
    ("N", 0.02, "Tag does not match the drawing"),
    ("X", 0.01, "Camera battery flat"),
)


@dataclass(frozen=True, slots=True)
class RowStory:
    """One row of a filled file; ``reason`` is a letter where the point was not assessable.

    ``meant_c`` is what should have been typed where it was not, ``second_c`` what the second
    person read, ``picture`` the number in the camera. Times are on the site's clock.
    """

    tag: str
    taken: datetime
    temperature_c: float | None = None
    ambient_c: float | None = None
    amps: float | None = None
    neutral_a: float | None = None
    wind_m_s: float | None = None
    reason: str = ""
    note: str = ""
    picture: str = ""
    odd: str = ""
    meant_c: float | None = None
    second_c: float | None = None


@dataclass(frozen=True, slots=True)
class RoundStory:
    site: str
    month: int
    on: date
    technician: str
    weather: str
    rows: tuple[RowStory, ...]
    hot_parts: tuple[HotPart, ...] = ()

    @property
    def second(self) -> str:
        return TECHNICIANS[1 - TECHNICIANS.index(self.technician)]


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
    first_month: int = 0

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


def build_world(
    today: date,
    *,
    seed: int = 22,
    scatter_k: float = 0.5,
    sites: Collection[str] | None = None,
    months: int = MONTHS,
) -> World:
    """The whole story, ending at the last month-end before ``today``; the same inputs give the same world.

    Parameters
    ----------
    today : date
        The day of loading.
    seed : int
        Of everything that is drawn.
    scatter_k : float
        Standard deviation of one phase's reading [K].
    sites : collection of str, optional
        Only these sites.
    months : int
        Only so many of the last months.
    """
    utility = tuple(s for s in build_utility() if sites is None or s.code in sites)
    faults = plan_faults(build_utility())
    nature = _Nature(seed, scatter_k, utility, faults)
    last = last_month_end(today)
    rounds = [
        _walk(nature, site, month, last)
        for month in range(MONTHS)
        for site in utility
        if _walked(nature, site, month) and month >= MONTHS - months
    ]
    rounds.sort(key=lambda r: (r.on, r.site))
    tags = {point.tag for site in utility for _, view in site.views() for point in view.points}
    repairs = tuple(
        RepairStory(fault, _repair_day(last, fault.mended))
        for fault in faults
        if fault.mended is not None and fault.mended >= MONTHS - months and fault.tag in tags
    )
    faults = tuple(fault for fault in faults if fault.tag in tags)
    begin = MONTHS - months
    return World(utility, tuple(rounds), repairs, faults, month_start(last, begin), last, begin)


def _repair_day(last: date, month: int) -> date:
    return last if month == LAST else month_start(last, month) + timedelta(days=REPAIR_DAY - 1)


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
        self.walked: set[date] = set()
        self.odd = {(o.tag, o.month): o.kind for o in ODDITIES}
        self.traits: dict[str, tuple[float, float, float]] = {}
        for site in sites:
            for _, view in site.views():
                self._settle(view)

    def _settle(self, view: ViewSpec) -> None:
        kind = view.points[0].kind
        median = {"bearing": 18.0, "motor": 24.0}.get(kind, 8.0)
        low, high = {"bearing": (10.0, 30.0), "motor": (14.0, 38.0)}.get(kind, (3.0, 18.0))
        shared = float(np.clip(median * np.exp(self.rng.normal(0, 0.4)), low, high))
        exponent = float(self.rng.uniform(1.6, 2.0))
        for point in view.points:
            base = HEALTHY_K.get(point.tag, shared)
            lasting = float(self.rng.uniform(-0.6, 0.6))
            self.traits[point.tag] = (base, 0.0 if point.tag in self.faults else lasting, exponent)

    def load_of(self, view: ViewSpec, month: int) -> tuple[float, float] | None:
        """Usual load and its scatter of a view that a story is told of; None for all others."""
        if view.tag in LIGHTER and month >= LIGHTER[view.tag][0]:
            return LIGHTER[view.tag][1], 0.02
        faulty = any(point.tag in self.faults for point in view.points)
        return LOADS.get(view.tag, STEADY if faulty else None)

    def free_day(self, wished: date) -> date:
        """The next working day on which nobody walks another site: both technicians walk together."""
        day = wished
        while day.weekday() > 4 or day in self.walked:
            day += timedelta(days=1)
        self.walked.add(day)
        return day

    def extra_k(self, tag: str, month: float) -> float:
        return sum(fault.extra_k(month) for fault in self.faults.get(tag, ()))


def _place(site: SiteSpec) -> int:
    return [plan.code for plan in PLAN].index(site.code)


def _walked(nature: _Nature, site: SiteSpec, month: int) -> bool:
    """Whether the site was walked that month; now and then a round falls out, but not of late."""
    interval, first = site.interval_months, site.first_month
    if interval == 1 and month < MONTHLY_FROM:
        interval, first = 3, _place(site) % 3
    if month < first or (month - first) % interval:
        return False
    fell_out = nature.rng.random() < 0.03
    return not fell_out or month >= LAST - 3 or (site.code, month) in GUSTS


def _walk(nature: _Nature, site: SiteSpec, month: int, last: date) -> RoundStory:
    rng = nature.rng
    on = nature.free_day(month_start(last, month) + timedelta(days=int(rng.integers(5, 17))))
    season = float(np.sin((on.timetuple().tm_yday - 110) / 365 * 2 * np.pi))
    air = 11.0 + 6.5 * season + float(rng.normal(0, 2.0))
    camera = float(rng.normal(0, 1.0))
    wind = GUSTS.get((site.code, month), float(min(rng.rayleigh(0.6), 4.9)))
    taken = datetime.combine(on, time(7, 40))
    visit = _Visit(nature, month, camera=camera, wind=wind, picture=int(rng.integers(100, 900)))
    rows: list[RowStory] = []
    for equipment in site.equipment:
        ambient = round(air + (0.0 if equipment.outdoor else 5.0), 1)
        demand = float(np.clip(rng.normal(0.65 + 0.05 * season, 0.12), 0.3, 1.0))
        if equipment.commissioned > month:
            continue
        for view in equipment.views:
            taken += timedelta(minutes=2)
            rows += visit.read(equipment, view, taken=taken, ambient=ambient, demand=demand)
        taken += timedelta(minutes=3)
    return RoundStory(
        site.code,
        month,
        on,
        TECHNICIANS[(month + _place(site)) % 2],
        f"{_sky(rng)}, {air:.0f} °C, wind {wind:.1f} m/s",
        tuple(rows),
        tuple(part for part in HOT_PARTS if (part.site, part.month) == (site.code, month)),
    )


def _sky(rng: np.random.Generator) -> str:
    return str(rng.choice(["Overcast", "Dry, broken cloud", "Light rain earlier, dry now", "Clear"]))


@dataclass(slots=True)
class _Visit:
    """One walk of one site: what all of its readings share."""

    nature: _Nature
    month: int
    camera: float
    wind: float
    picture: int

    def read(
        self, equipment: EquipmentSpec, view: ViewSpec, *, taken: datetime, ambient: float, demand: float
    ) -> list[RowStory]:
        rng = self.nature.rng
        odd = {p.tag: self.nature.odd.get((p.tag, self.month), "") for p in view.points}
        usual = self.nature.load_of(view, self.month)
        told = any(odd.values()) or usual is not None
        reason, note = self._reason(view, odd.values(), certain=told)
        load = float(np.clip(demand + rng.normal(0, 0.08), 0.3, 1.0))
        drawn = rng.normal(0, 1)
        if usual is not None:
            load = float(np.clip(usual[0] + usual[1] * drawn, 0.3, 1.0))
        if "idle" in odd.values():
            load = 0.3
        shares = load * (1 + rng.normal(0, 0.01, len(view.points)))
        uneven, phase, factor = rng.random() < 0.05, int(rng.integers(3)), rng.uniform(0.86, 1.14)
        if uneven and len(view.points) == 3 and not told:
            shares[phase] *= float(factor)
        if reason:
            return [RowStory(point.tag, taken, reason=reason, note=note) for point in view.points]
        self.picture += 1
        return [
            self._row(equipment, view, point, share=float(share), taken=taken, ambient=ambient, odd=odd[point.tag])
            for point, share in zip(view.points, shares, strict=True)
        ]  # fmt: skip

    def _reason(self, view: ViewSpec, odd: Collection[str], *, certain: bool) -> tuple[str, str]:
        rng = self.nature.rng
        missed = rng.random() < 0.03
        letter = int(rng.choice(len(REASONS), p=[share for _, share, _ in REASONS]))
        if view.tag in NEVER_READ:
            return NEVER_READ[view.tag], "Standby, racked out"
        if "locked" in odd:
            return "K", "Panel locked, key not on site"
        if not missed or certain or self.month == LAST:
            return "", ""
        return REASONS[letter][0], REASONS[letter][2]

    def _row(
        self,
        equipment: EquipmentSpec,
        view: ViewSpec,
        point: PointSpec,
        *,
        share: float,
        taken: datetime,
        ambient: float,
        odd: str,
    ) -> RowStory:
        nature, rng = self.nature, self.nature.rng
        share *= 1.35 if odd == "unequal" else 1.0
        rise = 2.0 if odd == "blown" else _rise(nature, point, share, self.month + taken.day / 31)
        noise, slip, weak = rng.normal(0, nature.scatter_k), rng.random() < 0.004, rng.uniform(0.7, 0.9)
        shown = ambient + rise + self.camera + float(noise)
        if slip and not odd:
            # the spot not well filled, or the emissivity not set: some of the rise is lost
            shown = ambient + (shown - ambient) * float(weak)
        amps = None
        measured = rng.normal(0, 0.01)
        if view.asks_amps and point.common_load_a:
            amps = 0.0 if odd == "blown" else round(point.common_load_a * share * (1 + float(measured)), 1)
        first = point is view.points[0]
        temperature = round(shown, 1)
        return RowStory(
            point.tag,
            taken,
            _mistyped(temperature) if odd in ("slip", "retyped") else temperature,
            ambient,
            amps,
            round(float(rng.uniform(2, 12)), 1) if view.asks_neutral and first else None,
            round(self.wind, 1) if equipment.outdoor else None,
            picture=f"{self.picture:04d}" if first else "",
            odd=odd,
            meant_c=temperature if odd in ("slip", "retyped") else None,
            second_c=round(temperature + 2.3, 1) if odd == "double" else None,
        )


def _mistyped(temperature_c: float) -> float:
    """Its first digit one too low, as fingers do."""
    return round(temperature_c - 10.0, 1)


def _rise(nature: _Nature, point: PointSpec, share: float, month: float) -> float:
    """True rise over air of one point at this share of its common load [K]."""
    base, lasting, exponent = nature.traits[point.tag]
    extra = nature.extra_k(point.tag, month)
    if point.component == "top oil":
        k = 0.7 * share
        return float(60.0 * ((1 + 6 * k * k) / 7) ** 0.8)
    if point.kind == "bearing":
        return base + 3.0 * (share - 0.65) + extra
    if point.kind == "motor":
        return base + 6.0 * (share - 0.65) + extra
    return float((base + lasting + extra) * share**exponent)
