"""Migrating a database that people have worked in: nothing lost, nothing half done, a copy first."""

import shutil
import signal
import subprocess
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import create_engine, event, select, text

from service.errors import Conflict
from service.settings import ROOT
from service.storage.engine import open_engine
from service.storage.schema import downgrade, revisions, upgrade
from service.storage.tables import metadata
from service.storage.unit import Store
from service.usecases.record.migrate import migrate, require_newest
from tests.builders import build_plant
from tests.programs import Program

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)

#: Rebuilds a table that others point to: what batch mode does for any change SQLite cannot make.
REBUILD = '''
"""Rebuild the sites, parents of many."""
import sqlalchemy as sa
from alembic import op

revision, down_revision = "9001", "{before}"

def upgrade():
    with op.batch_alter_table("sites", recreate="{recreate}") as batch:
        batch.add_column(sa.Column("nickname", sa.String(), nullable=False, server_default=""))
{more}

def downgrade():
    with op.batch_alter_table("sites", recreate="{recreate}") as batch:
        batch.drop_column("nickname")
'''


def _with_rebuild(folder: Path, *, dialect: str, more: str = "") -> Path:
    """Our migrations and one more, which no release has."""
    _, newest = revisions("sqlite://", migrations=ROOT / "migrations")
    shutil.copytree(ROOT / "migrations", folder, ignore=shutil.ignore_patterns("__pycache__"))
    recreate = "always" if dialect == "sqlite" else "never"
    program = REBUILD.format(before=newest, recreate=recreate, more=more)
    (folder / "versions" / "9001_rebuild_sites.py").write_text(program)
    return folder


def _rows(store: Store) -> dict[str, list[tuple[object, ...]]]:
    with store.look() as unit:
        return {
            table.name: [
                tuple(row) for row in unit.session.execute(select(table).order_by(*table.primary_key))
            ]
            for table in metadata.sorted_tables
        }


@pytest.fixture
def filled(any_store: Store) -> Store:
    build_plant(any_store, sites=3, boards=2, bearings=1)
    return any_store


def _url(store: Store) -> str:
    return store.engine.url.render_as_string(hide_password=False)


def test_rebuilding_a_parent_keeps_every_row_of_its_children(filled: Store, tmp_path: Path) -> None:
    folder = _with_rebuild(tmp_path / "m", dialect=filled.engine.dialect.name)
    before = _rows(filled)
    filled.engine.dispose()
    upgrade(_url(filled), migrations=folder)
    assert _rows(filled) == before
    filled.engine.dispose()
    downgrade(_url(filled), "-1", migrations=folder)
    assert _rows(filled) == before
    filled.engine.dispose()
    upgrade(_url(filled), migrations=folder)
    assert _rows(filled) == before


def test_with_foreign_keys_on_the_children_would_be_gone(tmp_path: Path) -> None:
    """The trap: SQLite empties a child with ON DELETE CASCADE when its parent is rebuilt."""
    engine = create_engine(f"sqlite:///{tmp_path / 'trap.db'}")
    event.listen(engine, "connect", lambda raw, _: raw.execute("PRAGMA foreign_keys=on"))
    with engine.begin() as connection:
        for statement in (
            "CREATE TABLE parent (id INTEGER PRIMARY KEY)",
            "CREATE TABLE child (id INTEGER PRIMARY KEY,"
            " parent_id INTEGER REFERENCES parent(id) ON DELETE CASCADE)",
            "INSERT INTO parent VALUES (1)",
            "INSERT INTO child VALUES (1, 1)",
            "CREATE TABLE rebuilt (id INTEGER PRIMARY KEY)",
            "INSERT INTO rebuilt SELECT * FROM parent",
            "DROP TABLE parent",
            "ALTER TABLE rebuilt RENAME TO parent",
        ):
            connection.execute(text(statement))
        assert connection.execute(text("SELECT count(*) FROM child")).scalar_one() == 0
    engine.dispose()


def test_a_migration_that_orphans_rows_is_undone(store: Store, tmp_path: Path) -> None:
    build_plant(store)
    before, revision = _rows(store), revisions(_url(store), migrations=ROOT / "migrations")
    folder = _with_rebuild(tmp_path / "m", dialect="sqlite", more='    op.execute("DELETE FROM clients")')
    store.engine.dispose()
    with pytest.raises(RuntimeError, match="without their parent"):
        upgrade(_url(store), migrations=folder)
    assert _rows(store) == before
    assert revisions(_url(store), migrations=ROOT / "migrations") == revision


#: Tells that the migration has begun its work, then hangs as a slow one would.
HANG = """
    print("half way", flush=True)
    import time
    time.sleep(60)
"""


def test_a_migration_killed_half_way_leaves_the_old_schema_and_can_be_run_again(
    filled: Store, tmp_path: Path
) -> None:
    dialect = filled.engine.dialect.name
    before = _rows(filled)
    filled.engine.dispose()
    hanging = _with_rebuild(tmp_path / "hangs", dialect=dialect, more=HANG)
    program = (
        "import sys; from pathlib import Path; from service.storage.schema import upgrade;"
        "upgrade(sys.argv[1], migrations=Path(sys.argv[2]))"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, _url(filled), str(hanging)], stdout=subprocess.PIPE, text=True
    ) as running:
        assert running.stdout is not None
        assert running.stdout.readline() == "half way\n"
        running.send_signal(signal.SIGKILL)
    assert _rows(filled) == before
    filled.engine.dispose()
    upgrade(_url(filled), migrations=_with_rebuild(tmp_path / "well", dialect=dialect))
    assert _rows(filled) == before


def test_two_that_migrate_at_once_do_it_once(blank_url: str) -> None:
    """Two containers start together."""
    failed: list[str] = []

    def start() -> None:
        program = Program("service.cli", "migrate", environment={"RISELINE_DATABASE_URL": blank_url})
        said = program.stdout.read()
        if ended := program.wait(120):
            failed.append(f"ended with {ended}: {said}")
        program.communicate()

    threads = [threading.Thread(target=start) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    require_newest(blank_url, migrations=ROOT / "migrations")


def test_a_copy_is_taken_before_an_sqlite_file_is_changed(store: Store, tmp_path: Path) -> None:
    build_plant(store)
    before = _rows(store)
    store.engine.dispose()
    done = migrate(_url(store), migrations=_with_rebuild(tmp_path / "m", dialect="sqlite"), now=NOW)
    assert done.changed
    assert done.copy is not None
    copy = Store(open_engine(f"sqlite:///{done.copy}"))
    assert _rows(copy) == before
    copy.engine.dispose()


def test_a_database_that_is_up_to_date_is_left_alone_and_not_copied(any_url: str) -> None:
    done = migrate(any_url, migrations=ROOT / "migrations", now=NOW)
    assert not done.changed
    assert done.copy is None


def test_a_database_of_another_version_is_not_worked_on(any_url: str, blank_url: str) -> None:
    require_newest(any_url, migrations=ROOT / "migrations")
    with pytest.raises(Conflict, match="revision none"):
        require_newest(blank_url, migrations=ROOT / "migrations")
