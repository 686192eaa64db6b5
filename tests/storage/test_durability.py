"""An acknowledged commit has reached the disk, and a database that cannot promise it is refused."""

import errno
import os
import threading
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine, text

from service.errors import StorageFull, Unavailable
from service.settings import ROOT
from service.storage.engine import open_engine, refuse_unsafe_durability
from service.storage.files import FileShelf
from service.storage.unit import Store
from service.usecases.record.verify import verify
from tests.servers import administer, database

FULL = 2


def test_every_connection_of_the_pool_flushes_each_commit(flushing_store: Store) -> None:
    seen: list[tuple[int, str, int]] = []
    together = threading.Barrier(4)

    def look() -> None:
        with flushing_store.look() as unit:
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


def test_our_own_engine_is_accepted(flushing_store: Store) -> None:
    refuse_unsafe_durability(flushing_store.engine)


def test_sqlite_below_full_is_refused(plain_engine: Engine) -> None:
    with plain_engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA synchronous=normal")
    with pytest.raises(Unavailable, match="below FULL"):
        refuse_unsafe_durability(plain_engine)
    plain_engine.dispose()


def test_sqlite_without_a_write_ahead_log_is_refused(plain_engine: Engine) -> None:
    with plain_engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA journal_mode=delete")
    with pytest.raises(Unavailable, match="journal_mode=delete"):
        refuse_unsafe_durability(plain_engine)
    plain_engine.dispose()


def test_a_test_may_start_on_it_and_the_log_says_so(
    plain_engine: Engine, caplog: pytest.LogCaptureFixture
) -> None:
    with plain_engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA synchronous=normal")
    refuse_unsafe_durability(plain_engine, allowed=True)
    assert "below FULL: a power cut may take what was acknowledged" in caplog.text
    plain_engine.dispose()


@pytest.mark.postgres
def test_verify_tells_what_the_database_does_not_flush(postgres_store: Store, tmp_path: Path) -> None:
    url = postgres_store.engine.url.render_as_string(hide_password=False)
    files = FileShelf(tmp_path)
    told = verify(postgres_store, url, migrations=ROOT / "migrations", files=files, shelf=files)
    assert told == [
        "PostgreSQL runs with fsync=off and synchronous_commit=off and full_page_writes=off. "
        "Set fsync=on and synchronous_commit=on and full_page_writes=on, then start again."
    ]


@pytest.mark.parametrize("setting", ["fsync", "synchronous_commit", "full_page_writes"])
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


# ---- files --------------------------------------------------------------------------------------

NAME = f"rasters/ab/{'ab' * 32}.csv"


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (errno.ENOSPC, StorageFull),
        (errno.EDQUOT, StorageFull),
        (errno.EIO, Unavailable),
        (errno.EROFS, Unavailable),
    ],
)
def test_a_disk_that_refuses_a_file_is_told_as_such(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, told: type[Exception]
) -> None:
    def refuse(_handle: int) -> None:
        raise OSError(number, os.strerror(number))

    shelf = FileShelf(tmp_path / "files")
    with monkeypatch.context() as patched, pytest.raises(told, match="cannot be kept"):
        patched.setattr("service.storage.files.os.fsync", refuse)
        shelf.keep(NAME, b"content")
    shelf.keep(NAME, b"content")
    assert shelf.read(NAME) == b"content"


def test_every_folder_that_a_new_file_made_is_flushed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    flushed: list[str] = []
    flush = os.fsync

    def noting(handle: int) -> None:
        flushed.append(os.readlink(f"/proc/self/fd/{handle}"))
        flush(handle)

    monkeypatch.setattr("service.storage.files.os.fsync", noting)
    shelf = FileShelf(tmp_path / "files")
    shelf.keep(NAME, b"content")
    folders = {str(tmp_path / part) for part in ("files/rasters/ab", "files/rasters", "files", "")}
    assert folders <= set(flushed)
    flushed.clear()
    shelf.keep(NAME, b"content")
    assert str(tmp_path / "files/rasters/ab") in flushed, "who put it there may not have flushed it yet"
