"""Entries of the audit trail, and what may be asked of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class AuditEntry:
    """Who did what to which thing, with the fields before and after."""

    id: int
    at: datetime
    person_id: int | None
    person_name: str
    verb: str
    noun: str
    noun_id: int | None
    site_id: int | None
    site_name: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class AuditQuestion:
    """Which entries: older than one, of a noun, of one thing, at a site, by a person."""

    before_id: int | None = None
    limit: int = 100
    noun: str = ""
    noun_id: int | None = None
    site_id: int | None = None
    person_id: int | None = None
