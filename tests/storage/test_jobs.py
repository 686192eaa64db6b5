"""The lease table: one job for one worker, none lost, none waiting for a row it cannot see."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from service.domain.jobs import LEASE, MOST_ATTEMPTS, Job, JobCounts, delay_after
from service.storage import jobs
from service.storage.tables.record import JobRow
from service.storage.unit import Store

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
PAST_LEASE = NOW + LEASE + timedelta(seconds=1)


def put(store: Store, kind: str = "assess trends", **fields: Any) -> None:
    with store.begin() as unit:
        jobs.put(unit, kind, fields.pop("payload", {}), now=fields.pop("now", NOW), **fields)


def claim(store: Store, worker: str = "w1", now: datetime = NOW) -> Job | None:
    with store.begin() as unit:
        return jobs.claim(unit, worker, now=now)


def counts(store: Store) -> JobCounts:
    with store.look() as unit:
        return jobs.count_jobs(unit)


def test_a_job_is_put_with_its_cause_or_not_at_all(any_store: Store) -> None:
    with pytest.raises(RuntimeError, match="the upload failed"), any_store.begin() as unit:
        jobs.put(unit, "assess trends", {}, now=NOW)
        raise RuntimeError("the upload failed")
    assert counts(any_store) == JobCounts()


def test_the_payload_arrives_as_it_was_put(any_store: Store) -> None:
    put(any_store, payload={"point_ids": [3, 1, 2], "why": "α ≤ β"})
    taken = claim(any_store)
    assert taken is not None
    assert (taken.kind, taken.payload, taken.attempt) == (
        "assess trends",
        {"point_ids": [3, 1, 2], "why": "α ≤ β"},
        1,
    )


def test_oldest_first_and_nothing_before_its_time(any_store: Store) -> None:
    put(any_store, "second", now=NOW)
    put(any_store, "first", now=NOW - timedelta(hours=1))
    put(any_store, "tomorrow", now=NOW + timedelta(days=1))
    taken = [claim(any_store), claim(any_store), claim(any_store)]
    assert [job and job.kind for job in taken] == ["first", "second", None]


def test_one_job_goes_to_one_worker(any_store: Store) -> None:
    put(any_store)
    assert claim(any_store, "w1") is not None
    assert claim(any_store, "w2") is None


def test_many_workers_at_once_never_take_the_same_job(any_store: Store) -> None:
    for _ in range(60):
        put(any_store)
    taken: list[int] = []

    def work(name: str) -> None:
        while (job := claim(any_store, name)) is not None:
            taken.append(job.id)

    threads = [threading.Thread(target=work, args=(f"w{n}",)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(taken) == len(set(taken)) == 60


def test_the_job_of_a_silent_worker_goes_to_another(any_store: Store) -> None:
    put(any_store)
    first = claim(any_store, "dead")
    second = claim(any_store, "alive", now=PAST_LEASE)
    assert first is not None
    assert second is not None
    assert (second.id, second.attempt) == (first.id, 2)


def test_a_renewed_lease_is_not_taken_over(any_store: Store) -> None:
    put(any_store)
    job = claim(any_store)
    assert job is not None
    with any_store.begin() as unit:
        assert jobs.renew(unit, job, now=NOW + LEASE / 2)
    assert claim(any_store, "w2", now=NOW + LEASE + timedelta(seconds=1)) is None


def test_who_lost_the_lease_can_neither_renew_nor_finish(any_store: Store) -> None:
    put(any_store)
    slow = claim(any_store, "slow")
    assert claim(any_store, "quick", now=PAST_LEASE) is not None
    assert slow is not None
    with any_store.begin() as unit:
        assert not jobs.renew(unit, slow, now=PAST_LEASE)
        assert not jobs.finish(unit, slow, now=PAST_LEASE)
        assert not jobs.put_back(unit, slow, error="x", now=PAST_LEASE)
    assert counts(any_store) == JobCounts(running=1)


def test_a_failed_attempt_waits_longer_each_time_and_fails_in_the_end(any_store: Store) -> None:
    put(any_store)
    now, waits = NOW, []
    for _ in range(MOST_ATTEMPTS):
        job = claim(any_store, now=now)
        assert job is not None
        with any_store.begin() as unit:
            assert jobs.put_back(unit, job, error="no luck", now=now)
        waits.append(delay_after(job.attempt))
        assert claim(any_store, now=now + waits[-1] - timedelta(seconds=1)) is None
        now += waits[-1]
    assert waits == sorted(waits)
    assert len(set(waits)) == MOST_ATTEMPTS
    assert claim(any_store, now=now + timedelta(days=1)) is None
    assert counts(any_store) == JobCounts(failed=1)


def test_a_job_that_kills_every_worker_is_given_up(any_store: Store) -> None:
    put(any_store)
    now = NOW
    for _ in range(MOST_ATTEMPTS):
        assert claim(any_store, now=now) is not None
        now += LEASE + timedelta(seconds=1)
    assert claim(any_store, now=now) is None
    assert counts(any_store) == JobCounts(failed=1)
    with any_store.look() as unit:
        assert "stopped without a word" in unit.session.scalars(select(JobRow.last_error)).one()


def test_a_key_put_twice_while_waiting_is_one_job(any_store: Store) -> None:
    put(any_store, dedupe_key="site 1")
    put(any_store, dedupe_key="site 1")
    put(any_store, dedupe_key="site 2")
    assert counts(any_store) == JobCounts(ready=2)


def test_a_key_is_free_again_as_soon_as_its_job_is_taken(any_store: Store) -> None:
    """The running job may have read before our rows: they need a job of their own."""
    put(any_store, dedupe_key="site 1")
    assert claim(any_store) is not None
    put(any_store, dedupe_key="site 1")
    assert counts(any_store) == JobCounts(ready=1, running=1)


def test_a_key_of_a_done_job_can_be_put_again(any_store: Store) -> None:
    put(any_store, dedupe_key="site 1")
    job = claim(any_store)
    assert job is not None
    with any_store.begin() as unit:
        jobs.finish(unit, job, now=NOW)
    put(any_store, dedupe_key="site 1")
    assert counts(any_store) == JobCounts(ready=1, done=1)


@pytest.mark.postgres
def test_no_worker_takes_a_waiting_job_before_the_rows_it_must_see_are_there(postgres_store: Store) -> None:
    put(postgres_store, dedupe_key="site 1")
    with postgres_store.begin() as unit:
        jobs.put(unit, "assess trends", {}, now=NOW, dedupe_key="site 1")
        assert claim(postgres_store, "eager") is None
    assert claim(postgres_store, "eager") is not None


def test_a_slot_is_taken_once_for_ever(any_store: Store) -> None:
    put(any_store, slot="sweep 2026-11-25")
    job = claim(any_store)
    assert job is not None
    with any_store.begin() as unit:
        jobs.finish(unit, job, now=NOW)
    put(any_store, slot="sweep 2026-11-25")
    assert counts(any_store) == JobCounts(done=1)


def test_a_slot_put_by_many_at_once_is_one_job_and_nobody_fails(any_store: Store) -> None:
    with ThreadPoolExecutor(8) as pool:
        ticks = [pool.submit(put, any_store, slot="sweep 2026-11-25") for _ in range(8)]
    for tick in ticks:
        tick.result()
    assert counts(any_store) == JobCounts(ready=1)


def test_the_bell_rings_after_the_commit_and_not_for_what_was_rolled_back(any_store: Store) -> None:
    bell = jobs.bell(any_store)
    with pytest.raises(RuntimeError), any_store.begin() as unit:
        jobs.put(unit, "assess trends", {}, now=NOW)
        raise RuntimeError
    assert not bell.is_set()
    with any_store.begin() as unit:
        jobs.put(unit, "assess trends", {}, now=NOW)
        assert not bell.is_set()
    assert bell.is_set()


def test_done_jobs_are_dropped_after_their_time_failed_ones_stay(any_store: Store) -> None:
    put(any_store)
    put(any_store)
    done, failed = claim(any_store), claim(any_store)
    assert done is not None
    assert failed is not None
    with any_store.begin() as unit:
        jobs.finish(unit, done, now=NOW)
        unit.session.get_one(JobRow, failed.id).state = "failed"
    with any_store.begin() as unit:
        assert jobs.drop_done_before(unit, NOW) == 0
        assert jobs.drop_done_before(unit, NOW + timedelta(seconds=1)) == 1
    assert counts(any_store) == JobCounts(failed=1)
