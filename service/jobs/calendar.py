"""What the service does by the calendar: one job per slot, whoever puts it first."""

from datetime import datetime

from service.domain.jobs import JobKind
from service.storage import jobs
from service.storage.unit import Store


def put_due_slots(store: Store, *, now: datetime) -> None:
    """Put today's jobs unless a worker has done so already.

    >>> slots_of(datetime(2026, 11, 25, 9, 0))
    {'sweep expired 2026-11-25': <JobKind.SWEEP_EXPIRED: 'sweep expired'>}
    """
    due = slots_of(now)
    with store.look() as unit:
        missing = due.keys() - jobs.taken_slots(unit, due)
    if not missing:
        return
    with store.begin() as unit:
        for slot in sorted(missing):
            jobs.put(unit, due[slot], {}, now=now, slot=slot)


def slots_of(now: datetime) -> dict[str, JobKind]:
    """The slots of one day and what is done in each."""
    return {f"{JobKind.SWEEP_EXPIRED} {now:%Y-%m-%d}": JobKind.SWEEP_EXPIRED}
