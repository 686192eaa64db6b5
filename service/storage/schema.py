"""Bring a database to the current schema; compare it with the tables."""

from pathlib import Path
from tempfile import TemporaryDirectory

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine


def alembic_config(url: str, *, migrations: Path) -> Config:
    """Alembic's settings without a file: the folder and the address are all it needs."""
    config = Config()
    config.set_main_option("script_location", str(migrations))
    config.set_main_option("sqlalchemy.url", url.replace("%", "%%"))
    return config


def upgrade(url: str, *, migrations: Path, revision: str = "head") -> None:
    """Migrate up; a database at this revision already is left alone."""
    command.upgrade(alembic_config(url, migrations=migrations), revision)


def downgrade(url: str, revision: str, *, migrations: Path) -> None:
    command.downgrade(alembic_config(url, migrations=migrations), revision)


def revisions(url: str, *, migrations: Path) -> tuple[str | None, str | None]:
    """The revision a database is at, and the newest one there is."""
    newest = ScriptDirectory.from_config(alembic_config(url, migrations=migrations)).get_current_head()
    engine = create_engine(url)
    try:
        with engine.connect() as connection:
            return MigrationContext.configure(connection).get_current_revision(), newest
    finally:
        engine.dispose()


def draft_revision(says: str, *, migrations: Path) -> Path:
    """Write the next revision from what the tables say beyond the migrations; to be read and mended.

    CHECK constraints are not seen by this comparison: add them by hand.
    """
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/newest.db"
        upgrade(url, migrations=migrations)
        _, newest = revisions(url, migrations=migrations)
        number = f"{int(newest or 0) + 1:04d}"
        config = alembic_config(url, migrations=migrations)
        command.revision(config, message=says, autogenerate=True, rev_id=number)
    return next((migrations / "versions").glob(f"{number}_*.py"))
