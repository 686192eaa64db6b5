"""R16's harness: requests made from the OpenAPI document and from raw bytes, and what is wrong with an answer."""

import json
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import nullcontext, suppress
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import seed as seeded
from hypothesis.errors import Unsatisfiable
from schemathesis import APIOperation, Case, GenerationMode
from schemathesis.checks import CheckFunction
from schemathesis.core.failures import FailureGroup
from schemathesis.schemas import BaseSchema
from schemathesis.specs.openapi.checks import (
    AcceptedNegativeData,
    content_type_conformance,
    negative_data_rejection,
    response_schema_conformance,
    status_code_conformance,
)

from tests.access.matrix import Ground
from tests.access.rows import Row
from tests.access.table import TABLE
from tests.access.world import ADMINISTRATOR, ANONYMOUS, ENGINEER, MANAGER, TECHNICIAN, Persona
from tests.doors import COOKIE, OWN_PAGE

DOCUMENT = "/api/v1/openapi.json"
PERSONAS = (ANONYMOUS, TECHNICIAN, ENGINEER, MANAGER, ADMINISTRATOR)
PROBLEM = "application/problem+json"
LONGEST_CPU_S = 2.0
MODES = (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)
CHECKS: list[CheckFunction] = [
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    negative_data_rejection,
]
ROWS = {row.route: row for row in TABLE if row.api}


@dataclass
class Found:
    """What a run has asked and what was wrong with the answers, each kind of breach once."""

    requests: int = 0
    operations: set[str] = field(default_factory=set)
    statuses: Counter[int] = field(default_factory=Counter)
    breaches: dict[str, str] = field(default_factory=dict)

    def note(self, label: str, status: int, wrong: list[str], shown: Callable[[], str]) -> None:
        self.requests += 1
        self.operations.add(label)
        self.statuses[status] += 1
        for kind in wrong:
            self.breaches.setdefault(f"{label}: {kind}", shown())


# ---- what is wrong with an answer ------------------------------------------------------------


def wrong_with(status: int, content_type: str, body: bytes, *, cpu_s: float) -> list[str]:
    """Every rule of R16 that an answer of the JSON door breaks."""
    wrong = wrong_at_either_door(status, body, cpu_s=cpu_s)
    return wrong + wrong_with_problem(status, content_type, body) if status >= 400 else wrong


def wrong_at_either_door(status: int, body: bytes, *, cpu_s: float) -> list[str]:
    """The rules that hold for pages too: no fault of ours, no stack trace, no long wait."""
    wrong = []
    if status >= 500:
        wrong.append(f"status {status}")
    if cpu_s > LONGEST_CPU_S:
        wrong.append(f"took {cpu_s:.1f} s")
    if b"Traceback (most recent call last)" in body or b'File "/' in body:
        wrong.append("shows a stack trace")
    return wrong


def wrong_with_problem(status: int, content_type: str, body: bytes) -> list[str]:
    """What keeps an error from being a problem document after RFC 9457."""
    if content_type.partition(";")[0] != PROBLEM:
        return [f"status {status} as {content_type or 'nothing'}"]
    try:
        told = json.loads(body)
    except ValueError:
        return ["a problem document that is no JSON"]
    if not isinstance(told, dict) or told.get("status") != status:
        return ["a problem document with another status"]
    missing = [name for name in ("type", "title", "detail") if not isinstance(told.get(name), str)]
    return [f"a problem document without {', '.join(missing)}"] if missing else []


# ---- requests from the document --------------------------------------------------------------


def document_of(app: Any) -> BaseSchema:
    return schemathesis.openapi.from_asgi(DOCUMENT, app)


def operations_of(schema: BaseSchema) -> list[APIOperation]:
    return [result.ok() for result in schema.get_all_operations()]


def ask_from_document(
    ground: Ground, operation: APIOperation, persona: Persona, *, each: int, seed: int, found: Found
) -> None:
    """Send valid and invalid requests of one operation as somebody; ``each`` of either."""
    for mode in MODES:
        with ground.fresh():
            _ask_some(ground, operation, persona, mode, each=each, seed=seed, found=found)


def _ask_some(
    ground: Ground,
    operation: APIOperation,
    persona: Persona,
    mode: GenerationMode,
    *,
    each: int,
    seed: int,
    found: Found,
) -> None:
    row = ROWS.get(operation.label)
    asked = 0

    @seeded(seed)
    @settings(
        max_examples=each,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def ask(case: Case) -> None:
        nonlocal asked
        asked += 1
        if mode is GenerationMode.POSITIVE and row is not None and asked % 4:
            case.path_parameters = _real_address(case, row, ground)
        began = time.process_time()
        answer = case.call(headers=headers_of(persona, row, asked))
        cpu_s = time.process_time() - began
        kind = (answer.headers.get("content-type") or [""])[0]
        wrong = wrong_with(answer.status_code, kind, answer.content, cpu_s=cpu_s)
        wrong += _against_document(case, answer)
        found.note(operation.label, answer.status_code, wrong, lambda: _shown(case, persona, answer))

    # with neither body nor parameters there is nothing to get wrong
    with suppress(Unsatisfiable) if mode is GenerationMode.NEGATIVE else nullcontext():
        ask()


def _real_address(case: Case, row: Row, ground: Ground) -> dict[str, Any]:
    """Random ids are seldom those of anything: mostly ask for what is there."""
    names = case.path_parameters or {}
    return {name: row._value(name, ground.world) for name in names}


def headers_of(persona: Persona, row: Row | None, number: int) -> dict[str, str]:
    """Who asks, and the headers of an edit; now and then without the latter."""
    headers = {"If-Match": '"1"', "Idempotency-Key": f"key-{number}"} if number % 8 else {}
    if row is not None:
        headers |= row.headers
    if persona.role is None:
        return headers
    if row is not None and row.session:
        return headers | OWN_PAGE | {"Cookie": f"{COOKIE}={persona.secret}"}
    return headers | {"Authorization": f"Bearer {persona.secret}"}


def _against_document(case: Case, answer: Any) -> list[str]:
    try:
        case.validate_response(answer, checks=CHECKS)
    except FailureGroup as group:
        return [
            f"{type(one).__name__}: {str(one).splitlines()[0]}"
            for one in group.exceptions
            if not (isinstance(one, AcceptedNegativeData) and _has_whole_float(case.body))
        ]
    return []


def _has_whole_float(value: Any) -> bool:
    """1.0 is an integer to JSON Schema and to us; the generator takes it for a violation."""
    if isinstance(value, dict):
        return any(map(_has_whole_float, value.values()))
    if isinstance(value, list):
        return any(map(_has_whole_float, value))
    return isinstance(value, float) and value.is_integer()


def _shown(case: Case, persona: Persona, answer: Any) -> str:
    body = repr(case.body)[:300]
    return f"{persona.name}: {case.method} {case.path} {case.path_parameters} {case.query} {body} → {answer.text[:400]}"


# ---- raw bytes -------------------------------------------------------------------------------

CONTENT_TYPES = (
    "application/json",
    "application/json; charset=utf-16",
    "text/csv",
    "text/plain",
    "application/octet-stream",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "multipart/form-data; boundary=b",
    "multipart/form-data",
    "application/x-www-form-urlencoded",
    "application/json\x00",
    "",
)


def writing_rows() -> Iterator[Row]:
    """One row for every route of the JSON door that may take a body."""
    yield from (row for row in ROWS.values() if row.method != "GET")


def ask_with_bytes(
    ground: Ground, row: Row, persona: Persona, *, body: bytes, content_type: str, found: Found
) -> None:
    with ground.fresh() as client:
        client.cookies.clear()
        headers = headers_of(persona, row, 1) | {"Content-Type": content_type}
        began = time.process_time()
        answer = client.request(row.method, row.address(ground.world), content=body, headers=headers)
        cpu_s = time.process_time() - began
    kind = answer.headers.get("content-type", "")
    wrong = wrong_with(answer.status_code, kind, answer.content, cpu_s=cpu_s)
    shown = f"{persona.name}: {row.route} {content_type!r} {body[:200]!r} → {answer.text[:400]}"
    found.note(row.route, answer.status_code, wrong, lambda: shown)


# ---- pages -----------------------------------------------------------------------------------

HOSTILE = (
    "",
    "\x00",
    "=1+1",
    "\u202e<script>alert(1)</script>",
    "9" * 400,
    "-1",
    "1e999",
    "NaN",
    "'; DROP TABLE people; --",
    "../../etc/passwd",
    "2026-02-30",
    "0001-01-01T00:00:00",
    "9999-12-31",
    "\ud83d\ude00" * 50,
    "\U0001f600" * 50,
    "１２",
)


def page_rows() -> list[Row]:
    """Every row of a page: what a browser may open or send."""
    return [row for row in TABLE if not row.api]


def ask_page(
    ground: Ground, row: Row, persona: Persona, *, form: dict[str, str], query: dict[str, str], found: Found
) -> None:
    """Open a page with a strange question, or send its form with strange answers."""
    with ground.fresh() as client:
        client.cookies.clear()
        headers = OWN_PAGE | ({"Cookie": f"{COOKIE}={persona.secret}"} if persona.role else {})
        headers |= {"Content-Type": "application/x-www-form-urlencoded"} if form else {}
        address = f"{row.address(ground.world)}?{_as_sent(query)}" if query else row.address(ground.world)
        began = time.process_time()
        answer = client.request(row.method, address, content=_as_sent(form).encode(), headers=headers)
        cpu_s = time.process_time() - began
    wrong = wrong_at_either_door(answer.status_code, answer.content, cpu_s=cpu_s)
    shown = f"{persona.name}: {row.route} {form!r} {query!r} → {answer.text[:400]}"
    found.note(row.route, answer.status_code, wrong, lambda: shown)


def _as_sent(fields: dict[str, str]) -> str:
    """As a hand-made request may send them: half a character included, which no browser would."""
    return urlencode(fields, errors="surrogatepass")


def spoiled(row: Row, ground: Ground, *, name: str, value: str) -> dict[str, str]:
    """A form that is right but for one field, or for one that nobody asked for."""
    if row.method == "GET":
        return {}
    form = {"version": "1"} | (row.form(ground.world) if row.form else {})
    chosen = sorted(form)[len(name) % len(form)] if name else "unasked"
    return {key: str(kept) for key, kept in form.items()} | {chosen: value}
