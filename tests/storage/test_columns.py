"""Types and checks that must behave alike on both databases."""

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select, text
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.exc import StatementError
from sqlalchemy.orm import Session
from sqlalchemy.schema import CreateTable

from service.domain.words import Role
from service.errors import Conflict
from service.storage.tables import metadata
from service.storage.tables.base import UtcDateTime
from service.storage.tables.people import LoginTryRow, PersonRow
from service.storage.unit import Store
from tests.builders import STAMPS, build_plant

KATHMANDU = timezone(timedelta(hours=5, minutes=45))


def test_an_instant_comes_back_as_utc_whatever_zone_it_went_in_with(any_store: Store) -> None:
    there = datetime(2026, 3, 29, 2, 30, 15, 123456, tzinfo=KATHMANDU)
    with any_store.begin() as unit:
        unit.session.add(LoginTryRow(key="a", at=there))
    with any_store.look() as unit:
        back = unit.session.scalars(select(LoginTryRow.at)).one()
    assert back == there
    assert back.utcoffset() == timedelta(0)


def test_instants_of_different_zones_are_compared_as_instants(any_store: Store) -> None:
    """As text, 08:00+05:45 would lie after 07:00+00:00."""
    early = datetime(2026, 11, 25, 8, 0, tzinfo=KATHMANDU)
    late = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
    with any_store.begin() as unit:
        unit.session.add_all([LoginTryRow(key="late", at=late), LoginTryRow(key="early", at=early)])
    with any_store.look() as unit:
        assert list(unit.session.scalars(select(LoginTryRow.key).order_by(LoginTryRow.at))) == [
            "early",
            "late",
        ]
        assert list(unit.session.scalars(select(LoginTryRow.key).where(LoginTryRow.at < late))) == ["early"]


def test_an_instant_without_a_zone_is_refused(any_store: Store) -> None:
    with pytest.raises(StatementError, match="needs its time zone"), any_store.begin() as unit:
        unit.session.add(LoginTryRow(key="a", at=datetime(2026, 11, 25, 8, 0)))
        unit.session.flush()


@given(
    moment=st.datetimes(min_value=datetime(1970, 1, 2), max_value=datetime(2099, 12, 30)),
    minutes=st.integers(-14 * 60, 14 * 60),
)
def test_binding_and_reading_an_instant_are_inverse(moment: datetime, minutes: int) -> None:
    aware = moment.replace(tzinfo=timezone(timedelta(minutes=minutes)))
    kind = UtcDateTime()
    for dialect in (sqlite.dialect(), postgresql.dialect()):
        assert kind.process_result_value(kind.process_bind_param(aware, dialect), dialect) == aware


def test_every_number_key_is_wide_on_postgres_and_numbers_itself_on_sqlite() -> None:
    keyed = [
        table for table in metadata.sorted_tables if "id" in table.c and table.c.id.autoincrement is not False
    ]
    assert len(keyed) > 20
    for table in keyed:
        assert "id BIGSERIAL" in str(CreateTable(table).compile(dialect=postgresql.dialect())), table.name
        assert "id INTEGER NOT NULL" in str(CreateTable(table).compile(dialect=sqlite.dialect())), table.name


def person(**change: Any) -> PersonRow:
    fields: dict[str, Any] = {
        "login": "someone",
        "name": "Some One",
        "role": Role.ENGINEER.value,
        "password_hash": "!",
        **STAMPS,
    }
    return PersonRow(**(fields | change))


def test_a_check_written_by_hand_holds_on_both(any_store: Store) -> None:
    with pytest.raises(Conflict), any_store.begin() as unit:
        unit.session.add(person(role="wizard"))
    with pytest.raises(Conflict), any_store.begin() as unit:
        unit.session.add(person(role=""))
    with any_store.begin() as unit:
        unit.session.add(person())


@pytest.mark.parametrize(
    ("table", "column", "bad", "good"),
    [
        ("sites", "latitude", 90.01, 90),
        ("points", "emissivity", 0, 0.95),
        ("points", "kind", "'a lucky charm'", "'joint'"),
        ("equipment", "minutes", 601, 600),
    ],
)
def test_values_outside_their_range_are_refused_at_the_edge(
    any_store: Store, table: str, column: str, bad: object, good: object
) -> None:
    build_plant(any_store)
    with pytest.raises(Conflict), any_store.begin() as unit:
        unit.session.execute(text(f"UPDATE {table} SET {column} = {bad}"))
    with any_store.begin() as unit:
        unit.session.execute(text(f"UPDATE {table} SET {column} = {good}"))


def test_a_child_without_its_parent_is_refused(any_store: Store) -> None:
    with pytest.raises(Conflict), any_store.begin() as unit:
        unit.session.execute(
            text("INSERT INTO grants (person_id, client_id) VALUES (:absent, :absent)"), {"absent": 999}
        )


def test_a_parent_with_children_cannot_be_deleted(any_store: Store) -> None:
    build_plant(any_store)
    with pytest.raises(Conflict), any_store.begin() as unit:
        unit.session.execute(text("DELETE FROM sites"))


def test_no_session_stays_open_after_a_unit(any_store: Store) -> None:
    with any_store.begin() as unit:
        kept: Session = unit.session
    assert not kept.in_transaction()
