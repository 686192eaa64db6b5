"""look() gives a unit in which the database itself refuses to write."""

import pytest
from sqlalchemy import text

from service.errors import RiselineError
from service.storage.unit import Store
from tests.builders import build_plant

WRITE = text("UPDATE sites SET name = 'written while looking'")


def test_a_write_in_a_look_is_refused_by_the_database(any_store: Store) -> None:
    build_plant(any_store)
    with pytest.raises(RiselineError), any_store.look() as unit:
        unit.session.execute(WRITE)


def test_the_same_connection_may_write_afterwards(any_store: Store) -> None:
    build_plant(any_store)
    with pytest.raises(RiselineError), any_store.look() as unit:
        unit.session.execute(WRITE)
    with any_store.begin() as unit:
        unit.session.execute(WRITE)
    with any_store.look() as unit:
        assert unit.session.execute(text("SELECT name FROM sites")).scalar_one() == "written while looking"


def test_a_look_sees_one_state_however_long_it_lasts(store: Store) -> None:
    build_plant(store)
    with store.look() as looking:
        assert looking.session.execute(text("SELECT name FROM sites")).scalar_one() == "Site 1"
        with store.begin() as writing:
            writing.session.execute(WRITE)
        assert looking.session.execute(text("SELECT name FROM sites")).scalar_one() == "Site 1"
