"""What a page asks for is found by an index: no page goes through all that the plant ever sent."""

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import event

from service.storage import carried_over, spoken_notes, typed_permits
from service.storage.unit import Store, Unit


def steps_of(store: Store, asked: Callable[[Unit], object]) -> list[str]:
    """How SQLite finds the rows of every statement that ``asked`` sends."""
    sent: list[tuple[str, Any]] = []

    def keep(_conn: Any, _cursor: Any, statement: str, values: Any, _context: Any, _many: bool) -> None:
        sent.append((statement, values))

    with store.look() as unit:
        event.listen(store.engine, "before_cursor_execute", keep)
        try:
            asked(unit)
        finally:
            event.remove(store.engine, "before_cursor_execute", keep)
        plain = unit.session.connection()
        return [
            str(row[3])
            for statement, values in sent
            for row in plain.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values)
        ]


@pytest.mark.parametrize(
    ("asked", "found_by"),
    [
        (lambda unit: spoken_notes.notes_of_round(unit, 1), "ix_spoken_notes_round_id"),
        (lambda unit: spoken_notes.notes_of_row(unit, 1, round_id=1), "ix_spoken_notes_round_id"),
        (
            lambda unit: spoken_notes.notes_of_point(unit, 1, site_ids=frozenset({1})),
            "ix_spoken_notes_point_id",
        ),
        (lambda unit: typed_permits.of_permit(unit, 1), "ix_typed_permits_permit_id"),
        (lambda unit: typed_permits.of_round(unit, 1), "ix_typed_permits_permit_id"),
        (
            lambda unit: carried_over.unread_of_equipment(unit, 1),
            "ix_readings_not_assessable (point_id=?",
        ),
    ],
    ids=[
        "notes of a round",
        "notes of a reading",
        "notes of a point",
        "permit",
        "permits of a round",
        "unread",
    ],
)
def test_all_that_was_ever_sent_was_gone_through_for_a_few(
    store: Store, asked: Callable[[Unit], object], found_by: str
) -> None:
    steps = steps_of(store, asked)
    assert [step for step in steps if found_by in step], steps
    # keys that the statement brings along are no table of the plant's
    assert [step for step in steps if step.startswith("SCAN") and "VIRTUAL TABLE" not in step] == []
