"""Bring a database to the current schema; compare it with the tables."""

from pathlib import Path

from alembic import command
from alembic.config import Config


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
