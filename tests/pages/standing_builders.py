"""States, changes and visits of points as Standing and the point history read them."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlalchemy import select

from service.domain.presets import DEFAULT_CRITERIA
from service.storage.criteria import add_criteria
from service.storage.site_state import bump
from service.storage.tables.findings import FindingRow, RepairRow, TellingRow
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow, StandingChangeRow
from service.storage.tables.register import CriteriaSetRow, EquipmentRow, PointRow, ViewRow
from service.storage.unit import Store, Unit
from tests.builders import MADE, Plant, add

TODAY = date(2026, 11, 25)


def criteria_id(unit: Unit) -> int:
    """The shipped criteria, kept once."""
    found = unit.session.scalar(select(CriteriaSetRow.id).where(CriteriaSetRow.name == DEFAULT_CRITERIA.id))
    if found is not None:
        return found
    return add_criteria(unit, DEFAULT_CRITERIA, valid_from=date(2000, 1, 1), now=MADE, by_person_id=None)


def set_state(store: Store, point_id: int, **fields: Any) -> None:
    """Where a point stands; made if there is no row yet, and the site's version counted on."""
    with store.begin() as unit:
        row = unit.session.get(PointStateRow, point_id)
        if row is None:
            place = unit.session.execute(
                select(PointRow.site_id, ViewRow.equipment_id)
                .join(ViewRow, ViewRow.id == PointRow.view_id)
                .where(PointRow.id == point_id)
            ).one()
            row = add(unit, PointStateRow(point_id=point_id, site_id=place[0], equipment_id=place[1]))
        for name, value in fields.items():
            setattr(row, name, value)
        bump(unit, [row.site_id], now=datetime(2026, 11, 24, tzinfo=UTC))


def stand(store: Store, plant: Plant, **levels: int | None) -> None:
    """Every point of the plant read on 17 November; p0=4 sets the first point's level."""
    for index, point_id in enumerate(plant.point_ids):
        level = levels.get(f"p{index}", 0)
        set_state(
            store,
            point_id,
            level=level,
            last_read_at=datetime(2026, 11, 17, 9, tzinfo=UTC),
            value_k=0.4 + 5 * (level or 0),
            act_line_k=15.0,
            height_now=0.3 + (level or 0),
            height_year_ago=0.2,
            since=TODAY,
            last_sentence="Over like parts.",
        )


def change(
    store: Store, point_id: int, on: date, *, was: int | None, level: int | None, **fields: Any
) -> None:
    with store.begin() as unit:
        site_id = unit.session.scalar(select(PointRow.site_id).where(PointRow.id == point_id))
        made = {"trend": "steady", "height": float(level or 0) + 0.2} | fields
        add(unit, StandingChangeRow(point_id=point_id, site_id=site_id, on=on, was=was, level=level, **made))


def open_finding(store: Store, plant: Plant, point_id: int, **fields: Any) -> int:
    """A finding on a point, tied to its state."""
    with store.begin() as unit:
        site_id = unit.session.scalar(select(PointRow.site_id).where(PointRow.id == point_id))
        made = {"title": "Hot joint", "level": 4, "opened_at": datetime(2026, 11, 1, tzinfo=UTC)} | fields
        row = add(
            unit,
            FindingRow(
                client_id=plant.client_id,
                site_id=site_id,
                point_id=point_id,
                created_at=MADE,
                changed_at=MADE,
                **made,
            ),
        )
        found: int = row.id
    set_state(store, point_id, finding_id=found)
    return found


def tell(store: Store, finding_id: int, whom: str, at: datetime) -> None:
    with store.begin() as unit:
        add(unit, TellingRow(finding_id=finding_id, told_whom=whom, told_at=at))


def repair(store: Store, finding_id: int, at: datetime, **fields: Any) -> None:
    with store.begin() as unit:
        add(unit, RepairRow(finding_id=finding_id, repaired_at=at, **({"attempt": 1} | fields)))


def visit(store: Store, point_id: int, at: datetime, **fields: Any) -> int:
    """One reading and what it says; returns the reading's id.

    Fields named ``reading_…`` go to the reading, the others to its assessment.
    """
    read = {
        "temperature_c": 30.0,
        "ambient_c": 15.0,
        "current_a": 71.0,
        "content_hash": f"{point_id}-{at}-{fields}",
        "uid": f"{point_id}-{at.isoformat()}-{len(fields)}-{fields.get('reading_revision', 1)}",
        "source": "person 1",
        "received_at": at,
        "taken_at": at,
    } | {
        name.removeprefix("reading_"): value for name, value in fields.items() if name.startswith("reading_")
    }
    judged = {
        "level": 0,
        "band": 0,
        "at_least": False,
        "near_line": False,
        "clears": True,
        "trended": True,
        "reference": "over like parts",
        "value_k": 0.4,
        "common_k": 0.7,
        "load_ratio": 0.71,
        "over_first_line": False,
        "rule": "1a.2 similar",
        "sentence": "Over like parts: 0.4 K.",
    } | {name: value for name, value in fields.items() if not name.startswith("reading_")}
    with store.begin() as unit:
        reading = add(unit, ReadingRow(point_id=point_id, **read))
        add(
            unit,
            AssessmentRow(
                reading_id=reading.id,
                point_id=point_id,
                taken_at=at,
                assessed_at=at,
                criteria_id=criteria_id(unit),
                method_version="test",
                **judged,
            ),
        )
        found: int = reading.id
    return found


def months_before(count: int) -> datetime:
    return datetime(2026, 11, 17, 9, tzinfo=UTC) - timedelta(days=30 * count)


def rename(store: Store, kind: type[EquipmentRow] | type[PointRow], key: int, **fields: Any) -> None:
    with store.begin() as unit:
        row = unit.session.get(kind, key)
        assert row is not None
        for name, value in fields.items():
            setattr(row, name, value)
