"""Drop what has outlived its use: done jobs, old sends, dead sessions, tries to sign in."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from service.storage import expired, jobs
from service.storage.unit import Store

DONE_JOBS_KEPT = timedelta(days=30)
#: A replay may come weeks later (a device found in a drawer): reliability R7.
SENDS_KEPT = timedelta(days=120)
SESSIONS_KEPT = timedelta(days=30)
TRIES_KEPT = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Swept:
    jobs: int
    sends: int
    sessions: int
    tries: int


def sweep_expired(store: Store, *, now: datetime) -> Swept:
    """Delete records nobody can ask for any more; readings and the audit trail never."""
    with store.begin() as unit:
        return Swept(
            jobs=jobs.drop_done_before(unit, now - DONE_JOBS_KEPT),
            sends=expired.drop_sends_before(unit, now - SENDS_KEPT),
            sessions=expired.drop_sessions_ended_before(unit, now - SESSIONS_KEPT),
            tries=expired.drop_tries_before(unit, now - TRIES_KEPT),
        )
