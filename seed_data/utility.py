"""The register of the invented utility: sites, boards, transformers, pump sets and their points.

Every name is made up. Nothing here is, or stands for, a real company, place or person.
"""

from dataclasses import dataclass, field, replace

import numpy as np

CLIENT_CODE = "MW"
CLIENT_NAME = "Merrowdale Water"


@dataclass(frozen=True, slots=True)
class PointSpec:
    tag: str
    name: str
    kind: str
    phase: str = ""
    component: str = ""
    coating: str = ""
    reference: str = "over like parts"
    common_load_a: float | None = None
    rated_rise_k: float | None = None
    emissivity: float = 0.95


@dataclass(frozen=True, slots=True)
class ViewSpec:
    tag: str
    name: str
    points: tuple[PointSpec, ...]
    asks_amps: bool = True
    asks_neutral: bool = False


@dataclass(frozen=True, slots=True)
class EquipmentSpec:
    tag: str
    name: str
    area: str
    equipment_class: str
    views: tuple[ViewSpec, ...]
    criticality: str = "medium"
    condition: str = "average"
    rated_current_a: float | None = None
    voltage_class: str = "low voltage, 400 V"
    outdoor: bool = False
    access: str = "closed front"
    minutes: int = 5
    load_hours: str = ""
    usual_load_share: float = 0.65
    stand_off: str = ""
    ppe: str = ""
    pf_interval_months: float = 9.0
    repair_lead_days: int = 28
    cost_per_hour: float | None = None
    consequence: str = ""


@dataclass(frozen=True, slots=True)
class AreaSpec:
    code: str
    name: str
    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True)
class SiteSpec:
    code: str
    name: str
    latitude: float
    longitude: float
    interval_months: int
    first_month: int
    areas: tuple[AreaSpec, ...]
    equipment: tuple[EquipmentSpec, ...] = field(default=())


#: code, name, latitude, longitude, months between rounds, boards × feeders, fuse boards, pump sets
PLAN = (
    ("WEN", "Wendlebrook works", 54.61, -2.71, 1, (9, 9), 1, 5),
    ("SAL", "Sallowford bridge pumps", 54.55, -2.62, 1, (8, 8), 1, 5),
    ("RAV", "Ravensike intake", 54.66, -2.55, 1, (9, 6), 2, 5),
    ("LUT", "Lutterwick works", 54.48, -2.80, 1, (9, 7), 1, 4),
    ("GAN", "Gannick Hill booster", 54.58, -2.49, 3, (8,), 1, 3),
    ("FEN", "Fennoch Top reservoir", 54.70, -2.66, 3, (8, 6), 1, 2),
    ("THO", "Thornquay booster", 54.52, -2.45, 3, (7,), 1, 2),
    ("COL", "Coldharrow pumps", 54.44, -2.58, 3, (9,), 1, 3),
    ("MIL", "Millstrand pumps", 54.41, -2.70, 3, (9,), 1, 3),
    ("WET", "Wethercleugh relift", 54.73, -2.47, 6, (7,), 1, 2),
    ("ESK", "Eskwold boreholes", 54.37, -2.52, 6, (8,), 1, 2),
    ("QUA", "Quarrytop booster", 54.76, -2.74, 12, (8,), 1, 2),
)

DUTIES = (
    "high-lift pump", "backwash pump", "filter gallery fans", "sludge transfer", "wash-water pump",
    "dosing skid", "air scour blower", "booster pump", "valve chamber", "site services",
)  # fmt: skip
CLAUSES = (
    "Feeds the high-lift main.", "Feeds filter backwash.", "Half of the station's supply.",
    "Standby is ready.", "Flow can be held for a day.", "Sludge transfer; not urgent.",
)  # fmt: skip
PPE = "As the label on the door says; site minimum: arc-rated coat, face shield, class 0 gloves to hand"


def build_utility(seed: int = 20) -> tuple[SiteSpec, ...]:
    """All twelve sites; the same seed gives the same register."""
    rng = np.random.default_rng(seed)
    return tuple(_build_site(rng, index, row) for index, row in enumerate(PLAN))


def _build_site(rng: np.random.Generator, index: int, row: tuple) -> SiteSpec:  # type: ignore[type-arg]
    code, name, latitude, longitude, interval, boards, fuse_boards, pumps = row
    areas = (
        AreaSpec("YARD", "Transformer yard", 0.0, 0.0),
        AreaSpec("SWR", "Switchroom", 40.0, 10.0),
        AreaSpec("HALL", "Pump hall", 90.0, 25.0),
    )
    site = SiteSpec(code, name, latitude, longitude, interval, index % interval, areas)
    equipment = [_transformer(rng, code)]
    equipment += [_board(rng, code, number + 1, feeders) for number, feeders in enumerate(boards)]
    equipment += [_fuse_board(rng, code, number + 1) for number in range(fuse_boards)]
    equipment += [_pump(rng, code, number + 1) for number in range(pumps)]
    return replace(site, equipment=tuple(equipment))


def _three(tag: str, what: str, kind: str, common_a: float, **fields: object) -> tuple[PointSpec, ...]:
    return tuple(
        PointSpec(f"{tag}-{phase}", f"{what} {phase}", kind, phase=phase, common_load_a=common_a, **fields)  # type: ignore[arg-type]
        for phase in ("L1", "L2", "L3")
    )


def _transformer(rng: np.random.Generator, code: str) -> EquipmentSpec:
    tag = f"{code}-T1"
    amps = float(rng.choice([600, 900, 1200]))
    oil = PointSpec(
        f"{tag}-OIL", "Top oil", "transformer", component="top oil", reference="share of rated rise",
        common_load_a=amps * 0.7, rated_rise_k=60.0,
    )  # fmt: skip
    views = (
        ViewSpec(f"{tag}-OIL", "Top oil", (oil,)),
        ViewSpec(
            f"{tag}-LV",
            "Low-voltage bushings",
            _three(f"{tag}-LV", "LV bushing", "transformer", amps * 0.7, component="bushing"),
            asks_neutral=True,
        ),
    )
    return EquipmentSpec(
        tag, "Transformer 1", "YARD", "transformer", views, criticality="high", rated_current_a=amps,
        voltage_class="medium voltage, 11 kV", outdoor=True, minutes=10, pf_interval_months=12,
        repair_lead_days=90, cost_per_hour=900.0, consequence="Half of the station's supply.",
    )  # fmt: skip


def _board(rng: np.random.Generator, code: str, number: int, feeders: int) -> EquipmentSpec:
    tag = f"{code}-MCC{number}"
    views = [
        ViewSpec(
            f"{tag}-INC",
            "Incomer, bus joints",
            _three(
                f"{tag}-INC",
                "Bus joint",
                "joint",
                float(rng.choice([250, 400])),
                component="bolted",
                coating="Sn",
            ),
            asks_neutral=True,
        )
    ]
    for way in range(1, feeders):
        amps = float(rng.choice([40, 63, 80, 100, 132, 160]))
        part = "isolator blades" if way % 4 == 3 else "line terminals"
        noun = "Isolator blade" if way % 4 == 3 else "Line terminal"
        views.append(
            ViewSpec(
                f"{tag}-F{way:02d}",
                f"Feeder {way:02d}, {part}",
                _three(f"{tag}-F{way:02d}", noun, "joint", amps, component="terminal", coating="Sn"),
            )
        )
    hours = str(
        rng.choice(["mon-sun 06:00-22:00", "mon-fri 07:00-11:30; mon-fri 13:15-17:00", "mon-sun 07:00-18:00"])
    )
    return EquipmentSpec(
        tag, f"MCC {number}", "SWR", "switchboard", tuple(views),
        criticality="high" if number == 1 else "medium",
        condition=str(rng.choice(["good", "average", "average", "poor"])), rated_current_a=400.0,
        access="hinged cover", minutes=3 * feeders, load_hours=hours,
        stand_off="1.0 m from the open door, typed by the site" if rng.random() < 0.7 else "", ppe=PPE,
        pf_interval_months=9.0, repair_lead_days=28, cost_per_hour=float(rng.choice([250, 400, 650])),
        consequence=str(rng.choice(CLAUSES)),
    )  # fmt: skip


def _fuse_board(rng: np.random.Generator, code: str, number: int) -> EquipmentSpec:
    tag = f"{code}-FB{number}"
    views = tuple(
        ViewSpec(
            f"{tag}-W{way}",
            f"Fuse way {way}, {DUTIES[int(rng.integers(len(DUTIES)))]}",
            _three(
                f"{tag}-W{way}",
                "Fuse",
                "fuse",
                float(rng.choice([25, 32, 50, 63])),
                component="fuse",
                coating="Ag",
            ),
        )
        for way in (1, 2)
    )
    return EquipmentSpec(
        tag, f"Fuse board {number}", "SWR", "fuse board", views, criticality="medium", rated_current_a=125.0,
        access="hinged cover", minutes=6, load_hours="mon-sun 06:00-22:00", ppe=PPE,
        consequence=str(rng.choice(CLAUSES)), cost_per_hour=120.0,
    )  # fmt: skip


def _pump(rng: np.random.Generator, code: str, number: int) -> EquipmentSpec:
    tag = f"{code}-P{number}"
    amps = float(rng.choice([63, 80, 132]))
    ends = (("DE", "drive end"), ("NDE", "non-drive end"))
    bearings = tuple(
        ViewSpec(
            f"{tag}-{end}",
            f"Bearing, {words}",
            (
                PointSpec(
                    f"{tag}-{end}",
                    f"Bearing, {words}",
                    "bearing",
                    component=words,
                    reference="over its own baseline",
                ),
            ),
            asks_amps=False,
        )
        for end, words in ends
    )
    motor = ViewSpec(
        f"{tag}-M",
        "Motor frame",
        (
            PointSpec(
                f"{tag}-M", "Motor frame", "motor", component="frame", reference="over its own baseline",
                common_load_a=amps,
            ),
        ),
    )  # fmt: skip
    return EquipmentSpec(
        tag, f"Pump {number}", "HALL", "pump set", (*bearings, motor), criticality="high" if number == 1 else "medium",
        rated_current_a=amps, minutes=6, load_hours="mon-sun 05:00-23:00", pf_interval_months=6.0,
        repair_lead_days=21, cost_per_hour=float(rng.choice([150, 300])), consequence=str(rng.choice(CLAUSES)),
    )  # fmt: skip
