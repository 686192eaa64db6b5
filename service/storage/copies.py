"""Whole copies of a database: made while it is in use, checked before they count."""

import os
import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

from sqlalchemy.engine import URL, make_url

from service.errors import Conflict, Unavailable

DUMP_SECONDS = 3600


def sqlite_file(url: str) -> Path | None:
    """The file of an SQLite address; None for other databases."""
    parsed = make_url(url)
    if parsed.get_backend_name() != "sqlite" or not parsed.database:
        return None
    return Path(parsed.database)


def suffix(url: str) -> str:
    return ".db" if sqlite_file(url) else ".dump"


def copy_database(url: str, target: Path) -> None:
    """One consistent copy, taken while others read and write; it appears whole or not at all.

    Raises
    ------
    Conflict
        There is something at ``target`` already, or no database to copy.
    Unavailable
        The copy could not be made, or does not stand the check.
    """
    if target.exists():
        raise Conflict(f"{target} is there already", remedy="Name another file.")
    source = sqlite_file(url)
    if source is not None and not source.is_file():
        raise Conflict(f"There is no database at {source}", remedy="Run 'riseline migrate' first.")
    target.parent.mkdir(parents=True, exist_ok=True)
    half = target.with_name(target.name + ".half")
    half.unlink(missing_ok=True)
    try:
        if source is not None:
            _copy_sqlite(source, half)
        else:
            _dump_postgres(make_url(url), half)
        _settle(half)
        half.rename(target)
        _settle(target.parent)
    finally:
        half.unlink(missing_ok=True)


def _copy_sqlite(source: Path, target: Path) -> None:
    with closing(sqlite3.connect(source)) as live, closing(sqlite3.connect(target)) as copy:
        live.backup(copy)
        copy.execute("PRAGMA journal_mode=delete")
        said = copy.execute("PRAGMA integrity_check").fetchone()[0]
    if said != "ok":
        raise Unavailable(f"The copy is damaged ({said})", remedy="Keep the last good copy; check the disk.")


def _dump_postgres(url: URL, target: Path) -> None:
    """``pg_dump`` in its own format; the password travels in the environment, not in the command."""
    tool = shutil.which("pg_dump")
    if tool is None:
        raise Unavailable("pg_dump is not here", remedy="Install the client programs of your PostgreSQL.")
    wanted = {
        "PGHOST": str(url.query.get("host") or url.host or ""),
        "PGPORT": str(url.port or ""),
        "PGUSER": url.username or "",
        "PGPASSWORD": url.password or "",
        "PGDATABASE": url.database or "",
    }
    environment = os.environ | {name: value for name, value in wanted.items() if value}
    command = [tool, "--format=custom", "--no-password", f"--file={target}"]
    made = subprocess.run(  # noqa: S603 (no shell, no input of a user)
        command, env=environment, capture_output=True, text=True, timeout=DUMP_SECONDS, check=False
    )
    if made.returncode != 0:
        raise Unavailable(f"pg_dump failed: {made.stderr.strip()[:500]}", remedy="Nothing was copied.")


def _settle(path: Path) -> None:
    """On the disk, not only in memory, before anyone calls it a backup: the file, then its name."""
    written = os.open(path, os.O_RDONLY)
    try:
        os.fsync(written)
    finally:
        os.close(written)
