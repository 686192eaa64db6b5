"""Builders with defaults: a test shows only what it speaks of."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from service.domain.people import Actor
from service.domain.words import Role
from service.storage.tables.people import CertificateRow, GrantRow, PersonRow
from service.storage.tables.register import (
    AreaRow,
    ClientRow,
    EquipmentRow,
    InstrumentRow,
    PointRow,
    SiteRow,
    ViewMemberRow,
    ViewRow,
)
from service.storage.unit import Store, Unit
from tests.laid import laid

MADE = datetime(2021, 1, 4, 8, 0, tzinfo=UTC)
STAMPS: dict[str, Any] = {"created_at": MADE, "changed_at": MADE}


@dataclass
class Plant:
    """Ids of what build_plant made."""

    client_id: int = 0
    site_ids: list[int] = field(default_factory=list)
    equipment_ids: list[int] = field(default_factory=list)
    view_ids: list[int] = field(default_factory=list)
    point_ids: list[int] = field(default_factory=list)
    instrument_id: int = 0
    people: dict[Role, int] = field(default_factory=dict)

    def actor(self, role: Role = Role.ENGINEER, **change: Any) -> Actor:
        fields: dict[str, Any] = {
            "person_id": self.people[role],
            "name": f"Test {role}",
            "role": role,
            "sites": frozenset(self.site_ids),
            "clients": frozenset({self.client_id}),
            "whole_clients": frozenset({self.client_id}),
            "every_site": role is Role.ADMINISTRATOR,
        }
        return Actor(**(fields | change))


def add(unit: Unit, row: Any) -> Any:
    unit.session.add(row)
    unit.session.flush()
    return row


def build_plant(store: Store, *, sites: int = 1, boards: int = 1, views: int = 2, bearings: int = 0) -> Plant:
    """Per site: ``boards`` boards of ``views`` three-phase views, then ``bearings`` pump bearings."""
    wish = ("plant", sites, boards, views, bearings)
    return laid(
        store, wish, lambda: _build(store, sites=sites, boards=boards, views=views, bearings=bearings)
    )


def _build(store: Store, *, sites: int, boards: int, views: int, bearings: int) -> Plant:
    plant = Plant()
    with store.begin() as unit:
        client = add(unit, ClientRow(code="MW", name="Merrowdale Water", **STAMPS))
        plant.client_id = client.id
        for role in Role:
            person = add(
                unit,
                PersonRow(
                    login=role.value,
                    name=f"Test {role}",
                    role=role.value,
                    password_hash="!",
                    qualified=True,
                    **STAMPS,
                ),
            )
            plant.people[role] = person.id
            add(unit, GrantRow(person_id=person.id, client_id=client.id))
        add(
            unit,
            CertificateRow(
                person_id=plant.people[Role.ENGINEER], category=2, expires_on=date(2030, 1, 1), **STAMPS
            ),
        )
        plant.instrument_id = add(
            unit, InstrumentRow(client_id=client.id, serial="IR-1", name="Camera 1", **STAMPS)
        ).id
        for s in range(sites):
            _build_site(unit, plant, s, boards=boards, views=views, bearings=bearings)
    return plant


def _build_site(unit: Unit, plant: Plant, s: int, *, boards: int, views: int, bearings: int) -> None:
    site = add(
        unit,
        SiteRow(
            client_id=plant.client_id,
            code=f"S{s + 1}",
            name=f"Site {s + 1}",
            time_zone="Europe/London",
            **STAMPS,
        ),
    )
    plant.site_ids.append(site.id)
    area = add(unit, AreaRow(site_id=site.id, code="A1", name="Switchroom", x_m=0.0, y_m=0.0, **STAMPS))
    for b in range(boards):
        tag = f"S{s + 1}-MCC{b + 1}"
        board = add(
            unit,
            EquipmentRow(
                site_id=site.id,
                area_id=area.id,
                tag=tag,
                name=f"Board {b + 1}",
                equipment_class="switchboard",
                walking_order=b,
                rated_current_a=400.0,
                **STAMPS,
            ),
        )
        plant.equipment_ids.append(board.id)
        for v in range(views):
            _build_view(unit, plant, board, v)
    for p in range(bearings):
        pump = add(
            unit,
            EquipmentRow(
                site_id=site.id,
                area_id=area.id,
                tag=f"S{s + 1}-P{p + 1}",
                name=f"Pump {p + 1}",
                equipment_class="pump",
                walking_order=100 + p,
                **STAMPS,
            ),
        )
        plant.equipment_ids.append(pump.id)
        view = add(
            unit,
            ViewRow(
                site_id=site.id,
                equipment_id=pump.id,
                tag=f"{pump.tag}-V",
                name="Bearings",
                asks_amps=False,
                **STAMPS,
            ),
        )
        plant.view_ids.append(view.id)
        _build_point(
            unit,
            plant,
            view,
            f"{pump.tag}-DE",
            0,
            kind="bearing",
            name="Drive end",
            reference_kind="over its own baseline",
        )


def _build_view(unit: Unit, plant: Plant, board: EquipmentRow, v: int) -> None:
    tag = f"{board.tag}-F{v + 1:02d}"
    view = add(
        unit,
        ViewRow(
            site_id=board.site_id,
            equipment_id=board.id,
            tag=tag,
            name=f"Feeder {v + 1:02d}, line terminals",
            walking_order=v,
            **STAMPS,
        ),
    )
    plant.view_ids.append(view.id)
    for k, phase in enumerate(("L1", "L2", "L3")):
        _build_point(
            unit,
            plant,
            view,
            f"{tag}-{phase}",
            k,
            kind="joint",
            name=f"Line terminal {phase}",
            phase=phase,
            common_load_a=100.0,
            common_load_source="highest seen",
        )


def _build_point(unit: Unit, plant: Plant, view: ViewRow, tag: str, order: int, **fields: Any) -> None:
    point = add(
        unit,
        PointRow(site_id=view.site_id, view_id=view.id, tag=tag, walking_order=order, **fields, **STAMPS),
    )
    plant.point_ids.append(point.id)
    add(unit, ViewMemberRow(view_id=view.id, point_id=point.id, from_at=MADE))
