"""Alembic's way in: SQLite with foreign keys off and checked, PostgreSQL with limits and a lock."""

from typing import Literal

from alembic import context
from sqlalchemy import Connection, create_engine, event, text
from sqlalchemy.engine import make_url

from service.storage.tables import metadata
from service.storage.tables.base import UtcDateTime

ADVISORY_LOCK = 728_451_903


def _without_our_types(kind: str, item: object, _context: object) -> str | Literal[False]:
    """A migration outlives the application's types: they are written as what they are made of."""
    return "sa.DateTime(timezone=True)" if kind == "type" and isinstance(item, UtcDateTime) else False


def _migrate(connection: Connection) -> None:
    sqlite = connection.dialect.name == "sqlite"
    context.configure(
        connection=connection,
        target_metadata=metadata,
        render_as_batch=sqlite,
        compare_type=True,
        render_item=_without_our_types,
        transaction_per_migration=False,
        # Alembic takes SQLite for unable; with transactions begun by us (below) it is able.
        transactional_ddl=True,
    )
    with context.begin_transaction():
        if not sqlite:
            connection.execute(text("SET LOCAL statement_timeout = '10min'"))
            # Another that migrates may take its time; a table that somebody holds may not hold us up.
            connection.execute(text("SET LOCAL lock_timeout = 0"))
            connection.execute(text(f"SELECT pg_advisory_xact_lock({ADVISORY_LOCK})"))
            connection.execute(text("SET LOCAL lock_timeout = '5s'"))
        context.run_migrations()
        if sqlite:
            orphans = connection.execute(text("PRAGMA foreign_key_check")).all()
            if orphans:
                raise RuntimeError(
                    f"migration leaves {len(orphans)} rows without their parent: {orphans[:5]}"
                )


def _run() -> None:
    url = make_url(context.config.get_main_option("sqlalchemy.url") or "")
    engine = create_engine(url)
    if url.get_backend_name() == "sqlite":
        # Batch mode recreates tables: with foreign keys on, that silently deletes children.
        def prepare(connection: object, _record: object) -> None:
            connection.isolation_level = None  # type: ignore[attr-defined]
            cursor = connection.cursor()  # type: ignore[attr-defined]
            for pragma in ("journal_mode=wal", "foreign_keys=off", "synchronous=full", "busy_timeout=60000"):
                cursor.execute(f"PRAGMA {pragma}")
            cursor.close()

        event.listen(engine, "connect", prepare)
        event.listen(engine, "begin", lambda c: c.exec_driver_sql("BEGIN IMMEDIATE"))
    with engine.connect() as connection:
        _migrate(connection)
    engine.dispose()


_run()
