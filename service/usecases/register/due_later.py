"""The register changed what intervals stand on: due days follow by a job."""

from collections.abc import Collection
from datetime import datetime

from service.domain.jobs import JobKind
from service.storage import jobs
from service.storage.unit import Unit


def refresh_due_later(unit: Unit, site_ids: Collection[int], *, now: datetime) -> None:
    """Put the work in the transaction of the change; the same sites waiting already are enough."""
    for site_id in site_ids:
        jobs.put(
            unit, JobKind.REFRESH_DUE, {"site_ids": [site_id]}, now=now, dedupe_key=f"due of site {site_id}"
        )
