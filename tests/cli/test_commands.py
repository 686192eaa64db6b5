"""What an operator does by hand: migrate, verify, back up, open the first account."""

import io
import os
import sqlite3
import subprocess
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import select, text

from service import cli
from service.storage import jobs
from service.storage.copies import copy_database
from service.storage.engine import open_engine
from service.storage.tables import metadata
from service.storage.tables.people import PersonRow
from service.storage.unit import Store
from tests.builders import build_plant
from tests.rasters.builders import returned
from tests.servers import programs

Run = Callable[..., int]
PASSWORD = "seven gulls over the weir"


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    """The command as an operator calls it, with these settings."""

    def call(*arguments: str, **settings: object) -> int:
        for name, value in settings.items():
            monkeypatch.setenv(f"RISELINE_{name.upper()}", str(value))
        return cli.main(arguments)

    return call


def rows_of(url: str) -> dict[str, list[tuple[object, ...]]]:
    store = Store(open_engine(url))
    with store.look() as unit:
        found = {
            table.name: [
                tuple(row) for row in unit.session.execute(select(table).order_by(*table.primary_key))
            ]
            for table in metadata.sorted_tables
        }
    store.engine.dispose()
    return found


def test_migrate_makes_a_database_and_says_so(
    run: Run, blank_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("migrate", database_url=blank_url) == 0
    assert run("migrate") == 0
    first, second = capsys.readouterr().out.splitlines()
    assert "already" not in first
    assert "already" in second


@pytest.mark.parametrize("engine", ["sqlite", pytest.param("durable_postgres", marks=pytest.mark.postgres)])
def test_a_whole_database_is_told_whole(run: Run, request: pytest.FixtureRequest, engine: str) -> None:
    url = request.getfixturevalue(f"{engine}_url")
    store = Store(open_engine(url))
    build_plant(store)
    store.engine.dispose()
    assert run("verify", database_url=url) == 0


def test_a_database_of_no_version_is_not_told_whole(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("verify", database_url=f"sqlite:///{tmp_path / 'none.db'}") == 1
    assert "riseline migrate" in capsys.readouterr().out


def test_verify_names_a_row_without_its_parent(
    run: Run, store: Store, sqlite_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    build_plant(store)
    store.engine.dispose()
    with closing(sqlite3.connect(sqlite_url.removeprefix("sqlite:///"))) as careless:
        careless.execute("DELETE FROM clients")
        careless.commit()
    assert run("verify", database_url=sqlite_url) == 1
    assert "points to a clients that is not there" in capsys.readouterr().out


def test_verify_names_a_damaged_page(run: Run, store: Store, sqlite_url: str) -> None:
    build_plant(store, sites=3, boards=4)
    with store.engine.connect() as connection:
        connection.exec_driver_sql("COMMIT")
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    store.engine.dispose()
    file = Path(sqlite_url.removeprefix("sqlite:///"))
    bytes_ = bytearray(file.read_bytes())
    with closing(sqlite3.connect(file)) as connection:
        (root,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'points'").fetchone()
        (size,) = connection.execute("PRAGMA page_size").fetchone()
    bytes_[(root - 1) * size : (root - 1) * size + 200] = b"\xaa" * 200
    file.write_bytes(bytes_)
    assert run("verify", database_url=sqlite_url) == 1


def test_a_backup_holds_every_row_and_opens_as_a_database(
    run: Run, store: Store, sqlite_url: str, tmp_path: Path
) -> None:
    build_plant(store, sites=2)
    copy = tmp_path / "copy.db"
    assert run("backup", "--to", str(copy), database_url=sqlite_url) == 0
    assert rows_of(f"sqlite:///{copy}") == rows_of(sqlite_url)
    assert run("verify", database_url=f"sqlite:///{copy}") == 0


def test_a_backup_is_one_instant_while_others_write(store: Store, sqlite_url: str, tmp_path: Path) -> None:
    """A transaction that is open during the copy is in it whole or not at all."""
    build_plant(store)
    with store.begin() as unit:
        unit.session.execute(text("UPDATE sites SET name = 'half done'"))
        copy_database(sqlite_url, tmp_path / "copy.db")
        unit.session.execute(text("UPDATE areas SET name = 'half done'"))
    with closing(sqlite3.connect(tmp_path / "copy.db")) as copy:
        assert copy.execute("SELECT name FROM sites").fetchall() == [("Site 1",)]


def test_a_dump_of_postgres_restores_to_the_same_rows(
    run: Run,
    postgres_store: Store,
    postgres_url: str,
    blank_postgres_url: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    build_plant(postgres_store, sites=2)
    monkeypatch.setenv("PATH", str(programs()), prepend=os.pathsep)
    copy = tmp_path / "copy.dump"
    assert run("backup", "--to", str(copy), database_url=postgres_url) == 0
    target = blank_postgres_url.replace("postgresql+psycopg:", "postgresql:")
    restore = [programs() / "pg_restore", "--exit-on-error", "--dbname", target, copy]
    subprocess.run(restore, check=True, capture_output=True)
    assert rows_of(blank_postgres_url) == rows_of(postgres_url)


def test_without_pg_dump_the_command_says_what_is_missing(
    run: Run,
    postgres_url: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert run("backup", "--to", str(tmp_path / "copy.dump"), database_url=postgres_url) == 1
    assert "pg_dump is not here" in capsys.readouterr().err


def test_a_backup_never_writes_over_another(run: Run, store: Store, sqlite_url: str, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    copy.write_text("the last good one")
    assert run("backup", "--to", str(copy), database_url=sqlite_url) == 1
    assert copy.read_text() == "the last good one"
    assert list(tmp_path.glob("*.half")) == []


def test_a_backup_into_a_folder_is_named_by_its_instant(
    run: Run, store: Store, sqlite_url: str, tmp_path: Path
) -> None:
    assert run("backup", "--to", str(tmp_path / "kept"), database_url=sqlite_url) == 0
    (made,) = (tmp_path / "kept").iterdir()
    assert made.name.startswith("riseline-20")
    assert made.suffix == ".db"


def test_the_first_administrator_is_opened_from_standard_input(
    run: Run, store: Store, sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{PASSWORD}\n"))
    assert run("add-administrator", "--login", "ada", "--name", "Ada Weir", database_url=sqlite_url) == 0
    with store.look() as unit:
        person = unit.session.scalars(select(PersonRow)).one()
    assert (person.login, person.role, person.active) == ("ada", "administrator", True)
    assert PASSWORD not in person.password_hash


def test_a_weak_password_is_refused_with_its_reason(
    run: Run,
    store: Store,
    sqlite_url: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("short\n"))
    assert run("add-administrator", "--login", "ada", "--name", "Ada", database_url=sqlite_url) == 1
    assert "at least 15 characters" in capsys.readouterr().err


def test_work_check_tells_a_job_that_nobody_takes(
    run: Run, store: Store, sqlite_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("work", "--check", database_url=sqlite_url) == 0
    with store.begin() as unit:
        jobs.put(unit, "assess trends", {}, now=datetime.now(UTC) - timedelta(minutes=4))
    assert run("work", "--check") == 0
    with store.begin() as unit:
        jobs.put(unit, "assess trends", {}, now=datetime.now(UTC) - timedelta(minutes=6))
    assert run("work", "--check") == 1
    assert "is a worker running?" in capsys.readouterr().out


def test_a_database_without_its_folder_of_files_is_not_told_whole(
    run: Run, store: Store, sqlite_url: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    brought = returned(store)
    brought.bring()
    with store.begin() as unit:
        unit.session.execute(text("DELETE FROM jobs"))
    assert run("verify", database_url=sqlite_url, files=brought.files.folder) == 0
    assert run("verify", files=tmp_path / "elsewhere") == 1
    assert "1 files of rasters are not in" in capsys.readouterr().out
    assert run("backup", "--to", str(tmp_path / "copy.db"), files=brought.files.folder) == 0
    assert f"Copy {brought.files.folder} too" in capsys.readouterr().out


def test_verify_names_jobs_that_failed_for_good(
    run: Run, store: Store, sqlite_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with store.begin() as unit:
        jobs.put(unit, "assess trends", {}, now=datetime.now(UTC))
        unit.session.execute(text("UPDATE jobs SET state = 'failed'"))
    assert run("verify", database_url=sqlite_url) == 1
    assert "1 jobs that failed for good" in capsys.readouterr().out


def test_a_setting_that_is_no_number_is_named(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("verify", port="many") == 1
    assert "RISELINE_PORT" in capsys.readouterr().err


def test_the_demo_is_loaded_in_demo_mode_only(
    run: Run, store: Store, sqlite_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("load-demo", database_url=sqlite_url, demo=False) == 1
    assert "demo mode only" in capsys.readouterr().err


def test_the_demo_never_takes_the_place_of_peoples_data(
    run: Run, store: Store, sqlite_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    build_plant(store)
    before = rows_of(sqlite_url)
    assert run("load-demo", database_url=sqlite_url, demo=True) == 1
    assert "people in this database" in capsys.readouterr().err
    assert rows_of(sqlite_url) == before
