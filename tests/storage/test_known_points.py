"""What is known of a point before its reading is judged: every column lands in its own field."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from sqlalchemy import select

from service.domain.seen import NoHeatAnswer
from service.domain.settings import PointOptics
from service.domain.standing import StandingState
from service.domain.visits import Memory, VisitPoint, greased_instant
from service.domain.words import Access, Level, PointKind, ReferenceKind, SettingSource, Trend
from service.storage.known_points import KnownPoint, Wear, points_of_views
from service.storage.tables.readings import AssessmentRow, PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow
from service.storage.unit import Store
from tests.builders import MADE, Plant, build_plant
from tests.rounds.builders import judged, stand

TAKEN = datetime(2026, 3, 4, 9, 15, tzinfo=UTC)
READ = datetime(2026, 3, 3, tzinfo=UTC)
CLEARED = datetime(2026, 3, 2, tzinfo=UTC)
POINT: dict[str, Any] = {
    "component": "bolted joint",
    "coating": "paint",
    "medium": "oil",
    "emissivity": 0.93,
    "rated_rise_k": 65.5,
    "common_load_a": 101.5,
    "no_heat_answer": NoHeatAnswer.RUNS_COOL.value,
    "last_greased_on": date(2026, 2, 3),
    "emissivity_half_width": 0.031,
    "emissivity_standing": SettingSource.TABLE.value,
    "reflected_c": 21.5,
    "reflected_half_width_k": 3.5,
    "distance_m": 1.25,
    "window_transmission": 0.56,
    "window_transmission_half_width": 0.041,
    "target_mm": 8.5,
}
EQUIPMENT: dict[str, Any] = {
    "consequence": "no water",
    "rated_current_a": 402.5,
    "criticality": "high",
    "condition": "poor",
    "interval_months": 1.5,
    "pf_interval_months": 2.5,
    "repair_lead_days": 35,
    "equipment_class": "switchboard",
    "access": Access.WINDOW.value,
    "settle_minutes": 45.5,
    "outdoor": True,
}
STATE: dict[str, Any] = {
    "level": 3,
    "at_least": True,
    "since": date(2026, 1, 5),
    "reading_level": 2,
    "lower_run": 11,
    "clear_run": 12,
    "lower_peak": 1,
    "previous_over_first_line": True,
    "last_read_at": READ,
    "last_cleared_at": CLEARED,
    "last_temperature_c": 51.5,
    "last_current_a": 52.5,
    "last_rule": "a rule",
    "last_sentence": "a sentence",
    "reference": ReferenceKind.AIR.value,
    "value_k": 53.5,
    "common_k": 54.5,
    "load_ratio": 0.55,
    "u_k": 0.65,
    "u_common_k": 0.75,
    "smallest_fault_k": 0.85,
    "height_now": 2.56,
    "trend": Trend.HAS_RISEN.value,
    "chance_12": 0.57,
    "baseline_k": 58.5,
    "baseline_visits": 13,
    "episode": 14,
    "data_version": 15,
    "due_on": date(2026, 4, 6),
    "due_reason": "a reason",
}


def first_of(store: Store, plant: Plant) -> KnownPoint:
    with store.look() as unit:
        return points_of_views(unit, plant.view_ids[:1])[0]


def describe(store: Store, plant: Plant) -> None:
    with store.begin() as unit:
        for kind, row_id, fields in (
            (PointRow, plant.point_ids[0], POINT),
            (EquipmentRow, plant.equipment_ids[0], EQUIPMENT),
        ):
            row = unit.session.get_one(kind, row_id)
            for name, value in fields.items():
                setattr(row, name, value)


def judge(store: Store, plant: Plant, **change: Any) -> tuple[int, int]:
    """A last verdict with its reading, and a state whose every column has a value of its own."""
    judged(store, plant.point_ids[0], at=TAKEN)
    stand(store, plant.point_ids[0], **STATE)
    with store.begin() as unit:
        row = unit.session.scalars(select(AssessmentRow)).one()
        for name, value in ({"share_of_rated": 0.61} | change).items():
            setattr(row, name, value)
        return row.id, row.reading_id


def test_a_point_never_read_is_known_with_a_fresh_memory(any_store: Store) -> None:
    plant = build_plant(any_store)
    describe(any_store, plant)
    known = first_of(any_store, plant)
    assert known == KnownPoint(
        VisitPoint(
            id=plant.point_ids[0],
            site_id=plant.site_ids[0],
            client_id=plant.client_id,
            equipment_id=plant.equipment_ids[0],
            view_id=plant.view_ids[0],
            tag="S1-MCC1-F01-L1",
            title="Board 1, Feeder 01, line terminals: Line terminal L1",
            consequence="no water",
            zone="Europe/London",
            kind=PointKind.JOINT,
            reference=ReferenceKind.LIKE_PARTS,
            component="bolted joint",
            coating="paint",
            medium="oil",
            emissivity=0.93,
            neutral=False,
            common_load_a=101.5,
            rated_current_a=402.5,
            rated_rise_k=65.5,
            no_heat_answer=NoHeatAnswer.RUNS_COOL,
            greased_at=greased_instant(date(2026, 2, 3), "Europe/London"),
            equipment_class="switchboard",
            optics=PointOptics(
                emissivity_half_width=0.031,
                emissivity_standing=SettingSource.TABLE,
                reflected_c=21.5,
                reflected_half_width_k=3.5,
                distance_m=1.25,
                through_window=True,
                window_transmission=0.56,
                window_half_width=0.041,
                target_mm=8.5,
                settle_minutes=45.5,
                outdoor=True,
            ),
        ),
        Wear("high", "poor", 1.5, 2.5, 35, MADE.date(), retired=False),
    )
    assert known.memory == Memory()
    assert not known.has_state


def test_what_a_point_stands_at_lands_in_its_own_fields(any_store: Store) -> None:
    plant = build_plant(any_store)
    verdict_id, reading_id = judge(any_store, plant)
    known = first_of(any_store, plant)
    assert known == KnownPoint(
        known.point,
        known.wear,
        Memory(
            standing=StandingState(
                reading_level=Level.PLAN_REPAIR,
                at_least=True,
                since=date(2026, 1, 5),
                lower_run=11,
                lower_peak=Level.LOOK_AGAIN,
                clear_run=12,
            ),
            previous_over_first_line=True,
            episode=14,
            baseline_k=58.5,
            baseline_visits=13,
            last_visit_at=TAKEN,
            last_read_at=READ,
            last_cleared_at=CLEARED,
            last_temperature_c=51.5,
            last_current_a=52.5,
            last_rule="a rule",
            last_sentence="a sentence",
            last_reading_id=reading_id,
            reference=ReferenceKind.AIR,
            value_k=53.5,
            common_k=54.5,
            load_ratio=0.55,
            u_k=0.65,
            u_common_k=0.75,
            smallest_fault_k=0.85,
            share_of_rated=0.61,
            last_could_clear=True,
        ),
        was=Level.REPAIR_SOON,
        since=date(2026, 1, 5),
        trend=Trend.HAS_RISEN,
        chance_12=0.57,
        height_now=2.56,
        data_version=15,
        has_state=True,
        assessment_id=verdict_id,
        finding_id=None,
        due_on=date(2026, 4, 6),
        due_reason="a reason",
    )


@pytest.mark.parametrize("change", [{"at_least": True}, {"level": None}, {"cold": True}])
def test_a_last_reading_that_could_only_accuse_did_not_clear(store: Store, change: dict[str, Any]) -> None:
    plant = build_plant(store)
    judge(store, plant, **change)
    assert not first_of(store, plant).memory.last_could_clear


@pytest.mark.parametrize("kind", [PointRow, EquipmentRow], ids=["point", "equipment"])
def test_what_is_retired_with_its_point_or_equipment_is_known_as_retired(
    store: Store, kind: type[PointRow] | type[EquipmentRow]
) -> None:
    plant = build_plant(store)
    with store.begin() as unit:
        unit.session.scalars(select(kind)).first().retired_at = TAKEN  # type: ignore[union-attr]
    assert first_of(store, plant).wear.retired


def test_points_come_in_their_walking_order(store: Store) -> None:
    plant = build_plant(store)
    with store.begin() as unit:
        for place, point_id in enumerate(reversed(plant.point_ids[:3])):
            unit.session.get_one(PointRow, point_id).walking_order = place
    with store.look() as unit:
        assert [one.point.id for one in points_of_views(unit, plant.view_ids[:1])] == plant.point_ids[2::-1]
        assert unit.session.get(PointStateRow, plant.point_ids[0]) is None
