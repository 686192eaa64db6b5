"""Rounds with defaults, on the plant of tests/builders.py."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from service.domain.people import Actor
from service.domain.rounds import Round
from service.domain.words import Access, PointKind, ReferenceKind, Role
from service.storage.tables.findings import FindingRow, RepairRow
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow
from service.storage.tables.register import CriteriaSetRow, EquipmentRow, PointRow, ViewRow
from service.storage.tables.rounds import RoundPointRow
from service.storage.unit import Store
from service.usecases.rounds.edit import details_of, edit_round
from service.usecases.rounds.issue import Issued, issue_round
from service.usecases.rounds.plan import RoundWish, plan_round
from tests.builders import STAMPS, Plant, add, build_plant
from tests.laid import laid

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
DAY = date(2026, 12, 8)


@dataclass
class Walk:
    """A plant, an engineer and a round on it."""

    store: Store
    plant: Plant
    engineer: Actor
    round: Round

    def technician(self) -> Actor:
        return self.plant.actor(Role.TECHNICIAN)


def draft(store: Store, *, plant: Plant | None = None, person: bool = True, **plant_kinds: int) -> Walk:
    """A draft over every equipment of a plant, given to the technician with the camera."""
    if plant is not None:
        return _draft(store, plant, person=person)
    wish = ("draft", person, *sorted(plant_kinds.items()))
    return _laid(store, wish, lambda: _draft(store, build_plant(store, **plant_kinds), person=person))


def _laid(store: Store, wish: Hashable, make: Callable[[], Walk]) -> Walk:
    plant, engineer, round_ = laid(store, wish, lambda: _parts(make()))
    return Walk(store, plant, engineer, round_)


def _parts(walk: Walk) -> tuple[Plant, Actor, Round]:
    return walk.plant, walk.engineer, walk.round


def _draft(store: Store, made: Plant, *, person: bool) -> Walk:
    engineer = made.actor()
    wish = RoundWish(name="South", planned_on=DAY, equipment_ids=tuple(made.equipment_ids))
    round_ = plan_round(store, engineer, wish, now=NOW)
    if person:
        details = details_of(round_)
        chosen = type(details)(
            **{name: getattr(details, name) for name in details.__slots__}
            | {
                "person_id": made.people[Role.TECHNICIAN],
                "second_person_id": made.people[Role.ENGINEER],
                "instrument_id": made.instrument_id,
            }
        )
        round_ = edit_round(store, engineer, round_.id, chosen, version=round_.version, now=NOW)
    return Walk(store, made, engineer, round_)


def issued(store: Store, **kinds: Any) -> Walk:
    """As ``draft``, and issued."""
    if kinds.get("plant") is not None:
        return _issued(store, **kinds)
    return _laid(store, ("issued", *sorted(kinds.items())), lambda: _issued(store, **kinds))


def _issued(store: Store, **kinds: Any) -> Walk:
    walk = draft(store, **kinds)
    result: Issued = issue_round(store, walk.engineer, walk.round.id, version=walk.round.version, now=NOW)
    walk.round = result.round
    return walk


def change(store: Store, table: Any, row_id: int, **fields: Any) -> None:
    """Change columns behind the use cases' back."""
    with store.begin() as unit:
        row = unit.session.get(table, row_id)
        for name, value in fields.items():
            setattr(row, name, value)


def cover(store: Store, equipment_id: int, access: Access = Access.HINGED_COVER) -> None:
    change(store, EquipmentRow, equipment_id, access=access.value)


def rows_of(store: Store, round_id: int) -> list[RoundPointRow]:
    with store.look() as unit:
        query = unit.session.query(RoundPointRow).filter_by(round_id=round_id)
        rows = query.order_by(RoundPointRow.position).all()
        unit.session.expunge_all()
        return rows


def read_row(
    store: Store,
    row: RoundPointRow,
    *,
    source: str = "person 1",
    reason: str | None = None,
    at: datetime = NOW,
) -> int:
    """A stored reading of one row, as the READINGS room would leave it."""
    with store.begin() as unit:
        reading = add(
            unit,
            ReadingRow(
                uid=f"u-{row.uid}-{source}",
                point_id=row.point_id,
                round_id=row.round_id,
                row_id=row.id,
                source=source,
                content_hash="x",
                received_at=at,
                taken_at=at,
                temperature_c=None if reason else 30.0,
                not_assessable=reason,
            ),
        )
        return int(reading.id)


def stand(store: Store, point_id: int, **fields: Any) -> None:
    """Set what a point stands at."""
    with store.begin() as unit:
        state = unit.session.get(PointStateRow, point_id)
        if state is None:
            point = unit.session.get(PointRow, point_id)
            assert point is not None
            view = unit.session.get(ViewRow, point.view_id)
            assert view is not None
            state = PointStateRow(point_id=point_id, site_id=point.site_id, equipment_id=view.equipment_id)
            unit.session.add(state)
        for name, value in fields.items():
            setattr(state, name, value)


def judged(
    store: Store,
    point_id: int,
    *,
    at: datetime,
    level: int | None = 0,
    at_least: bool = False,
    cold: bool = False,
) -> None:
    """A reading with its verdict, as the last one of its point."""
    with store.begin() as unit:
        criteria = unit.session.query(CriteriaSetRow).first() or add(
            unit,
            CriteriaSetRow(
                name="two", version=1, title="t", citation="c", confidence="x", body={},
                valid_from=date(2020, 1, 1), created_at=NOW,
            ),
        )  # fmt: skip
        reading = add(
            unit,
            ReadingRow(
                uid=f"j-{point_id}-{at.isoformat()}", point_id=point_id, source="person 1", content_hash="x",
                received_at=at, taken_at=at, temperature_c=30.0,
            ),
        )  # fmt: skip
        verdict = add(
            unit,
            AssessmentRow(
                reading_id=reading.id, point_id=point_id, taken_at=at, assessed_at=at, criteria_id=criteria.id,
                method_version="1", level=level, at_least=at_least, cold=cold, near_line=False, clears=level == 0,
                trended=True, over_first_line=False, rule="r", sentence="s",
                reference=ReferenceKind.LIKE_PARTS.value,
            ),
        )  # fmt: skip
        verdict_id = verdict.id
    cleared = {"last_cleared_at": at} if level == 0 and not at_least and not cold else {}
    stand(
        store, point_id, assessment_id=verdict_id, last_read_at=at, level=level, at_least=at_least, **cleared
    )


def repaired_finding(store: Store, plant: Plant, point_id: int, *, at: datetime) -> int:
    with store.begin() as unit:
        finding = add(
            unit,
            FindingRow(
                client_id=plant.client_id, site_id=plant.site_ids[0], point_id=point_id, title="Hot joint",
                state="repaired", opened_at=at, **STAMPS,
            ),
        )  # fmt: skip
        add(unit, RepairRow(finding_id=finding.id, attempt=1, repaired_at=at))
        return int(finding.id)


KINDS = (PointKind.JOINT, PointKind.BEARING)
