"""What the migrations build is what the tables say, on both databases, CHECKs included."""

import re
import shutil
from pathlib import Path
from typing import Any

from alembic import command
from sqlalchemy import Inspector, create_engine, inspect

from service.settings import ROOT
from service.storage.schema import alembic_config, downgrade, draft_revision, revisions, upgrade
from service.storage.tables import metadata

MIGRATIONS = ROOT / "migrations"


def _plain(sql: object) -> str:
    """Without the casts and brackets that a database adds when it prints a rule back."""
    return re.sub(r"[\s()]|::[a-z ]+(\[\])?", "", str(sql).lower())


def _facts(inspector: Inspector, table: str) -> dict[str, Any]:
    return {
        "columns": {
            column["name"]: (str(column["type"]), column["nullable"], _plain(column["default"]))
            for column in inspector.get_columns(table)
        },
        "key": inspector.get_pk_constraint(table),
        "parents": sorted(
            (str(key["name"]), key["constrained_columns"], key["referred_table"], str(key["options"]))
            for key in inspector.get_foreign_keys(table)
        ),
        "unique": sorted(
            (str(rule["name"]), rule["column_names"]) for rule in inspector.get_unique_constraints(table)
        ),
        "checks": sorted(
            (str(rule["name"]), _plain(rule["sqltext"])) for rule in inspector.get_check_constraints(table)
        ),
        "indexes": sorted(
            (str(index["name"]), index["column_names"], index["unique"])
            for index in inspector.get_indexes(table)
        ),
    }


def _schema(url: str) -> dict[str, dict[str, Any]]:
    engine = create_engine(url)
    inspector = inspect(engine)
    found = {
        table: _facts(inspector, table) for table in inspector.get_table_names() if table != "alembic_version"
    }
    engine.dispose()
    return found


def test_migrations_build_exactly_what_the_tables_say(blank_url: str) -> None:
    engine = create_engine(blank_url)
    metadata.create_all(engine)
    created = _schema(blank_url)
    metadata.drop_all(engine)
    engine.dispose()
    upgrade(blank_url, migrations=MIGRATIONS)
    migrated = _schema(blank_url)
    assert migrated.keys() == created.keys()
    for table, facts in created.items():
        assert migrated[table] == facts, table
    assert sum(len(facts["checks"]) for facts in created.values()) > 30


def test_alembic_finds_nothing_to_add(any_url: str) -> None:
    command.check(alembic_config(any_url, migrations=MIGRATIONS))


def test_up_down_up_on_an_empty_database(blank_url: str) -> None:
    upgrade(blank_url, migrations=MIGRATIONS)
    first = _schema(blank_url)
    downgrade(blank_url, "base", migrations=MIGRATIONS)
    assert _schema(blank_url) == {}
    upgrade(blank_url, migrations=MIGRATIONS)
    assert _schema(blank_url) == first


def test_the_newest_revision_is_known_of_a_blank_and_of_a_migrated_database(
    any_url: str, blank_url: str
) -> None:
    _, newest = revisions(any_url, migrations=MIGRATIONS)
    assert revisions(any_url, migrations=MIGRATIONS) == (newest, newest)
    assert revisions(blank_url, migrations=MIGRATIONS) == (None, newest)
    assert newest is not None


def test_a_drafted_revision_is_the_next_one_and_adds_what_the_tables_have_gained(tmp_path: Path) -> None:
    """The folder below has our first migration without its jobs; the draft must bring them."""
    folder = tmp_path / "migrations"
    shutil.copytree(MIGRATIONS, folder, ignore=shutil.ignore_patterns("__pycache__"))
    _, before = revisions("sqlite://", migrations=folder)
    lacking = (
        f'"""Drop the jobs."""\nfrom alembic import op\nrevision, down_revision = "0077", "{before}"\n'
        'def upgrade():\n    op.drop_table("jobs")\ndef downgrade():\n    raise NotImplementedError\n'
    )
    (folder / "versions" / "0077_drop_jobs.py").write_text(lacking)
    drafted = draft_revision("bring the jobs back", migrations=folder)
    assert drafted.name == "0078_bring_the_jobs_back.py"
    assert 'create_table("jobs"' in drafted.read_text().replace("'", '"').replace("(\n        ", "(")
    upgrade(f"sqlite:///{tmp_path / 'new.db'}", migrations=folder)
