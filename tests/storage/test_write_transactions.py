"""Two writers wait for each other; nobody fails on a stale snapshot (stack: BEGIN IMMEDIATE)."""

import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from sqlalchemy import text

from service.storage.unit import Store
from tests.builders import build_plant

ROUNDS = 60
PROCESSES = 4

#: Reads a number, adds one, writes it back: the read-then-write of every use case.
OURS = """
import sys
from sqlalchemy import text
from service.storage.engine import open_engine
from service.storage.unit import Store
store = Store(open_engine(sys.argv[1]))
for _ in range(int(sys.argv[2])):
    with store.begin() as unit:
        seen = unit.session.execute(text("SELECT setup_minutes FROM sites")).scalar_one()
        unit.session.execute(text("UPDATE sites SET setup_minutes = :n"), {"n": seen + 1})
"""

#: The same with the driver's own deferred transactions: the broken twin.
DEFERRED = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1].removeprefix("sqlite:///"), timeout=5, isolation_level=None)
failed = 0
for _ in range(int(sys.argv[2])):
    try:
        connection.execute("BEGIN")
        seen, = connection.execute("SELECT setup_minutes FROM sites").fetchone()
        connection.execute("UPDATE sites SET setup_minutes = ?", (seen + 1,))
        connection.execute("COMMIT")
    except sqlite3.OperationalError:
        failed += 1
        if connection.in_transaction:
            connection.execute("ROLLBACK")
sys.exit(min(failed, 100))
"""


def write_from_many_processes(program: str, url: str) -> list[int]:
    running = [subprocess.Popen([sys.executable, "-c", program, url, str(ROUNDS)]) for _ in range(PROCESSES)]
    return [process.wait(timeout=120) for process in running]


def test_four_processes_that_read_then_write_lose_nothing_and_none_fails(
    sqlite_url: str, store: Store
) -> None:
    build_plant(store)
    with store.begin() as unit:
        unit.session.execute(text("UPDATE sites SET setup_minutes = 0"))
    assert write_from_many_processes(OURS, sqlite_url) == [0] * PROCESSES
    with store.look() as unit:
        total = unit.session.execute(text("SELECT setup_minutes FROM sites")).scalar_one()
    assert total == ROUNDS * PROCESSES


def test_the_same_with_deferred_transactions_fails(sqlite_url: str, store: Store) -> None:
    """Else the test above would prove nothing."""
    build_plant(store)
    assert sum(write_from_many_processes(DEFERRED, sqlite_url)) > 0


def test_a_writer_waits_for_the_one_before_it(any_store: Store) -> None:
    """Threads of one process, as the web server has them."""
    build_plant(any_store)
    with any_store.begin() as unit:
        unit.session.execute(text("UPDATE sites SET setup_minutes = 0"))

    def add_one() -> None:
        for _ in range(20):
            with any_store.begin() as unit:
                lock = "" if unit.dialect == "sqlite" else " FOR UPDATE"
                seen = unit.session.execute(text(f"SELECT setup_minutes FROM sites{lock}")).scalar_one()
                unit.session.execute(text("UPDATE sites SET setup_minutes = :n"), {"n": seen + 1})

    threads = [threading.Thread(target=add_one) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with any_store.look() as unit:
        assert unit.session.execute(text("SELECT setup_minutes FROM sites")).scalar_one() == 80


def test_what_a_block_wrote_is_gone_when_it_raises(any_store: Store) -> None:
    build_plant(any_store)
    with pytest.raises(RuntimeError), any_store.begin() as unit:
        unit.session.execute(text("UPDATE sites SET name = 'half done'"))
        raise RuntimeError
    with any_store.look() as unit:
        assert unit.session.execute(text("SELECT name FROM sites")).scalar_one() == "Site 1"


def test_tables_made_in_a_transaction_go_with_it(any_store: Store) -> None:
    """The driver's own transactions leave such tables behind (stack: DDL must be transactional)."""
    with pytest.raises(RuntimeError), any_store.begin() as unit:
        unit.session.execute(text("CREATE TABLE half_way (id INTEGER)"))
        raise RuntimeError
    with any_store.begin() as unit:
        unit.session.execute(text("CREATE TABLE half_way (id INTEGER)"))


def test_the_drivers_own_transactions_do_leave_tables_behind(tmp_path: Path) -> None:
    """The trap itself; when this fails, the driver has changed and the recipe may go."""
    connection = sqlite3.connect(tmp_path / "twin.db")
    connection.execute("CREATE TABLE half_way (id INTEGER)")
    connection.rollback()
    left = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    connection.close()
    assert left == (1,)
