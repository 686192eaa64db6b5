"""A row held by a writing unit: asked for once, and never given when it is gone."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Engine, delete, event

from service.storage.rounds import lock_round
from service.storage.tables.rounds import RoundMoveRow, RoundRow, StopRow
from service.storage.unit import Store
from service.storage.versions import locked_row
from tests.conftest import NOW
from tests.rounds.builders import draft


@contextmanager
def statements(engine: Engine) -> Iterator[list[str]]:
    told: list[str] = []

    def keep(_connection: object, _cursor: object, statement: str, *_: object) -> None:
        told.append(statement)

    event.listen(engine, "before_cursor_execute", keep)
    yield told
    event.remove(engine, "before_cursor_execute", keep)


def test_what_a_unit_holds_is_not_asked_again_and_its_changes_stay(any_store: Store) -> None:
    round_id = draft(any_store).round.id
    with any_store.begin() as unit:
        row = locked_row(unit, RoundRow, round_id)
        assert row is not None
        row.note, row.changed_at = "not yet written", NOW
        with statements(any_store.engine) as told:
            again = lock_round(unit, round_id)
        assert again is not None
        assert (again.note, told) == ("not yet written", [])
    with any_store.look() as unit:
        kept = unit.session.get(RoundRow, round_id)
        assert kept is not None
        assert kept.note == "not yet written"


def test_the_next_unit_asks_for_itself(any_store: Store) -> None:
    round_id = draft(any_store).round.id
    for note in ("first", "second"):
        with any_store.begin() as unit, statements(any_store.engine) as told:
            row = locked_row(unit, RoundRow, round_id)
            assert row is not None
            row.note = note
            assert any("FROM rounds" in statement for statement in told)


def test_a_row_that_the_unit_has_deleted_is_not_given(any_store: Store) -> None:
    round_id = draft(any_store).round.id
    with any_store.begin() as unit:
        assert locked_row(unit, RoundRow, round_id) is not None
        for part in (StopRow, RoundMoveRow):
            unit.session.execute(delete(part).where(part.round_id == round_id))
        unit.session.execute(delete(RoundRow).where(RoundRow.id == round_id))
        assert locked_row(unit, RoundRow, round_id) is None
