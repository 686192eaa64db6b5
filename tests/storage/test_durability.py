"""An acknowledged commit has reached the disk, and a database that cannot promise it is refused."""

import threading

import pytest
from sqlalchemy import Engine, create_engine, text

from service.errors import Unavailable
from service.storage.engine import open_engine, refuse_unsafe_durability
from service.storage.unit import Store
from tests.servers import administer, database

FULL = 2


def test_every_connection_of_the_pool_flushes_each_commit(store: Store) -> None:
    seen: list[tuple[int, str, int]] = []
    together = threading.Barrier(4)

    def look() -> None:
        with store.look() as unit:
            together.wait(timeout=30)
            execute = unit.session.execute
            seen.append(
                (
                    execute(text("PRAGMA synchronous")).scalar_one(),
                    execute(text("PRAGMA journal_mode")).scalar_one(),
                    execute(text("PRAGMA foreign_keys")).scalar_one(),
                )
            )

    threads = [threading.Thread(target=look) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert seen == [(FULL, "wal", 1)] * 4


@pytest.fixture
def plain_engine(sqlite_url: str) -> Engine:
    return create_engine(sqlite_url)


def test_our_own_engine_is_accepted(store: Store) -> None:
    refuse_unsafe_durability(store.engine)


def test_sqlite_below_full_is_refused(plain_engine: Engine) -> None:
    with plain_engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA synchronous=normal")
    with pytest.raises(Unavailable, match="below FULL"):
        refuse_unsafe_durability(plain_engine)
    plain_engine.dispose()


@pytest.mark.parametrize("setting", ["fsync", "synchronous_commit"])
def test_postgres_that_does_not_flush_is_refused(durable_postgres_server: str, setting: str) -> None:
    engine = open_engine(
        database(durable_postgres_server, "postgres").replace("postgresql:", "postgresql+psycopg:")
    )
    refuse_unsafe_durability(engine)
    engine.dispose()
    administer(durable_postgres_server, f"ALTER SYSTEM SET {setting} = off")
    administer(durable_postgres_server, "SELECT pg_reload_conf()")
    try:
        with pytest.raises(Unavailable, match=setting):
            _refuse_when_reloaded(engine, setting)
    finally:
        administer(durable_postgres_server, f"ALTER SYSTEM RESET {setting}")
        administer(durable_postgres_server, "SELECT pg_reload_conf()")
        engine.dispose()


def _refuse_when_reloaded(engine: Engine, setting: str) -> None:
    """New connections see the new value once the server has read its file again."""
    for _ in range(1000):
        with engine.connect() as connection:
            if connection.execute(text(f"SHOW {setting}")).scalar_one() == "off":
                break
    refuse_unsafe_durability(engine)
