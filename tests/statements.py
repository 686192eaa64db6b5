"""Engines of tests: they share the statements worked out for tests before them, and wait for no disk."""

from typing import Any

from sqlalchemy import Engine

#: room for all that the service ever asks, so that none is pushed out and worked out again
MOST_STATEMENTS = 10_000
_first: dict[str, Engine] = {}


def knowing_the_statements(engine: Engine) -> Engine:
    """An engine of a test's own database that knows the statements worked out for tests before it.

    Each engine works every statement out anew, which is a fifth of the time of a test that asks
    the database; they are the same for all, since the schema is. They are kept by dialect object.
    """
    first = _first.setdefault(engine.dialect.name, engine)
    if first is engine:
        engine.connect().close()  # a dialect knows its server after the first connection
        if engine._compiled_cache is not None:
            engine._compiled_cache.capacity = MOST_STATEMENTS
    engine.dialect, engine._compiled_cache = first.dialect, first._compiled_cache
    return engine


def without_flushing(connection: Any, _record: Any) -> None:
    """What is thrown away at the end of a test waits for no disk; what is said about durability does."""
    connection.execute("PRAGMA synchronous=off").close()
