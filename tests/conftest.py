"""Shared ground: real databases made by the migrations, a fixed clock, closed sockets, loud skips."""

import os
import re
import shutil
import uuid
from collections.abc import Callable, Collection, Iterator
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings as hypothesis_settings
from pytest_socket import socket_allow_hosts
from sqlalchemy import create_engine, event
from xdist.scheduler import LoadScopeScheduling

from service.settings import ROOT, Settings
from service.storage.engine import open_engine
from service.storage.schema import upgrade
from service.storage.unit import Store
from tests.servers import (
    SharedDatabase,
    administer,
    database,
    drop,
    make_copy,
    running_server,
    with_driver,
)
from tests.statements import knowing_the_statements, without_flushing

#: The demonstration is loaded once for everybody who asks for it.
pytest_plugins = ("tests.demo_ground",)

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
IN_CI = bool(os.environ.get("CI"))
DEMONSTRATION = "demonstration"
#: Folders whose files take minutes.
LONG = ("browser", "reliability", "access", "jobs")
LOOPBACK = ["127.0.0.1", "::1", "localhost"]
#: What must not be skipped in CI, by the fixture that a test stands on.
NEEDED = {
    "postgres": ("postgres_server", "durable_postgres_server"),
    "browser": ("chromium",),
    "strace": ("strace",),
    "compiler": ("failing_disk",),
}

#: What some machines forbid: told as loudly, and no failure, since another test stands for it.
WANTED = {"mount": ("small_disk",)}

hypothesis_settings.register_profile("here", deadline=None)
hypothesis_settings.register_profile("ci", deadline=None, derandomize=True)
hypothesis_settings.load_profile("ci" if IN_CI else "here")


# ---- the rules of every run ----------------------------------------------------------------


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        fixtures = getattr(item, "fixturenames", ())
        for mark, needs in (NEEDED | WANTED).items():
            if any(name in fixtures for name in needs):
                item.add_marker(mark)
    # what takes longest begins: the demonstration's load, then browsers and servers that are killed;
    # at the end the processes share out many short files evenly
    items.sort(key=lambda item: (_ground_of(item.nodeid) != DEMONSTRATION, not _takes_long(item)))


def _takes_long(item: pytest.Item) -> bool:
    return item.path.parent.name in LONG


@cache
def _stands_on_the_demonstration(path: str) -> bool:
    file = ROOT / path
    return file.is_file() and bool(re.search(r"\bdemo_(store|database|world)\b", file.read_text("utf-8")))


def _ground_of(nodeid: str) -> str:
    path = nodeid.partition("::")[0]
    return DEMONSTRATION if _stands_on_the_demonstration(path) else path


class ByGround(LoadScopeScheduling):  # type: ignore[misc]
    """Where several processes share the tests, those that stand on the same ground stay together.

    A file stays in one process; so does all that stands on the demonstration, loaded once.
    """

    def _split_scope(self, nodeid: str) -> str:
        return _ground_of(nodeid)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> ByGround:
    return ByGround(config, log)


def pytest_runtest_setup() -> None:
    socket_allow_hosts(LOOPBACK, allow_unix_socket=True)


def _unproven(config: pytest.Config, marks: Collection[str]) -> list[pytest.TestReport]:
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter is not None else []
    return [report for report in skipped if any(mark in report.keywords for mark in marks)]


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    if IN_CI and _unproven(session.config, NEEDED):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    skipped = _unproven(config, NEEDED | WANTED)
    if skipped:
        terminalreporter.section("NOT PROVEN HERE", red=True, bold=True)
        for reason in sorted({str(report.longrepr[2]) for report in skipped if report.longrepr}):
            terminalreporter.write_line(reason, red=True)
        fails = IN_CI and bool(_unproven(config, NEEDED))
        told = f"{len(skipped)} tests were skipped" + ("; in CI that is a failure" if fails else "")
        terminalreporter.write_line(told, red=True)


# ---- clock ---------------------------------------------------------------------------------


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture
def clock() -> Callable[[], datetime]:
    return lambda: NOW


# ---- SQLite --------------------------------------------------------------------------------


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
    event.listen(engine, "connect", without_flushing)
    yield Store(knowing_the_statements(engine))
    engine.dispose()


@pytest.fixture
def flushing_store(sqlite_url: str) -> Iterator[Store]:
    """The same file as ``store`` has, opened as in production."""
    engine = open_engine(sqlite_url)
    yield Store(engine)
    engine.dispose()


# ---- PostgreSQL ----------------------------------------------------------------------------


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """Address of a PostgreSQL server: RISELINE_TEST_PG, or one started from a wheel (no fsync)."""
    given = os.environ.get("RISELINE_TEST_PG")
    if given:
        yield given
        return
    with running_server(durable=False) as address:
        yield address


@pytest.fixture(scope="session")
def durable_postgres_server() -> Iterator[str]:
    """A server of its own that flushes as in production: for what is said about durability."""
    with running_server(durable=True) as address:
        yield address


def _template(server: str) -> str:
    name = f"template_{uuid.uuid4().hex[:8]}"
    administer(server, f"CREATE DATABASE {name}")
    upgrade(with_driver(database(server, name)), migrations=ROOT / "migrations")
    return name


def _copy_of(server: str, template: str) -> Iterator[str]:
    name = f"test_{uuid.uuid4().hex[:12]}"
    yield make_copy(server, template, name)
    drop(server, name)


@pytest.fixture(scope="session")
def postgres_template(postgres_server: str) -> str:
    return _template(postgres_server)


@pytest.fixture(scope="session")
def postgres_shared(postgres_server: str, postgres_template: str) -> Iterator[SharedDatabase]:
    shared = SharedDatabase(postgres_server, postgres_template, f"shared_{uuid.uuid4().hex[:12]}")
    yield shared
    shared.drop()


@pytest.fixture
def postgres_url(postgres_shared: SharedDatabase) -> Iterator[str]:
    """The address of an empty database of this schema; emptied again when the test is over."""
    yield postgres_shared.url
    postgres_shared.empty()


@pytest.fixture(scope="session")
def durable_postgres_template(durable_postgres_server: str) -> str:
    return _template(durable_postgres_server)


@pytest.fixture
def durable_postgres_url(durable_postgres_server: str, durable_postgres_template: str) -> Iterator[str]:
    yield from _copy_of(durable_postgres_server, durable_postgres_template)


@pytest.fixture
def postgres_store(postgres_url: str) -> Iterator[Store]:
    engine = knowing_the_statements(open_engine(postgres_url))
    yield Store(engine)
    engine.dispose()


@pytest.fixture
def blank_postgres_url(postgres_server: str) -> Iterator[str]:
    """A database with nothing in it, not even tables."""
    yield from _copy_of(postgres_server, "template0")


# ---- either --------------------------------------------------------------------------------


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def any_url(request: pytest.FixtureRequest) -> str:
    """The address of an empty database of this schema, on both engines."""
    return str(request.getfixturevalue(f"{request.param}_url"))


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def any_store(request: pytest.FixtureRequest) -> Store:
    """The same test on both databases."""
    name = "store" if request.param == "sqlite" else "postgres_store"
    result: Store = request.getfixturevalue(name)
    return result


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def blank_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The address of a database without tables, on both engines."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'blank.db'}"
    return str(request.getfixturevalue("blank_postgres_url"))


@pytest.fixture
def settings(sqlite_url: str) -> Settings:
    return Settings(database_url=sqlite_url, demo=True, secure_cookies=False)
