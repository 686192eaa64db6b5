"""Returned rows with defaults, on the issued rounds of tests/rounds/builders.py."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlalchemy import select

from service.domain.people import Actor
from service.domain.readings import UploadResult
from service.domain.words import Role
from service.intake.content_hash import content_hash_of
from service.intake.raw_rows import Ways, rows_of_records
from service.storage.tables.register import PointRow
from service.storage.tables.rounds import RoundPointRow, RoundRow
from service.storage.unit import Store
from service.usecases.rounds.edit import details_of, edit_round
from service.usecases.rounds.issue import issue_round
from service.usecases.rounds.plan import RoundWish, plan_round
from service.usecases.rounds.upload import upload_round
from tests.builders import Plant, build_plant
from tests.laid import laid

START = datetime(2026, 1, 12, 8, 0, tzinfo=UTC)


@dataclass
class Issued:
    """An issued round: its rows as (row id, point tag, point id, view id) in sheet order."""

    store: Store
    plant: Plant
    round_id: int
    code: str
    walked_at: datetime
    rows: list[tuple[str, str, int, int]] = field(default_factory=list)

    @property
    def technician(self) -> Actor:
        return self.plant.actor(Role.TECHNICIAN)

    @property
    def engineer(self) -> Actor:
        return self.plant.actor()

    @property
    def received_at(self) -> datetime:
        return self.walked_at + timedelta(hours=9)

    def record(self, place: int = 0, temperature_c: float | None = 40.0, **more: Any) -> dict[str, Any]:
        """One returned row; full load and 25 °C of air unless said otherwise."""
        uid = self.rows[place][0]
        at = (self.walked_at + timedelta(minutes=place % 400)).isoformat()
        record: dict[str, Any] = {"row_uid": uid, "taken_at": at, "ambient_c": 25.0, "current_a": 90.0}
        if temperature_c is not None:
            record["temperature_c"] = temperature_c
        return record | more

    def all_records(self, temperature_c: float = 40.0) -> list[dict[str, Any]]:
        return [self.record(place, temperature_c) for place in range(len(self.rows))]

    def bring(
        self,
        records: list[dict[str, Any]],
        *,
        actor: Actor | None = None,
        key: str | None = None,
        channel: str = "api",
        now: datetime | None = None,
    ) -> UploadResult:
        return upload_round(
            self.store,
            actor or self.technician,
            round_id=self.round_id,
            rows=rows_of_records(records, Ways()),
            content_hash=content_hash_of(repr(records)),
            key=key,
            channel=channel,
            now=now or self.received_at,
        )


def issue(
    store: Store,
    *,
    plant: Plant | None = None,
    day: date = START.date(),
    walked_at: datetime | None = None,
    before_issue: Callable[[Any, Actor, datetime], Any] | None = None,
    **kinds: int,
) -> Issued:
    """A round over every equipment of a plant, given to the technician, issued on its morning."""
    morning = walked_at or datetime(day.year, day.month, day.day, 8, 0, tzinfo=UTC)
    if plant is not None or before_issue is not None:
        return _issue(store, plant or build_plant(store, **kinds), morning, before_issue)

    def make() -> dict[str, Any]:
        return {**vars(_issue(store, build_plant(store, **kinds), morning, None)), "store": None}

    return Issued(**laid(store, ("readings", morning, *sorted(kinds.items())), make) | {"store": store})


def _issue(
    store: Store,
    made: Plant,
    morning: datetime,
    before_issue: Callable[[Any, Actor, datetime], Any] | None,
) -> Issued:
    engineer = made.actor()
    now = morning - timedelta(hours=1)
    wish = RoundWish(name="All", planned_on=morning.date(), equipment_ids=tuple(made.equipment_ids))
    round_ = plan_round(store, engineer, wish, now=now)
    details = details_of(round_)
    given = {name: getattr(details, name) for name in details.__slots__}
    given |= {"person_id": made.people[Role.TECHNICIAN], "instrument_id": made.instrument_id}
    round_ = edit_round(store, engineer, round_.id, type(details)(**given), version=round_.version, now=now)
    if before_issue is not None:
        before_issue(round_, engineer, now)
        with store.look() as unit:
            version = unit.session.scalar(select(RoundRow.version).where(RoundRow.id == round_.id))
        round_ = replace(round_, version=version or 0)
    round_ = issue_round(store, engineer, round_.id, version=round_.version, now=now).round
    with store.look() as unit:
        query = (
            select(RoundPointRow.uid, PointRow.tag, PointRow.id, RoundPointRow.view_id)
            .join(PointRow, PointRow.id == RoundPointRow.point_id)
            .where(RoundPointRow.round_id == round_.id)
            .order_by(RoundPointRow.position)
        )
        rows = [(uid, tag, point, view) for uid, tag, point, view in unit.session.execute(query)]
    return Issued(store, made, round_.id, round_.code, morning, rows)
