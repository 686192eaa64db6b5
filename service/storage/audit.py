"""The audit trail: rows are added in the same transaction as the change they tell of."""

from datetime import date, datetime
from enum import Enum
from typing import Any

from service.domain.people import Actor
from service.storage.tables.record import AuditRow
from service.storage.unit import Unit


def note(
    unit: Unit,
    actor: Actor,
    *,
    verb: str,
    noun: str,
    noun_id: int | None,
    now: datetime,
    site_id: int | None = None,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> None:
    """Write who did what to which thing, with the fields before and after."""
    unit.session.add(
        AuditRow(
            at=now,
            person_id=actor.person_id,
            person_name=actor.name,
            verb=verb,
            noun=noun,
            noun_id=noun_id,
            site_id=site_id,
            before=_plain(before),
            after=_plain(after),
        )
    )


def _plain(fields: dict[str, Any] | None) -> dict[str, Any] | None:
    if fields is None:
        return None
    return {name: _plain_value(value) for name, value in fields.items()}


def _plain_value(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime | date):
        return value.isoformat()
    return value
