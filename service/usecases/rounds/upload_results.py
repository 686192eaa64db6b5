"""Results of uploads as plain JSON values: kept with the upload and under its key."""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from typing import Any

from service.domain.readings import ActNow, SecondReading, UploadResult
from service.errors import Problem


def result_to_dict(result: UploadResult) -> dict[str, Any]:
    """Plain values, read back by ``result_from_dict``."""
    return asdict(result) | {"received_at": result.received_at.isoformat()}


def result_from_dict(body: Mapping[str, Any]) -> UploadResult:
    """The result that was kept, equal in every field to the one first answered."""
    fields = dict(body)
    fields["received_at"] = datetime.fromisoformat(fields["received_at"])
    fields["act_now"] = tuple(ActNow(**one) for one in fields["act_now"])
    fields["second_readings"] = tuple(SecondReading(**one) for one in fields["second_readings"])
    fields["finding_ids"] = tuple(fields["finding_ids"])
    fields["warnings"] = tuple(Problem(**one) for one in fields["warnings"])
    return UploadResult(**fields)
