"""The register of the invented utility: sites, boards, transformers, pump sets and their points.

Every name is made up. Nothing here is, or stands for, a real company, place or person.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

CLIENT_CODE = "MW"
CLIENT_NAME = "Merrowdale Water"
TIME_ZONE = "Europe/London"
PHASES = ("L1", "L2", "L3")


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
    emissivity_source: str = "tape or paint on the part"


@dataclass(frozen=True, slots=True)
class ViewSpec:
    tag: str
    name: str
    points: tuple[PointSpec, ...]
    asks_amps: bool = True
    asks_neutral: bool = False


@dataclass(frozen=True, slots=True)
class EquipmentSpec:
    """``commissioned`` is the month of the history from which on it is there at all."""

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
    interval_months: float | None = None
    pf_interval_months: float = 9.0
    repair_lead_days: int = 28
    cost_per_hour: float | None = None
    consequence: str = ""
    commissioned: int = 0


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

    @property
    def often(self) -> str:
        return {1: "monthly", 3: "quarterly", 6: "half-yearly", 12: "yearly"}[self.interval_months]

    def views(self) -> Iterator[tuple[EquipmentSpec, ViewSpec]]:
        """Every view in walking order, with its equipment."""
        for equipment in self.equipment:
            for view in equipment.views:
                yield equipment, view


@dataclass(frozen=True, slots=True)
class _Plan:
    """How a site is built: feeders per board, fuse boards, pump sets, months between rounds."""

    code: str
    name: str
    latitude: float
    longitude: float
    interval: int
    boards: tuple[int, ...]
    fuse_boards: int
    pumps: int


PLAN = (
    _Plan("WEN", "Wendlebrook works", 54.61, -2.71, 1, (9, 9), 1, 5),
    _Plan("SAL", "Sallowford bridge pumps", 54.55, -2.62, 1, (8, 8), 1, 5),
    _Plan("RAV", "Ravensike intake", 54.66, -2.55, 1, (9, 6), 2, 5),
    _Plan("LUT", "Lutterwick works", 54.48, -2.80, 1, (9, 7), 1, 4),
    _Plan("GAN", "Gannick Hill booster", 54.58, -2.49, 3, (8,), 1, 3),
    _Plan("FEN", "Fennoch Top reservoir", 54.70, -2.66, 3, (8, 6), 1, 2),
    _Plan("THO", "Thornquay booster", 54.52, -2.45, 3, (7,), 1, 2),
    _Plan("COL", "Coldharrow pumps", 54.44, -2.58, 3, (9,), 1, 3),
    _Plan("MIL", "Millstrand pumps", 54.41, -2.70, 3, (9,), 1, 3),
    _Plan("WET", "Wethercleugh relift", 54.73, -2.47, 6, (7,), 1, 2),
    _Plan("ESK", "Eskwold boreholes", 54.37, -2.52, 6, (8,), 1, 2),
    _Plan("QUA", "Quarrytop booster", 54.76, -2.74, 12, (8,), 1, 2),
)
#: equipment that came later than the register: its baselines are still forming
COMMISSIONED = {"SAL-P5": 58}

DUTIES = (
    "high-lift pump", "backwash pump", "filter gallery fans", "sludge transfer", "wash-water pump",
    "dosing skid", "air scour blower", "booster pump", "valve chamber", "site services",
)  # fmt: skip
CLAUSES = (
    "Feeds the high-lift main.", "Feeds filter backwash.", "Half of the station's supply.",
    "Standby is ready.", "Flow can be held for a day.", "Sludge transfer; not urgent.",
)  # fmt: skip
#: equipment of the stories, whose consequence goes with what happens there
CONSEQUENCES = {
    "WEN-MCC2": "Feeds filter backwash.",
    "SAL-MCC1": "Feeds the high-lift main.",
    "RAV-P3": "One of five intake pumps; standby is ready.",
    "LUT-T1": "Half of the station's supply.",
}
#: what the ways of the stories feed, and the highest current they are known to carry [A]
WAYS = {"WEN-MCC2-F07": ("backwash pump 1", 132.0), "SAL-MCC1-F03": ("high-lift pump 2", 160.0)}
HOURS = (
    "mon-sun 06:00-22:00",
    "mon-fri 07:00-11:30; mon-fri 13:15-17:00",
    "mon-sun 07:00-18:00",
)
PPE = "As the label on the door says; site minimum: arc-rated coat, face shield, class 0 gloves to hand"


def build_utility(seed: int = 20) -> tuple[SiteSpec, ...]:
    """All twelve sites; the same seed gives the same register."""
    rng = np.random.default_rng(seed)
    return tuple(_build_site(rng, index, plan) for index, plan in enumerate(PLAN))


def _build_site(rng: np.random.Generator, index: int, plan: _Plan) -> SiteSpec:
    areas = (
        AreaSpec("YARD", "Transformer yard", 0.0, 0.0),
        AreaSpec("SWR", "Switchroom", 40.0, 10.0),
        AreaSpec("HALL", "Pump hall", 90.0, 25.0),
    )
    code = plan.code
    equipment = [_transformer(rng, code)]
    equipment += [_board(rng, code, number + 1, feeders) for number, feeders in enumerate(plan.boards)]
    equipment += [_fuse_board(rng, code, number + 1) for number in range(plan.fuse_boards)]
    equipment += [_pump(rng, code, number + 1) for number in range(plan.pumps)]
    return SiteSpec(
        code, plan.name, plan.latitude, plan.longitude, plan.interval, index % plan.interval, areas,
        tuple(_suited(one, plan.interval) for one in equipment),
    )  # fmt: skip


def _suited(equipment: EquipmentSpec, interval: int) -> EquipmentSpec:
    """With planning figures that go with how often the site is walked."""
    fields: dict[str, Any] = {
        "consequence": CONSEQUENCES.get(equipment.tag, equipment.consequence),
        "commissioned": COMMISSIONED.get(equipment.tag, 0),
    }
    if interval == 1 and equipment.criticality == "high":
        fields["interval_months"] = 1.0
    if interval >= 6:
        fields["pf_interval_months"] = 2.0 * interval + 2.0
    if interval == 12:
        fields |= {"criticality": "low", "condition": "good"}
    return replace(equipment, **fields)


def _three(tag: str, what: str, kind: str, common_a: float, **fields: Any) -> tuple[PointSpec, ...]:
    return tuple(
        PointSpec(f"{tag}-{phase}", f"{what} {phase}", kind, phase=phase, common_load_a=common_a, **fields)
        for phase in PHASES
    )


def _transformer(rng: np.random.Generator, code: str) -> EquipmentSpec:
    tag = f"{code}-T1"
    amps = float(rng.choice([600, 900, 1200]))
    oil = PointSpec(
        f"{tag}-OIL", "Top oil", "transformer", component="top oil", reference="share of rated rise",
        coating="painted", common_load_a=amps * 0.7, rated_rise_k=60.0, emissivity=0.94,
        emissivity_source="table",
    )  # fmt: skip
    bushings = _three(
        f"{tag}-LV", "LV bushing", "transformer", amps * 0.7, component="bushing", coating="painted"
    )
    views = (
        ViewSpec(f"{tag}-OIL", "Tank", (oil,)),
        ViewSpec(f"{tag}-LV", "Low-voltage side", bushings, asks_neutral=True),
    )
    return EquipmentSpec(
        tag, "Transformer 1", "YARD", "transformer", views, criticality="high", rated_current_a=amps,
        voltage_class="medium voltage, 11 kV", outdoor=True, minutes=10, pf_interval_months=12,
        repair_lead_days=90, cost_per_hour=900.0, consequence="Half of the station's supply.",
    )  # fmt: skip


def _board(rng: np.random.Generator, code: str, number: int, feeders: int) -> EquipmentSpec:
    tag = f"{code}-MCC{number}"
    incoming_a = float(rng.choice([250, 400]))
    joints = _three(f"{tag}-INC", "Bus joint", "joint", incoming_a, component="bolted joint", coating="tin")
    views = [ViewSpec(f"{tag}-INC", "Incomer", joints, asks_neutral=True)]
    for way in range(1, feeders):
        amps = float(rng.choice([40, 63, 80, 100, 132, 160]))
        duty = DUTIES[int(rng.integers(len(DUTIES)))]
        view_tag = f"{tag}-F{way:02d}"
        duty, amps = WAYS.get(view_tag, (duty, amps))
        blades = way % 4 == 0
        points = _three(
            view_tag,
            "Isolator blade" if blades else "Line terminal",
            "joint",
            amps,
            component="contact" if blades else "external terminal",
            coating="silver" if blades else "tin",
        )
        views.append(ViewSpec(view_tag, f"Feeder {way:02d}, {duty}", points))
    return EquipmentSpec(
        tag, f"MCC {number}", "SWR", "motor control centre", tuple(views),
        criticality="high" if number == 1 else "medium",
        condition=str(rng.choice(["good", "average", "average", "poor"])), rated_current_a=400.0,
        access="hinged cover", minutes=3 * feeders, load_hours=str(rng.choice(HOURS)),
        stand_off="1.0 m from the open door" if rng.random() < 0.7 else "", ppe=PPE,
        cost_per_hour=float(rng.choice([250, 400, 650])), consequence=str(rng.choice(CLAUSES)),
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
                component="fuse body",
                coating="insulated",
            ),
        )
        for way in (1, 2)
    )
    return EquipmentSpec(
        tag, f"Fuse board {number}", "SWR", "fuse board", views, rated_current_a=125.0,
        access="hinged cover", minutes=6, load_hours="mon-sun 06:00-22:00", ppe=PPE,
        consequence=str(rng.choice(CLAUSES)), cost_per_hour=120.0,
    )  # fmt: skip


def _pump(rng: np.random.Generator, code: str, number: int) -> EquipmentSpec:
    tag = f"{code}-P{number}"
    amps = float(rng.choice([63, 80, 132]))
    own: dict[str, Any] = {
        "reference": "over its own baseline",
        "coating": "painted",
        "emissivity_source": "table",
    }
    views = [
        ViewSpec(
            f"{tag}-{end}",
            words.capitalize(),
            (PointSpec(f"{tag}-{end}", "Bearing", "bearing", component=words, **own),),
            asks_amps=False,
        )
        for end, words in (("DE", "drive end"), ("NDE", "non-drive end"))
    ]
    frame = PointSpec(f"{tag}-M", "Frame", "motor", component="frame", common_load_a=amps, **own)
    views.append(ViewSpec(f"{tag}-M", "Motor", (frame,)))
    return EquipmentSpec(
        tag, f"Pump {number}", "HALL", "pump set", tuple(views),
        criticality="high" if number == 1 else "medium", rated_current_a=amps, minutes=6,
        load_hours="mon-sun 05:00-23:00", pf_interval_months=6.5, repair_lead_days=21,
        cost_per_hour=float(rng.choice([150, 300])), consequence=str(rng.choice(CLAUSES)),
    )  # fmt: skip
