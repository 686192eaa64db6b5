"""The demonstration for tests: loaded once a session by the tests' clock, copied for each test."""

import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import Engine, event

from service.storage.engine import open_engine
from service.storage.files import FileShelf
from service.storage.unit import Store
from tests.statements import knowing_the_statements, without_flushing

if TYPE_CHECKING:
    from seed_data.world import World


def fill(template: Path, target: Path, world: "World", *, now: datetime) -> Path:
    """A file with a world loaded into it, in one piece and ready to be copied."""
    from seed_data.load import load_world
    from tests.doors import files_of

    shutil.copy(template, target)
    engine = open_engine(f"sqlite:///{target}")
    event.listen(engine, "connect", without_flushing)
    store = Store(engine)
    shelf = FileShelf(files_of(store))
    load_world(store, world, now=now, say=lambda _: None, files=shelf, pictures=shelf)
    settle(engine)
    return target


def settle(engine: Engine) -> None:
    """Bring the log into the file itself and let go of it."""
    with engine.connect() as connection:
        connection.exec_driver_sql("COMMIT")
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    engine.dispose()


@pytest.fixture(scope="session")
def demo_world() -> "World":
    """The truth that the demonstration is loaded from; tests may know it, the service never does."""
    from seed_data.world import build_world
    from tests.conftest import NOW

    return build_world(NOW.date())


@pytest.fixture(scope="session")
def demo_database(
    sqlite_template: Path, demo_world: "World", tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """The invented utility in a file: five years, loaded once a session."""
    from tests.conftest import NOW

    return fill(sqlite_template, tmp_path_factory.mktemp("demo") / "demo.db", demo_world, now=NOW)


@pytest.fixture
def demo_store(demo_database: Path, tmp_path: Path) -> Iterator[Store]:
    """A copy of the demonstration that a test may change; its files never change and are shared."""
    from tests.doors import files_of

    path = tmp_path / "demo.db"
    shutil.copy(demo_database, path)
    engine = knowing_the_statements(open_engine(f"sqlite:///{path}"))
    files_of(Store(engine)).symlink_to(demo_database.with_name(f"{demo_database.name}.files"))
    yield Store(engine)
    engine.dispose()
