"""What follows wherever readings of points have come or changed: proofs, due days, and trends by a job."""

import json
from collections.abc import Sequence
from datetime import datetime

from service.domain.jobs import JobKind
from service.intake.content_hash import content_hash_of
from service.storage import jobs
from service.storage.unit import Unit
from service.usecases.condition.assess import Assessed
from service.usecases.findings.prove import after_readings
from service.usecases.rounds.due import refresh_due


def follow_readings(unit: Unit, assessed: Assessed, *, now: datetime) -> None:
    """Prove repairs, work due days out and put the trend's job down, in the same transaction."""
    if not assessed.touched:
        return
    after_readings(unit, assessed.touched, now=now)
    if assessed.due_open:
        refresh_due(unit, assessed.due_open, now)
    wanted = sorted(assessed.touched)
    jobs.put(unit, JobKind.ASSESS_TRENDS, {"point_ids": wanted}, now=now, dedupe_key=_job_key(wanted))


def _job_key(point_ids: Sequence[int]) -> str:
    return f"{JobKind.ASSESS_TRENDS} {content_hash_of(json.dumps(list(point_ids)))[:32]}"
