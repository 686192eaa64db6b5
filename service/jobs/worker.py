"""Takes due jobs one at a time under a lease; as a thread in the demo, as processes in production."""

import logging
import os
import secrets
import socket
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any

from service.domain.jobs import LEASE, Job
from service.errors import StorageFull, Unavailable
from service.jobs.calendar import put_due_slots
from service.jobs.handlers import HANDLERS, Handler
from service.storage import jobs
from service.storage.unit import Store
from service.usecases.surroundings import system_clock

log = logging.getLogger(__name__)

#: How often a worker looks for jobs that another process has put.
POLL_S = 1.0
#: After the database did not answer.
PATIENCE_S = 5.0
#: What passes by itself, or once somebody has made room: a worker outlives it.
PASSING = (StorageFull, Unavailable)


def worker_name() -> str:
    """Unlike any other worker's, and telling where to look for it."""
    return f"{socket.gethostname()}:{os.getpid()}:{secrets.token_hex(4)}"


class Worker:
    """One taker of jobs.

    Parameters
    ----------
    store : Store
        Where the jobs and everything they work on are.
    handlers : mapping of kind to Handler
        What is done for each kind; must be idempotent, since the job of a killed worker is run
        again by another.
    lease : timedelta
        Silence after which others take this worker for dead; renewed at a quarter of it.
    """

    def __init__(
        self,
        store: Store,
        *,
        handlers: Mapping[str, Handler] = HANDLERS,
        clock: Callable[[], datetime] = system_clock,
        lease: timedelta = LEASE,
        poll_s: float = POLL_S,
    ) -> None:
        self.name = worker_name()
        self._store = store
        self._handlers = handlers
        self._clock = clock
        self._lease = lease
        self._poll_s = poll_s
        self._bell = jobs.bell(store)
        self._stopping = threading.Event()

    def run(self) -> None:
        """Work until ``stop``; a job in hand is brought to its end."""
        while not self._stopping.is_set():
            self._bell.clear()
            try:
                put_due_slots(self._store, now=self._clock())
                self.work_off()
            except PASSING as error:
                log.warning("worker %s waits: %s", self.name, error.message)
                self._stopping.wait(PATIENCE_S)
            self._bell.wait(self._poll_s)

    def stop(self) -> None:
        self._stopping.set()
        self._bell.set()

    def work_off(self) -> int:
        """Do all that is due now; how many jobs that were."""
        done = 0
        while not self._stopping.is_set() and self.run_one():
            done += 1
        return done

    def run_one(self) -> bool:
        """Take one job and do it; False when nothing is due."""
        now = self._clock()
        with self._store.look() as unit:
            if not jobs.any_due(unit, now=now):
                return False
        with self._store.begin() as unit:
            job = jobs.claim(unit, self.name, now=now, lease=self._lease)
        if job is None:
            return False
        error = self._do(job)
        with self._store.begin() as unit:
            if error:
                kept = jobs.put_back(unit, job, error=error, now=self._clock())
            else:
                kept = jobs.finish(unit, job, now=self._clock())
        if not kept:
            log.warning("job %s (%s) was taken over by another worker meanwhile", job.id, job.kind)
        return True

    def _do(self, job: Job) -> str:
        """What went wrong, or nothing."""
        handler = self._handlers.get(job.kind)
        if handler is None:
            return f"no handler for {job.kind!r}: is an older version at work?"
        try:
            with self._renewing(job):
                handler(self._store, job.payload, now=self._clock())
        except Exception as error:
            log.exception("job %s (%s), attempt %s", job.id, job.kind, job.attempt)
            return f"{type(error).__name__}: {error}"
        return ""

    @contextmanager
    def _renewing(self, job: Job) -> Iterator[None]:
        """Renew the lease in the background for as long as the job takes."""
        ended = threading.Event()

        def renew() -> None:
            while not ended.wait(self._lease.total_seconds() / 4):
                try:
                    with self._store.begin() as unit:
                        jobs.renew(unit, job, now=self._clock(), lease=self._lease)
                except PASSING as error:
                    log.warning("lease of job %s not renewed: %s", job.id, error.message)

        heart = threading.Thread(target=renew, name=f"lease of job {job.id}", daemon=True)
        heart.start()
        try:
            yield
        finally:
            ended.set()
            heart.join()


class WorkerThread:
    """A worker inside another process, such as the demo's web server."""

    def __init__(self, worker: Worker) -> None:
        self._worker = worker
        self._thread = threading.Thread(target=worker.run, name="worker", daemon=True)

    def __enter__(self) -> "WorkerThread":
        self._thread.start()
        return self

    def __exit__(self, *_: Any) -> None:
        self._worker.stop()
        self._thread.join(timeout=15)
