"""A feed asks the database as often for many rounds as for few: calendar programs ask every hour."""

from collections.abc import Callable
from datetime import datetime, timedelta

from sqlalchemy import event

from service.domain.words import Role
from service.storage.unit import Store
from service.usecases.calendars.own_feed import make_feed
from service.usecases.calendars.read_calendar import read_own_calendar
from service.usecases.rounds.edit import RoundDetails, details_of, edit_round
from service.usecases.rounds.plan import RoundWish, plan_round
from tests.builders import Plant, build_plant
from tests.rounds.builders import DAY, NOW


def statements(store: Store, ask: Callable[[], object]) -> int:
    asked: list[str] = []

    def note(_conn: object, _cursor: object, statement: str, *_: object) -> None:
        asked.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        ask()
    finally:
        event.remove(store.engine, "before_cursor_execute", note)
    return len(asked)


def add_rounds(store: Store, plant: Plant, count: int, *, now: datetime) -> None:
    engineer = plant.actor()
    for k in range(count):
        wish = RoundWish(
            name=f"Walk {k}",
            planned_on=DAY + timedelta(days=k),
            equipment_ids=tuple(plant.equipment_ids),
        )
        made = plan_round(store, engineer, wish, now=now)
        values = {name: getattr(details_of(made), name) for name in RoundDetails.__slots__}
        values |= {"person_id": plant.people[Role.TECHNICIAN]}
        edit_round(store, engineer, made.id, RoundDetails(**values), version=made.version, now=now)


def test_statements_do_not_grow_with_rounds(store: Store) -> None:
    plant = build_plant(store, boards=3)
    _, secret = make_feed(store, plant.actor(Role.TECHNICIAN), now=NOW)
    counts = []
    for more in (2, 12):
        add_rounds(store, plant, more, now=NOW)
        calendar = read_own_calendar(store, secret, now=NOW)
        counts.append(statements(store, lambda: read_own_calendar(store, secret, now=NOW)))
    assert len(calendar.entries) == 14
    assert counts[1] == counts[0] <= 20
