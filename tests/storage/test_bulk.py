"""Many rows at once: keys drawn ahead are nobody else's, and a refusal is told as any other."""

from datetime import date

import pytest
from sqlalchemy import text

from service.errors import Conflict, Invalid
from service.storage.bulk import insert_rows, reserve_keys
from service.storage.tables.readings import StandingChangeRow
from service.storage.unit import Store
from tests.builders import build_plant


class TakenBackError(Exception):
    """Ends a unit of work without keeping it."""


def test_keys_drawn_ahead_follow_each_other(any_store: Store) -> None:
    with any_store.begin() as unit:
        assert list(reserve_keys(unit, "readings", 0)) == []
        keys = reserve_keys(unit, "readings", 3)
        assert list(keys) == list(range(keys[0], keys[0] + 3))


@pytest.mark.postgres
def test_keys_that_others_drew_in_between_are_left_out(postgres_store: Store) -> None:
    """A sequence that leaves out every second number stands for another upload at the same time."""
    with pytest.raises(TakenBackError), postgres_store.begin() as unit:
        unit.connection.execute(text("ALTER SEQUENCE readings_id_seq INCREMENT BY 2"))
        keys = reserve_keys(unit, "readings", 4)
        assert sorted(keys) == [min(keys) + 2 * place for place in range(4)]
        assert reserve_keys(unit, "readings", 1)[0] > max(keys)
        raise TakenBackError


def test_rows_whose_key_is_taken_are_refused_as_a_conflict(any_store: Store) -> None:
    """On PostgreSQL a refused COPY came through as the driver's own error, which no door knows."""
    plant = build_plant(any_store)
    names = ("id", "point_id", "site_id", "on", "at_least", "trend", "cause")
    row = (1, plant.point_ids[0], plant.site_ids[0], date(2026, 11, 24), False, "steady", "a test")
    with pytest.raises(Conflict), any_store.begin() as unit:
        insert_rows(unit, StandingChangeRow, names, rows=[row, row])


def test_a_number_beyond_64_bits_is_refused(any_store: Store) -> None:
    plant = build_plant(any_store)
    names = ("id", "point_id", "site_id", "on", "at_least", "trend", "cause", "level")
    row = (1, plant.point_ids[0], plant.site_ids[0], date(2026, 11, 24), False, "steady", "a test", 2**70)
    with pytest.raises(Invalid), any_store.begin() as unit:
        insert_rows(unit, StandingChangeRow, names, rows=[row])


@pytest.mark.postgres
def test_a_number_beyond_32_bits_is_refused_not_cut_off(postgres_store: Store) -> None:
    """In a binary COPY the driver writes the low 32 bits of an INTEGER and says nothing: 2^40 became 0."""
    plant = build_plant(postgres_store)
    names = ("id", "point_id", "site_id", "on", "at_least", "trend", "cause", "level")
    row = (1, plant.point_ids[0], plant.site_ids[0], date(2026, 11, 24), False, "steady", "a test", 2**40)
    with pytest.raises(Invalid), postgres_store.begin() as unit:
        insert_rows(unit, StandingChangeRow, names, rows=[row])
