"""The audit trail."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel

from service.api.asking import Around, Asker, Limit
from service.domain.audit import AuditQuestion
from service.usecases.people.audit_trail import read_audit

router = APIRouter(prefix="/audit", tags=["audit"])
MaybeId = Annotated[int | None, Query(ge=1, le=2**53)]


class AuditReply(BaseModel):
    id: int
    at: datetime
    person_id: int | None
    person_name: str
    verb: str
    noun: str
    noun_id: int | None
    site_id: int | None
    before: dict[str, Any] | None
    after: dict[str, Any] | None


@router.get("")
def list_entries(
    around: Around,
    asker: Asker,
    before_id: Annotated[int | None, Query(ge=1, le=2**53, description="only older entries")] = None,
    limit: Limit = 100,
    noun: Annotated[str, Query(max_length=60)] = "",
    noun_id: MaybeId = None,
    site_id: MaybeId = None,
    person_id: MaybeId = None,
) -> list[AuditReply]:
    """Who did what to which thing, the newest first."""
    question = AuditQuestion(
        before_id=before_id, limit=limit, noun=noun, noun_id=noun_id, site_id=site_id, person_id=person_id
    )
    found = read_audit(around.store, asker, question)
    return [AuditReply.model_validate(entry, from_attributes=True) for entry in found]
