"""A worker: takes what is due, tries again what failed, keeps its lease while it works."""

import threading
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from service.domain.jobs import JobCounts, JobKind
from service.jobs.calendar import put_due_slots, slots_of
from service.jobs.handlers import HANDLERS
from service.jobs.worker import Worker, WorkerThread, worker_name
from service.storage import jobs
from service.storage.tables.record import JobRow
from service.storage.unit import Store

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


class Clock:
    """A clock that a test sets."""

    def __init__(self, now: datetime = NOW) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now


def put(store: Store, kind: str = "count", **payload: Any) -> None:
    with store.begin() as unit:
        jobs.put(unit, kind, payload, now=NOW)


def counts(store: Store) -> JobCounts:
    with store.look() as unit:
        return jobs.count_jobs(unit)


class Ledger:
    """Remembers which jobs were done; raises the first ``failures`` times."""

    def __init__(self, failures: int = 0) -> None:
        self.done: list[int] = []
        self.failures = failures

    def __call__(self, store: Store, payload: Mapping[str, Any], *, now: datetime) -> None:
        if self.failures:
            self.failures -= 1
            raise ValueError("no luck yet")
        self.done.append(payload["number"])


def test_everything_due_is_done_once_and_in_order(any_store: Store) -> None:
    ledger = Ledger()
    for number in range(5):
        put(any_store, number=number)
    assert Worker(any_store, handlers={"count": ledger}, clock=Clock()).work_off() == 5
    assert ledger.done == [0, 1, 2, 3, 4]
    assert counts(any_store) == JobCounts(done=5)


def test_a_failed_job_is_tried_again_after_its_pause(any_store: Store) -> None:
    ledger, clock = Ledger(failures=2), Clock()
    worker = Worker(any_store, handlers={"count": ledger}, clock=clock)
    put(any_store, number=1)
    assert worker.work_off() == 1
    assert worker.work_off() == 0, "not before its pause is over"
    for _ in range(2):
        clock.now += timedelta(minutes=1)
        worker.work_off()
    assert ledger.done == [1]
    assert counts(any_store) == JobCounts(done=1)


def test_a_job_nobody_knows_fails_in_the_end_and_says_why(store: Store) -> None:
    clock = Clock()
    put(store, "unheard of")
    worker = Worker(store, handlers={}, clock=clock)
    for _ in range(10):
        worker.work_off()
        clock.now += timedelta(hours=1)
    assert counts(store) == JobCounts(failed=1)
    with store.look() as unit:
        assert "unheard of" in unit.session.scalars(select(JobRow.last_error)).one()


def test_a_job_longer_than_its_lease_keeps_it(any_store: Store) -> None:
    """The job below ends only after another worker has looked in vain, past the first lease."""
    lease = timedelta(seconds=1)
    looked_in_vain, taken = threading.Event(), threading.Event()
    clock = lambda: datetime.now(UTC)  # noqa: E731

    def slow(store: Store, payload: Mapping[str, Any], *, now: datetime) -> None:
        taken.set()
        assert looked_in_vain.wait(30)

    put(any_store)
    worker = Worker(any_store, handlers={"count": slow}, clock=clock, lease=lease)
    with ThreadPoolExecutor(1) as pool:
        done = pool.submit(worker.run_one)
        assert taken.wait(30)
        began, tries, stolen = clock(), 0, False
        while clock() < began + 2 * lease and not looked_in_vain.wait(0.05):
            with any_store.begin() as unit:
                stolen = stolen or jobs.claim(unit, "other", now=clock(), lease=lease) is not None
            tries += 1
        looked_in_vain.set()
        assert done.result()
    assert tries > 3
    assert not stolen
    assert counts(any_store) == JobCounts(done=1)


def test_a_worker_thread_begins_at_once_when_a_job_is_committed(store: Store) -> None:
    """It polls every hour here: only the bell can have woken it."""
    done = threading.Event()

    def handle(_store: Store, payload: Mapping[str, Any], *, now: datetime) -> None:
        done.set()

    waiting = threading.Event()

    class Waiting(Worker):
        def work_off(self) -> int:
            worked = super().work_off()
            waiting.set()
            return worked

    handlers = {"count": handle, JobKind.SWEEP_EXPIRED: Ledger()}
    with WorkerThread(Waiting(store, handlers=handlers, poll_s=3600)):
        assert waiting.wait(30)
        put(store)
        assert done.wait(10)


def test_two_workers_have_two_names() -> None:
    assert worker_name() != worker_name()


def test_many_workers_put_one_job_per_slot_of_the_calendar(any_store: Store) -> None:
    threads = [
        threading.Thread(target=put_due_slots, args=(any_store,), kwargs={"now": NOW}) for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert counts(any_store) == JobCounts(ready=1)
    put_due_slots(any_store, now=NOW + timedelta(days=1))
    assert counts(any_store) == JobCounts(ready=2)


def test_every_kind_of_job_has_its_handler() -> None:
    assert set(HANDLERS) == set(JobKind)
    assert set(slots_of(NOW).values()) <= set(HANDLERS)


@pytest.mark.parametrize("kind", JobKind)
def test_a_job_run_twice_ends_the_same(any_store: Store, kind: JobKind) -> None:
    for _ in range(2):
        HANDLERS[kind](any_store, {}, now=NOW)
