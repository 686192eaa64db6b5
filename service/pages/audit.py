"""The audit trail under Set-up."""

from collections.abc import Mapping
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from service.domain.audit import AuditEntry, AuditQuestion
from service.pages.asking import Around, SignedIn
from service.pages.templating import render
from service.pages.view import yes_no
from service.usecases.people.audit_trail import read_audit

router = APIRouter(prefix="/set-up/audit")
PAGE = 50
LONGEST_VALUE = 80


@router.get("")
def list_entries(
    request: Request,
    around: Around,
    actor: SignedIn,
    before_id: Annotated[int | None, Query(ge=1, le=2**53)] = None,
    noun: Annotated[str, Query(max_length=60)] = "",
) -> Response:
    question = AuditQuestion(before_id=before_id, limit=PAGE + 1, noun=noun.strip())
    found = read_audit(around.store, actor, question)
    shown = found[:PAGE]
    older = {"noun": question.noun, "before_id": shown[-1].id} if len(found) > PAGE else {}
    return render(
        request,
        "set_up/audit.html",
        place="setup",
        rows=[(entry, changes(entry)) for entry in shown],
        noun=question.noun,
        older=f"/set-up/audit?{urlencode(older)}" if older else "",
    )


def changes(entry: AuditEntry) -> list[str]:
    """The fields that changed, in words: "name: Ada, was Eda"."""
    before, after = entry.before or {}, entry.after or {}
    told = []
    for name in dict.fromkeys((*after, *before)):
        if name in before and name in after and before[name] == after[name]:
            continue
        told.append(_change(name, before, after))
    return told


def _change(name: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    words = name.replace("_", " ")
    if name not in after:
        return f"{words} was {_short(before[name])}"
    was = f", was {_short(before[name])}" if name in before else ""
    return f"{words}: {_short(after[name])}{was}"


def _short(value: Any) -> str:
    if isinstance(value, bool):
        return yes_no(value)
    text = "nothing" if value in (None, "") else str(value)
    return text if len(text) <= LONGEST_VALUE else f"{text[:LONGEST_VALUE]}…"
