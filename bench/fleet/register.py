"""The register of the fleet: sites with boards of three-phase feeders, and pumps with two bearings."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from bench.fleet.columns import write
from service.domain.words import PointKind, ReferenceKind
from service.storage.tables.register import AreaRow, EquipmentRow, PointRow, SiteRow, ViewMemberRow, ViewRow
from service.storage.unit import Unit

Ints = NDArray[np.int64]
MADE = datetime(2021, 1, 4, 8, 0, tzinfo=UTC)
STAMPS = {"created_at": MADE, "changed_at": MADE}
PHASES = ("L1", "L2", "L3")


@dataclass(frozen=True, slots=True)
class Size:
    """How much of everything; ``logged`` points carry ``more`` readings each beside the rounds'."""

    sites: int
    boards: int
    feeders: int
    pumps: int
    visits: int
    logged: int
    more: int
    findings: int
    areas: int = 6

    @property
    def equipment(self) -> int:
        return self.sites * (self.boards + self.pumps)

    @property
    def points(self) -> int:
        return self.sites * (self.boards * self.feeders * 3 + self.pumps * 2)

    @property
    def readings(self) -> int:
        return self.points * self.visits + self.logged * self.more


@dataclass(slots=True)
class Fleet:
    """Where everything stands, by place in the tables: row k has the id k + 1."""

    size: Size
    client_id: int
    equipment_site: list[int] = field(default_factory=list)
    view_equipment: list[int] = field(default_factory=list)
    point_view: list[int] = field(default_factory=list)
    point_tags: list[str] = field(default_factory=list)
    point_names: list[str] = field(default_factory=list)
    rotating: list[bool] = field(default_factory=list)

    @property
    def view_of_point(self) -> Ints:
        return np.array(self.point_view, dtype=np.int64)

    @property
    def equipment_of_point(self) -> Ints:
        return np.array(self.view_equipment, dtype=np.int64)[self.view_of_point]

    @property
    def site_of_point(self) -> Ints:
        return np.array(self.equipment_site, dtype=np.int64)[self.equipment_of_point]


def build_register(unit: Unit, size: Size, *, client_id: int) -> Fleet:
    """Write sites, areas, equipment, views and points."""
    fleet = Fleet(size, client_id)
    write(
        unit, SiteRow, size.sites, id=_ids(size.sites), client_id=client_id,
        code=[f"W{s + 1:02d}" for s in range(size.sites)], name=[f"Works {s + 1:02d}" for s in range(size.sites)],
        time_zone="Europe/London", **STAMPS,
    )  # fmt: skip
    areas = size.sites * size.areas
    write(
        unit, AreaRow, areas, id=_ids(areas), site_id=np.arange(areas) // size.areas + 1,
        code=[f"A{a % size.areas + 1}" for a in range(areas)],
        name=[f"Switchroom {a % size.areas + 1}" for a in range(areas)],
        walking_order=np.arange(areas) % size.areas, x_m=0.0, y_m=0.0, **STAMPS,
    )  # fmt: skip
    _write_equipment(unit, fleet)
    _write_views(unit, fleet)
    _write_points(unit, fleet)
    return fleet


def _ids(count: int) -> Ints:
    return np.arange(1, count + 1)


def _write_equipment(unit: Unit, fleet: Fleet) -> None:
    size = fleet.size
    each, count = size.boards + size.pumps, size.equipment
    place = np.arange(count) % each
    is_pump = place >= size.boards
    fleet.equipment_site = (np.arange(count) // each).tolist()
    names = [
        f"Pump {p - size.boards + 1}" if pump else f"Board {p + 1}"
        for p, pump in zip(place.tolist(), is_pump.tolist(), strict=True)
    ]
    write(
        unit, EquipmentRow, count, id=_ids(count), site_id=np.array(fleet.equipment_site) + 1,
        area_id=np.array(fleet.equipment_site) * size.areas + place * size.areas // each + 1,
        tag=[f"W{s + 1:02d}-{name.replace(' ', '')}" for s, name in zip(fleet.equipment_site, names, strict=True)],
        name=names, equipment_class=["pump" if pump else "switchboard" for pump in is_pump.tolist()],
        walking_order=place, rated_current_a=400.0, load_hours="mon-fri 07:00-16:00", minutes=6,
        stand_off="1.0 m", consequence="Feeds one of two filter lines.", **STAMPS,
    )  # fmt: skip


def _write_views(unit: Unit, fleet: Fleet) -> None:
    size, names = fleet.size, []
    for equipment in range(size.equipment):
        is_pump = equipment % (size.boards + size.pumps) >= size.boards
        feeders = ["Bearings"] if is_pump else [f"Feeder {f + 1:02d}" for f in range(size.feeders)]
        names += feeders
        fleet.view_equipment += [equipment] * len(feeders)
    site = np.array(fleet.equipment_site)[fleet.view_equipment]
    count = len(names)
    write(
        unit, ViewRow, count, id=_ids(count), site_id=site + 1, equipment_id=np.array(fleet.view_equipment) + 1,
        tag=[f"W{s + 1:02d}-V{k + 1}" for k, s in enumerate(site.tolist())], name=names,
        walking_order=list(range(count)), asks_amps=[name != "Bearings" for name in names], **STAMPS,
    )  # fmt: skip


def _write_points(unit: Unit, fleet: Fleet) -> None:
    size = fleet.size
    for view, equipment in enumerate(fleet.view_equipment):
        is_pump = equipment % (size.boards + size.pumps) >= size.boards
        parts = ("Drive end", "Far end") if is_pump else tuple(f"Line terminal {phase}" for phase in PHASES)
        for part in parts:
            fleet.point_tags.append(f"P{len(fleet.point_tags) + 1:06d}")
            fleet.point_names.append(part)
            fleet.point_view.append(view)
            fleet.rotating.append(is_pump)
    count, rotating = len(fleet.point_tags), fleet.rotating
    habit = (ReferenceKind.LIKE_PARTS.value, ReferenceKind.BASELINE.value)
    write(
        unit, PointRow, count, id=_ids(count), site_id=fleet.site_of_point + 1, view_id=fleet.view_of_point + 1,
        tag=fleet.point_tags, name=fleet.point_names,
        kind=[(PointKind.BEARING if turns else PointKind.JOINT).value for turns in rotating],
        walking_order=list(range(count)), phase=["" if turns else name[-2:] for turns, name in
                                                 zip(rotating, fleet.point_names, strict=True)],
        emissivity=0.95, emissivity_source="tape", reference_kind=[habit[turns] for turns in rotating],
        common_load_a=[None if turns else 100.0 for turns in rotating], common_load_source="highest seen",
        **STAMPS,
    )  # fmt: skip
    write(
        unit, ViewMemberRow, count, id=_ids(count), view_id=fleet.view_of_point + 1, point_id=_ids(count),
        from_at=MADE - timedelta(days=1),
    )  # fmt: skip
