"""What builders make on an empty SQLite file, kept and laid down again: worked out once a process."""

import pickle
import sqlite3
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar, cast

from sqlalchemy import exists, select

from service.storage.tables import metadata
from service.storage.unit import Store

Made = TypeVar("Made")
#: whatever is built begins with one of these
clients, people = (metadata.tables[name] for name in ("clients", "people"))


@dataclass(frozen=True)
class _Kept:
    """A database in memory, and what its builder returned."""

    content: sqlite3.Connection
    returned: bytes


_kept: dict[Hashable, _Kept] = {}


def laid(store: Store, wish: Hashable, make: Callable[[], Made]) -> Made:
    """What ``make`` builds in an untouched file: by itself the first time, then as it was left that time.

    ``wish`` names what is made; anything else is made anew each time: on PostgreSQL, and where the
    test has already written something.
    """
    if store.engine.dialect.name != "sqlite" or not _untouched(store):
        return make()
    kept = _kept.get(wish)
    if kept is None:
        made = make()
        content = sqlite3.connect(":memory:", check_same_thread=False)
        _copy(store, lambda own: own.backup(content))
        if not _worked_on(content):
            _kept[wish] = _Kept(content, pickle.dumps(made))
        return made
    _copy(store, kept.content.backup)
    return cast(Made, pickle.loads(kept.returned))


def _untouched(store: Store) -> bool:
    """Whether no commit lies in the write-ahead log of a test's own file, and none went from there into it."""
    path = Path(str(store.engine.url.database))
    log = path.with_name(f"{path.name}-wal")
    if not path.is_file() or (log.exists() and log.stat().st_size > 0):
        return False
    with store.look() as unit:
        return not any(unit.session.scalar(select(exists(table))) for table in (clients, people))


def _worked_on(content: sqlite3.Connection) -> bool:
    """Whether a worker runs on the file meanwhile: the work of its calendar is none of the builder's."""
    return content.execute("SELECT 1 FROM jobs WHERE slot IS NOT NULL LIMIT 1").fetchone() is not None


def _copy(store: Store, how: Callable[[sqlite3.Connection], Any]) -> None:
    connection = store.engine.raw_connection()
    try:
        own = connection.driver_connection
        assert isinstance(own, sqlite3.Connection)
        how(own)
    finally:
        connection.close()
