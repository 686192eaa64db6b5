"""Idempotency keys: a send and the reply it got, in one transaction with what it stored."""

import hashlib
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from weakref import WeakKeyDictionary

from sqlalchemy import Engine, func, select

from service.errors import KeyBusy, KeyReused
from service.storage.tables.record import IdempotencyKeyRow
from service.storage.unit import Store, Unit

LONGEST_KEY = 255
#: Keys that requests of this process are working on, per database.
_RUNNING: WeakKeyDictionary[Engine, set[tuple[int, str]]] = WeakKeyDictionary()
_DOOR = threading.Lock()


@dataclass(frozen=True, slots=True)
class StoredReply:
    """What the first send was answered."""

    status: int
    body: bytes
    media_type: str


@contextmanager
def running(store: Store, person_id: int, key: str) -> Iterator[None]:
    """Hold a key while its request is worked on.

    Nothing of this is stored: a key whose server was killed is free again at once. Other
    processes are told by ``claim`` (on SQLite they wait for the one writer and then find the
    stored reply).

    Raises
    ------
    service.errors.KeyBusy
        Another request of this process holds it.
    """
    mark = (person_id, key)
    with _DOOR:
        held = _RUNNING.setdefault(store.engine, set())
        if mark in held:
            raise KeyBusy(remedy="Wait for its answer, then send again.")
        held.add(mark)
    try:
        yield
    finally:
        with _DOOR:
            held.discard(mark)


def claim(unit: Unit, person_id: int, *, key: str, request: str, body_hash: str) -> StoredReply | None:
    """The reply this key got before, or None when it is new.

    Raises
    ------
    service.errors.KeyReused
        It was used with another body or for another request.
    service.errors.KeyBusy
        Another process is working on it just now.
    """
    if unit.dialect == "postgresql":
        number = int.from_bytes(hashlib.sha256(f"{person_id} {key}".encode()).digest()[:8], signed=True)
        if not unit.session.scalar(select(func.pg_try_advisory_xact_lock(number))):
            raise KeyBusy(remedy="Wait for its answer, then send again.")
    known = unit.session.execute(
        select(
            IdempotencyKeyRow.request,
            IdempotencyKeyRow.body_hash,
            IdempotencyKeyRow.status,
            IdempotencyKeyRow.reply,
            IdempotencyKeyRow.reply_type,
        ).where(IdempotencyKeyRow.person_id == person_id, IdempotencyKeyRow.key == key)
    ).one_or_none()
    if known is None:
        return None
    if (known.request, known.body_hash) != (request, body_hash):
        raise KeyReused(remedy="Use a new key for a new request; repeat a key only with the same body.")
    return StoredReply(known.status, known.reply, known.reply_type)


def keep(
    unit: Unit,
    person_id: int,
    *,
    key: str,
    request: str,
    body_hash: str,
    reply: StoredReply,
    now: datetime,
) -> None:
    """Store the reply beside what it tells of: both are there or neither."""
    unit.session.add(
        IdempotencyKeyRow(
            key=key,
            person_id=person_id,
            request=request,
            body_hash=body_hash,
            state="done",
            status=reply.status,
            reply=reply.body,
            reply_type=reply.media_type,
            created_at=now,
        )
    )
