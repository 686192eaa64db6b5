"""Engines with the ground rules: write transactions immediate, durable, keys enforced."""

from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import make_url

from service.errors import Unavailable

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


def refuse_unsafe_durability(engine: Engine) -> None:
    """Refuse to start on a database that may lose what it acknowledges.

    Raises
    ------
    Unavailable
        SQLite ``synchronous`` below FULL, PostgreSQL ``fsync`` or ``synchronous_commit`` off.
    """
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            if int(connection.execute(text("PRAGMA synchronous")).scalar_one()) < 2:
                raise Unavailable("SQLite synchronous is below FULL", remedy="Open it through open_engine().")
            return
        for setting in ("fsync", "synchronous_commit"):
            if connection.execute(text(f"SHOW {setting}")).scalar_one() == "off":
                raise Unavailable(
                    f"PostgreSQL runs with {setting}=off", remedy=f"Set {setting}=on, then start again."
                )
