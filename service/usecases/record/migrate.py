"""Bring a database to the schema of this version, with a copy taken first."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from service.errors import Conflict
from service.storage.copies import copy_database, sqlite_file
from service.storage.schema import revisions, upgrade


@dataclass(frozen=True, slots=True)
class Migrated:
    """From which revision to which; ``copy`` is the backup taken before, where one was needed."""

    was: str | None
    now: str | None
    copy: Path | None = None

    @property
    def changed(self) -> bool:
        return self.was != self.now


def migrate(database_url: str, *, migrations: Path, now: datetime) -> Migrated:
    """Migrate up; a database that is up to date is left alone.

    An SQLite file that holds something is copied beside itself first. Of PostgreSQL the
    operator takes the backup (``riseline backup``): it may be far larger than this disk.
    """
    file = sqlite_file(database_url)
    if file is not None:
        file.parent.mkdir(parents=True, exist_ok=True)
    was, newest = revisions(database_url, migrations=migrations)
    if was == newest:
        return Migrated(was, newest)
    copy = None
    if file is not None and was is not None:
        copy = file.with_name(f"{file.stem}-before-{newest}-{now:%Y%m%dT%H%M%SZ}.db")
        copy_database(database_url, copy)
    upgrade(database_url, migrations=migrations)
    return Migrated(was, newest, copy)


def require_newest(database_url: str, *, migrations: Path) -> None:
    """Refuse to work on a schema of another version.

    Raises
    ------
    service.errors.Conflict
        The database is behind, or was never made.
    """
    file = sqlite_file(database_url)
    missing = file is not None and not file.is_file()
    was, newest = (None, "") if missing else revisions(database_url, migrations=migrations)
    if was != newest:
        raise Conflict(
            f"The database is at revision {was or 'none'}, this version needs {newest or 'a database'}",
            remedy="Run 'riseline migrate' first.",
        )
