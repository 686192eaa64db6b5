"""The audit trail under Set-up."""

import re
from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from service.domain.audit import AuditEntry, AuditQuestion
from service.pages.asking import Around, SignedIn
from service.pages.templating import render
from service.pages.view import day, yes_no
from service.usecases.people.audit_trail import read_audit

router = APIRouter(prefix="/set-up/audit")
PAGE = 50
LONGEST_VALUE = 80
_ISO = re.compile(r"(\d{4}-\d{2}-\d{2})(?:T(\d{2}:\d{2})[\d:.]*(Z|[+-]\d{2}:\d{2})?)?")


def _spoken(found: re.Match[str]) -> str:
    """2026-11-30T07:30:00+00:00 as 30 Nov 2026, 07:30 (UTC)."""
    try:
        on = day(date.fromisoformat(found[1]))
    except ValueError:
        return found[0]
    if found[2] is None:
        return on
    zone = "UTC" if found[3] in ("Z", "+00:00") else f"UTC{found[3]}" if found[3] else ""
    return f"{on}, {found[2]}{f' ({zone})' if zone else ''}"


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
    if isinstance(value, (list, tuple)):
        value = ", ".join(str(one) for one in value)
    elif isinstance(value, dict):
        value = ", ".join(f"{name} {one}" for name, one in value.items())
    elif isinstance(value, str):
        value = _ISO.sub(_spoken, value)
    text = "nothing" if value in (None, "") else str(value)
    return text if len(text) <= LONGEST_VALUE else f"{text[:LONGEST_VALUE]}…"
