"""Work that follows: written in the same transaction as its cause, taken by lease."""

import threading
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any
from weakref import WeakKeyDictionary

from sqlalchemy import CursorResult, Engine, and_, delete, event, func, or_, select, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from service.domain.jobs import LEASE, MOST_ATTEMPTS, Job, JobCounts, JobState, delay_after
from service.storage.tables.record import JobRow
from service.storage.unit import Store, Unit

LONGEST_ERROR = 2000

#: One bell per engine: rung after a commit that put a job, so that a worker thread in the
#: same process begins at once. Workers in other processes look by the clock.
_BELLS: WeakKeyDictionary[Engine, threading.Event] = WeakKeyDictionary()


def bell(store: Store) -> threading.Event:
    """The event that is set whenever this process commits a job."""
    return _BELLS.setdefault(store.engine, threading.Event())


def put(
    unit: Unit,
    kind: str,
    payload: dict[str, Any],
    *,
    now: datetime,
    dedupe_key: str | None = None,
    slot: str | None = None,
) -> None:
    """Add a job.

    With a ``dedupe_key`` that a job *still waiting* carries, nothing is added: that job will see
    this transaction's rows too. A job gives its key up when a worker takes it, since it may have
    read the rows already: the same key may then be put again. So the key must say all that the
    payload says.

    A ``slot`` ("sweep 2026-11-25") is taken for ever: of all who put it, one job comes about.
    """
    insert = postgresql.insert if unit.dialect == "postgresql" else sqlite.insert
    statement = insert(JobRow).values(
        kind=str(kind),
        payload=payload,
        dedupe_key=dedupe_key,
        slot=slot,
        state=JobState.READY.value,
        run_at=now,
        created_at=now,
        worker="",
        attempts=0,
        last_error="",
    )
    if slot is not None:
        statement = statement.on_conflict_do_nothing(index_elements=[JobRow.slot])
    elif dedupe_key is not None:
        # An update that changes nothing, for its lock: until this transaction has committed, no
        # worker can take the waiting job, so it cannot run without having seen our rows.
        statement = statement.on_conflict_do_update(
            index_elements=[JobRow.dedupe_key], set_={"dedupe_key": dedupe_key}
        )
    unit.session.execute(statement)
    _ring_after_commit(unit.session)


def _ring_after_commit(session: Session) -> None:
    if session.info.get("rings"):
        return
    session.info["rings"] = True
    event.listen(session, "after_commit", _ring)


def _ring(session: Session) -> None:
    bound = session.get_bind()
    listening = _BELLS.get(bound) if isinstance(bound, Engine) else None
    if listening is not None:
        listening.set()


def any_due(unit: Unit, *, now: datetime) -> bool:
    """True when a worker would find something to take or to give up."""
    return unit.session.scalar(select(JobRow.id).where(_due(now)).limit(1)) is not None


def taken_slots(unit: Unit, slots: Iterable[str]) -> set[str]:
    """Which of these slots have a job already."""
    known = unit.session.scalars(select(JobRow.slot).where(JobRow.slot.in_(tuple(slots))))
    return {slot for slot in known if slot is not None}


def claim(unit: Unit, worker: str, *, now: datetime, lease: timedelta = LEASE) -> Job | None:
    """Take the oldest due job under a lease; one whose worker has died counts as due.

    SQLite knows no SKIP LOCKED and needs none (writers wait for each other); SQLAlchemy leaves
    it out there, so that one statement serves both.
    """
    _give_up_exhausted(unit, now=now)
    oldest = (
        select(JobRow.id)
        .where(_due(now), JobRow.attempts < MOST_ATTEMPTS)
        .order_by(JobRow.run_at, JobRow.id)
        .limit(1)
        .with_for_update(skip_locked=True)
        .scalar_subquery()
    )
    taken = (
        update(JobRow)
        .where(JobRow.id == oldest)
        .values(
            state=JobState.RUNNING.value,
            worker=worker,
            lease_until=now + lease,
            attempts=JobRow.attempts + 1,
            dedupe_key=None,
        )
        .returning(JobRow.id, JobRow.kind, JobRow.worker, JobRow.attempts, JobRow.payload)
        .execution_options(synchronize_session=False)
    )
    row = unit.session.execute(taken).one_or_none()
    return None if row is None else Job(*row)


def renew(unit: Unit, job: Job, *, now: datetime, lease: timedelta = LEASE) -> bool:
    """Prolong the lease; False when it is no longer ours."""
    return _change_held(unit, job, lease_until=now + lease)


def finish(unit: Unit, job: Job, *, now: datetime) -> bool:
    """Mark the job done; False when another worker has taken it meanwhile."""
    return _change_held(unit, job, state=JobState.DONE.value, done_at=now, lease_until=None, last_error="")


def put_back(unit: Unit, job: Job, *, error: str, now: datetime) -> bool:
    """After a failed attempt: ready again after a pause, or failed when it was the last one."""
    last = job.attempt >= MOST_ATTEMPTS
    return _change_held(
        unit,
        job,
        state=(JobState.FAILED if last else JobState.READY).value,
        run_at=now + delay_after(job.attempt),
        lease_until=None,
        last_error=error[:LONGEST_ERROR],
    )


def waiting_since(unit: Unit, *, now: datetime) -> datetime | None:
    """When the job that has waited longest should have been taken; None when none waits."""
    waiting = select(func.min(JobRow.run_at)).where(
        JobRow.state == JobState.READY.value, JobRow.run_at <= now
    )
    return unit.session.scalar(waiting)


def count_jobs(unit: Unit) -> JobCounts:
    rows = unit.session.execute(select(JobRow.state, func.count()).group_by(JobRow.state))
    return JobCounts(**{str(state): int(count) for state, count in rows})


def drop_done_before(unit: Unit, moment: datetime) -> int:
    """Delete jobs done before a moment, their slots with them; failed ones stay to be seen."""
    done = delete(JobRow).where(JobRow.state == JobState.DONE.value, JobRow.done_at < moment)
    return _touched(unit.session.execute(done.execution_options(synchronize_session=False)))


def waiting_with_key(unit: Unit, prefix: str) -> int:
    """How many jobs wait whose key begins so."""
    query = select(func.count()).select_from(JobRow).where(_waits(prefix))
    return unit.session.scalar(query) or 0


def keys_waiting(unit: Unit, prefix: str) -> frozenset[str]:
    """Keys of the jobs that wait, of those that begin so."""
    return frozenset(
        key for key in unit.session.scalars(select(JobRow.dedupe_key).where(_waits(prefix))) if key
    )


def take_back_one(unit: Unit, key: str) -> int:
    """Delete the job of exactly this key unless a worker has begun it; 1 or 0."""
    waits = and_(JobRow.state == JobState.READY.value, JobRow.dedupe_key == key)
    gone = delete(JobRow).where(waits).execution_options(synchronize_session=False)
    return _touched(unit.session.execute(gone))


def take_back(unit: Unit, prefix: str) -> int:
    """Delete the jobs whose key begins so and that no worker has begun; how many those were."""
    gone = delete(JobRow).where(_waits(prefix)).execution_options(synchronize_session=False)
    return _touched(unit.session.execute(gone))


def _waits(prefix: str) -> Any:
    return and_(JobRow.state == JobState.READY.value, JobRow.dedupe_key.startswith(prefix, autoescape=True))


def _due(now: datetime) -> Any:
    return or_(
        and_(JobRow.state == JobState.READY.value, JobRow.run_at <= now),
        and_(JobRow.state == JobState.RUNNING.value, JobRow.lease_until < now),
    )


def _give_up_exhausted(unit: Unit, *, now: datetime) -> None:
    """A job that killed its worker on every attempt would do so for ever."""
    exhausted = (
        update(JobRow)
        .where(
            JobRow.state == JobState.RUNNING.value,
            JobRow.lease_until < now,
            JobRow.attempts >= MOST_ATTEMPTS,
        )
        .values(
            state=JobState.FAILED.value,
            lease_until=None,
            last_error=f"its worker stopped without a word on each of {MOST_ATTEMPTS} attempts",
        )
    )
    unit.session.execute(exhausted.execution_options(synchronize_session=False))


def _change_held(unit: Unit, job: Job, **values: Any) -> bool:
    held = update(JobRow).where(
        JobRow.id == job.id,
        JobRow.state == JobState.RUNNING.value,
        JobRow.worker == job.worker,
        JobRow.attempts == job.attempt,
    )
    return (
        _touched(unit.session.execute(held.values(**values).execution_options(synchronize_session=False)))
        == 1
    )


def _touched(result: Any) -> int:
    assert isinstance(result, CursorResult)
    return int(result.rowcount)
