"""Due days follow what they stand on: a register edit, and a trend that begins to rise."""

from datetime import UTC, datetime, timedelta

from sqlalchemy import select

from service.domain.register import Noun
from service.jobs.handlers import HANDLERS
from service.storage.tables.readings import PointStateRow
from service.storage.tables.record import JobRow
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.register.browse import see_thing
from service.usecases.register.edit import edit_thing
from tests.readings.builders import issue

JAN = datetime(2026, 1, 12, 8, 0, tzinfo=UTC)


def run_waiting(store: Store, now: datetime) -> list[str]:
    with store.begin() as unit:
        waiting = [
            (job.kind, dict(job.payload)) for job in unit.session.scalars(select(JobRow).order_by(JobRow.id))
        ]
        for job in unit.session.scalars(select(JobRow)):
            unit.session.delete(job)
    for kind, payload in waiting:
        HANDLERS[kind](store, payload, now=now)
    return [kind for kind, _payload in waiting]


def due_reason(store: Store, point_id: int) -> str:
    with store.look() as unit:
        state = unit.session.get(PointStateRow, point_id)
        assert state is not None
        return f"{state.due_on} {state.due_reason}"


def test_a_shorter_interval_typed_in_the_register_moves_the_due_day(any_store: Store) -> None:
    ensure_presets(any_store, now=JAN)
    made = issue(any_store, walked_at=JAN)
    made.bring(made.all_records())
    run_waiting(any_store, JAN + timedelta(hours=10))
    point_id = made.rows[0][2]
    before = due_reason(any_store, point_id)
    board = see_thing(any_store, made.engineer, Noun.EQUIPMENT, made.plant.equipment_ids[0])
    edit_thing(
        any_store, made.engineer, Noun.EQUIPMENT, board.thing.id, version=board.thing.version,
        fields={"interval_months": "1"}, now=JAN + timedelta(days=1),
    )  # fmt: skip
    assert "refresh due" in run_waiting(any_store, JAN + timedelta(days=1))
    after = due_reason(any_store, point_id)
    assert after.startswith("2026-02-12")
    assert after != before


def test_a_point_that_rises_is_due_sooner(any_store: Store) -> None:
    ensure_presets(any_store, now=JAN)
    plant = None
    for month in range(8):
        made = issue(any_store, plant=plant, walked_at=JAN + timedelta(days=30 * month))
        plant = made.plant
        hot = [made.record(n, 40.0 + (0.9 * month if n == 0 else 0.0)) for n in range(len(made.rows))]
        made.bring(hot)
        run_waiting(any_store, made.received_at)
    rising, steady = (due_reason(any_store, made.rows[place][2]) for place in (0, 4))
    assert rising < steady
