"""Engines with the ground rules: write transactions immediate, durable, keys enforced."""

import logging
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import make_url

from service.errors import Unavailable

log = logging.getLogger(__name__)

READ_ONLY = "riseline_read_only"
STATEMENT_TIMEOUT_MS = 5000


def open_engine(url: str, *, pool_size: int = 5, statement_timeout_ms: int = STATEMENT_TIMEOUT_MS) -> Engine:
    """An engine that keeps what it acknowledges.

    SQLite: write-ahead log, ``synchronous=FULL`` (an acknowledged commit has reached the
    disk), foreign keys on, and transactions begun by us: ``BEGIN IMMEDIATE`` for writing, so
    that two writers wait for each other instead of failing on a stale snapshot, which also
    makes DDL transactional. PostgreSQL: statement and lock limits, UTC.
    """
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite":
        engine = create_engine(parsed, connect_args={"timeout": 30, "check_same_thread": False})
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    options = f"-c statement_timeout={statement_timeout_ms} -c lock_timeout=5000 -c timezone=UTC"
    engine = create_engine(
        parsed,
        pool_pre_ping=True,
        pool_size=pool_size,
        max_overflow=pool_size,
        connect_args={"options": options},
    )
    event.listen(engine, "begin", _begin_postgres)
    return engine


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in ("journal_mode=wal", "busy_timeout=5000", "foreign_keys=on", "synchronous=full"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    reads = bool(connection.get_execution_options().get(READ_ONLY))
    raw: Any = connection.connection.driver_connection  # the long way takes twenty times as long
    raw.execute(f"PRAGMA query_only={'on' if reads else 'off'}").close()
    connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")


def _begin_postgres(connection: Connection) -> None:
    if connection.get_execution_options().get(READ_ONLY):
        connection.exec_driver_sql("SET TRANSACTION READ ONLY")


#: numbers of PRAGMA synchronous
FULL = 2
#: what PostgreSQL must not leave out, or a power cut takes what was acknowledged (or the database)
FLUSHING = ("fsync", "synchronous_commit", "full_page_writes")


def refuse_unsafe_durability(engine: Engine, *, allowed: bool = False) -> None:
    """Refuse to start on a database that may lose what it acknowledges.

    Parameters
    ----------
    engine : Engine
        The database.
    allowed : bool
        For tests only: say it in the log instead.

    Raises
    ------
    Unavailable
        SQLite ``synchronous`` below FULL or no write-ahead log; PostgreSQL ``fsync``,
        ``synchronous_commit`` or ``full_page_writes`` off.
    """
    fault = _unsafe_sqlite(engine) if engine.dialect.name == "sqlite" else _unsafe_postgres(engine)
    if fault is None:
        return
    if not allowed:
        raise fault
    log.warning("%s: a power cut may take what was acknowledged (RISELINE_UNSAFE_DATABASE)", fault.message)


def _unsafe_sqlite(engine: Engine) -> Unavailable | None:
    with engine.connect() as connection:
        if int(connection.execute(text("PRAGMA synchronous")).scalar_one()) < FULL:
            return Unavailable("SQLite synchronous is below FULL", remedy="Open it through open_engine().")
        mode = str(connection.execute(text("PRAGMA journal_mode")).scalar_one())
    if mode == "wal":
        return None
    # a rollback journal at FULL does not flush the folder when it ends a transaction (SQLite, PRAGMA
    # synchronous: that takes EXTRA), and a journal in memory does not survive anything
    return Unavailable(
        f"SQLite keeps no write-ahead log here (journal_mode={mode})",
        remedy="Keep the file on a disk of this machine, not in memory or on a network share.",
    )


def _unsafe_postgres(engine: Engine) -> Unavailable | None:
    with engine.connect() as connection:
        off = [one for one in FLUSHING if connection.execute(text(f"SHOW {one}")).scalar_one() == "off"]
    if not off:
        return None
    return Unavailable(
        f"PostgreSQL runs with {' and '.join(f'{one}=off' for one in off)}",
        remedy=f"Set {' and '.join(f'{one}=on' for one in off)}, then start again.",
    )
