"""R16, no request breaks it: made from the document, from raw bytes, at the framework's own edges."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import seed as seeded
from hypothesis import strategies as st
from schemathesis import APIOperation
from starlette.testclient import TestClient

from service.api.problems import PROBLEMS, describe_problems
from tests.access.matrix import Ground, lay_ground
from tests.access.rows import Row
from tests.access.world import ENGINEER, Persona
from tests.conftest import NOW
from tests.reliability.any_request import (
    CONTENT_TYPES,
    HOSTILE,
    PERSONAS,
    ROWS,
    Found,
    ask_from_document,
    ask_page,
    ask_with_bytes,
    document_of,
    headers_of,
    operations_of,
    page_rows,
    spoiled,
    writing_rows,
    wrong_with,
)

SEED = 20261125
#: Names that pages read from their address, and one that none does.
QUERIES = ("q", "next", "after", "limit", "point", "site", "client", "state", "month", "page", "view", "zz")


@pytest.fixture(scope="module")
def ground(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ground]:
    with lay_ground(sqlite_template, tmp_path_factory.mktemp("any-request"), lambda: NOW) as laid:
        yield laid


@pytest.fixture(scope="module")
def operations(ground: Ground) -> list[APIOperation]:
    return operations_of(document_of(ground.app))


def told(found: Found) -> str:
    lines = [f"{kind}\n    {shown}" for kind, shown in found.breaches.items()]
    return "\n".join([f"{found.requests} requests, {len(lines)} kinds of breach", *lines[:40]])


# ---- from the document -----------------------------------------------------------------------


@pytest.mark.parametrize("persona", PERSONAS, ids=lambda p: p.name)
def test_requests_made_from_the_document(
    ground: Ground, operations: list[APIOperation], persona: Persona
) -> None:
    found = Found()
    mine = operations[PERSONAS.index(persona) % 3 :: 3]  # by turns: each is asked by one or two people
    for operation in mine:
        ask_from_document(ground, operation, persona, each=1, seed=SEED, found=found)
    assert found.operations == {operation.label for operation in mine}
    assert not found.breaches, told(found)


@pytest.mark.torture
@pytest.mark.parametrize("persona", PERSONAS, ids=lambda p: p.name)
def test_ten_thousand_requests_made_from_the_document(
    ground: Ground, operations: list[APIOperation], persona: Persona
) -> None:
    found = Found()
    each = -(-10_000 // (len(operations) * 2 * len(PERSONAS)))
    for operation in operations:
        ask_from_document(ground, operation, persona, each=each, seed=SEED + 1, found=found)
    print(f"\n{found.requests} requests, statuses {dict(sorted(found.statuses.items()))}")
    assert found.operations == {operation.label for operation in operations}
    assert not found.breaches, told(found)


# ---- one value where one is asked for ---------------------------------------------------------


def told_as_repeated(ground: Ground, client: TestClient, row: Row, name: str) -> list[str]:
    """The fields named by the refusal of a request in which a parameter comes twice."""
    address = row.address(ground.world)
    query = f"{'&' if '?' in address else '?'}{name}=1&{name}=2"
    answer = client.request(row.method, address + query, headers=headers_of(ENGINEER, row, 1))
    kind = answer.headers.get("content-type", "")
    assert wrong_with(answer.status_code, kind, answer.content, cpu_s=0) == [], answer.text
    told = answer.json() if answer.status_code == 422 else {}
    return [
        one["field"]
        for one in told.get("problems", ())
        if " times; it takes one" in one["message"] and one["remedy"]
    ]


def test_a_parameter_sent_twice_is_refused_wherever_it_takes_one_value(
    ground: Ground, operations: list[APIOperation]
) -> None:
    """Else ``?noun_id=a&noun_id=b&noun_id=7`` would answer another question than was asked."""
    lists, single = set(), 0
    with ground.fresh() as client:
        for operation in operations:
            row = ROWS[operation.label]
            for parameter in operation.definition.raw.get("parameters", []):
                name = parameter["name"]
                if parameter["in"] != "query":
                    continue
                told = told_as_repeated(ground, client, row, name)
                if "array" in json.dumps(parameter["schema"]):
                    assert told == [], (operation.label, name)
                    lists.add((operation.label, name))
                else:
                    assert told == [name], (operation.label, name)
                    single += 1
            assert told_as_repeated(ground, client, row, "unasked") == ["unasked"], operation.label
    assert lists == {("GET /api/v1/rounds", "state"), ("GET /api/v1/findings", "state")}
    assert single > 60


def test_who_asks_comes_before_what_was_sent_twice(ground: Ground) -> None:
    with ground.fresh() as client:
        client.cookies.clear()
        assert client.get("/api/v1/audit?noun_id=a&noun_id=b").status_code == 401


# ---- raw bytes -------------------------------------------------------------------------------

BODIES = st.one_of(
    st.binary(max_size=400),
    st.sampled_from(
        [
            b"",
            b"\x00",
            b"{",
            b"[]",
            b"null",
            b'"\\ud800"',
            b'{"rows": [{}]}',
            b'{"a": 1e999}',
            b'{"a": NaN}',
            b"[" * 5000,
            b'{"a":' * 2000,
            b"\xff\xfe{\x00}\x00",
            b"PK\x03\x04" + b"\x00" * 60,
            b"--b\r\nContent-Disposition: form-data; name=file; filename=a.csv\r\n\r\n\xff\xfe\r\n--b--\r\n",
            b"--b\r\nContent-Disposition: form-data\r\n\r\n",
            b"a=1&a=2&%zz=%00",
        ]
    ),
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=10), inner, max_size=3),
        max_leaves=6,
    ).map(lambda value: json.dumps(value).encode()),
)


def ask_bytes(ground: Ground, *, each: int, seed: int) -> Found:
    found = Found()
    for row in writing_rows():
        _ask_row(ground, row, each=each, seed=seed, found=found)
    return found


def _ask_row(ground: Ground, row: Row, *, each: int, seed: int, found: Found) -> None:
    @seeded(seed)
    @settings(
        max_examples=each,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(body=BODIES, content_type=st.sampled_from(CONTENT_TYPES), persona=st.sampled_from(PERSONAS[1:]))
    def ask(body: bytes, content_type: str, persona: Persona) -> None:
        ask_with_bytes(ground, row, persona, body=body, content_type=content_type, found=found)

    ask()


def test_bodies_of_raw_bytes(ground: Ground) -> None:
    found = ask_bytes(ground, each=4, seed=SEED)
    assert found.operations == {row.route for row in writing_rows()}
    assert not found.breaches, told(found)


@pytest.mark.torture
def test_ten_thousand_bodies_of_raw_bytes(ground: Ground) -> None:
    rows = list(writing_rows())
    found = ask_bytes(ground, each=-(-10_000 // len(rows)), seed=SEED + 1)
    print(f"\n{found.requests} requests, statuses {dict(sorted(found.statuses.items()))}")
    assert not found.breaches, told(found)


# ---- pages -----------------------------------------------------------------------------------


def ask_pages(ground: Ground, *, each: int, seed: int) -> Found:
    found = Found()
    for row in page_rows():
        _ask_page(ground, row, each=each, seed=seed, found=found)
    return found


def _ask_page(ground: Ground, row: Row, *, each: int, seed: int, found: Found) -> None:
    values = st.sampled_from(HOSTILE) | st.text(max_size=40)

    @seeded(seed)
    @settings(
        max_examples=each,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(
        name=st.text("abcdefgh", max_size=12),
        value=values,
        query=st.dictionaries(st.sampled_from(QUERIES), values, max_size=2),
        persona=st.sampled_from(PERSONAS),
    )
    def ask(name: str, value: str, query: dict[str, str], persona: Persona) -> None:
        form = spoiled(row, ground, name=name, value=value)
        ask_page(ground, row, persona, form=form, query=query, found=found)

    ask()


def test_pages_asked_and_answered_strangely(ground: Ground) -> None:
    found = ask_pages(ground, each=2, seed=SEED)
    assert found.operations == {row.route for row in page_rows()}
    assert not found.breaches, told(found)


@pytest.mark.torture
def test_ten_thousand_strange_visits_to_pages(ground: Ground) -> None:
    found = ask_pages(ground, each=-(-10_000 // len(page_rows())), seed=SEED + 1)
    print(f"\n{found.requests} requests, statuses {dict(sorted(found.statuses.items()))}")
    assert not found.breaches, told(found)


# ---- the framework's own refusals -------------------------------------------------------------


def refusal(client: TestClient, method: str, address: str, **how: object) -> int:
    headers = {"Authorization": f"Bearer {ENGINEER.secret}"} | dict(how.pop("headers", {}))  # type: ignore[call-overload]
    answer = client.request(method, address, headers=headers, **how)  # type: ignore[arg-type]
    kind = answer.headers.get("content-type", "")
    assert wrong_with(answer.status_code, kind, answer.content, cpu_s=0) == [], answer.text
    return answer.status_code


@pytest.mark.parametrize("address", ["/api/v1/nothing", "/api/", "/api/v2/areas", "/api/v1/areas/1/nothing"])
def test_an_address_that_is_not_there_is_told_as_a_problem(ground: Ground, address: str) -> None:
    with ground.fresh() as client:
        assert refusal(client, "GET", address) == 404


def test_every_operation_refuses_another_method_as_a_problem(
    ground: Ground, operations: list[APIOperation]
) -> None:
    addresses = {row.path: row.address(ground.world) for row in writing_rows()}
    assert len(addresses) > 30
    with ground.fresh() as client:
        for address in addresses.values():
            assert refusal(client, "TRACE", address) == 405


def test_a_body_over_the_limit_is_refused_as_a_problem(ground: Ground) -> None:
    limit = ground.app.state.surroundings.body_limit

    def chunks() -> object:
        for _ in range(limit // 65536 + 2):
            yield b" " * 65536

    with ground.fresh() as client:
        assert refusal(client, "POST", "/api/v1/areas", content=b" " * (limit + 1)) == 413
        headers = {"Content-Type": "application/json"}
        assert refusal(client, "POST", "/api/v1/areas", content=chunks(), headers=headers) == 413
        assert refusal(client, "POST", "/api/v1/areas", content=b"", headers={"Content-Length": "-1"}) == 413


def test_another_kind_of_content_is_refused_as_a_problem(ground: Ground) -> None:
    with ground.fresh() as client:
        for row in writing_rows():
            if row.json is not None:
                headers = (
                    {"If-Match": '"1"', "Idempotency-Key": "k"} | row.headers | {"Content-Type": "image/png"}
                )
                status = refusal(
                    client, row.method, row.address(ground.world), content=b"\x89PNG", headers=headers
                )
                assert status in (400, 403, 415, 422), row.route


def test_what_the_framework_finds_wrong_is_told_as_a_problem(ground: Ground) -> None:
    with ground.fresh() as client:
        assert refusal(client, "GET", "/api/v1/areas?limit=many") == 422
        assert refusal(client, "GET", "/api/v1/areas/many") == 422
        assert refusal(client, "GET", "/api/v1/areas/99999999999999999999") == 422
        assert (
            refusal(
                client, "POST", "/api/v1/areas", content=b"{", headers={"Content-Type": "application/json"}
            )
            == 422
        )


# ---- broken twins ----------------------------------------------------------------------------


def test_twin_a_route_that_breaks_is_caught_by_document_and_by_bytes(ground: Ground) -> None:
    """Routes that raise, answer errors in their own way, or answer what they do not document."""
    broken = FastAPI(openapi_url="/api/v1/openapi.json")

    @broken.get("/api/v1/raises", responses=PROBLEMS)
    def raises() -> dict[str, int]:
        return {"ratio": 1 // 0}

    @broken.get("/api/v1/undocumented", response_model=int, responses=PROBLEMS)
    def undocumented() -> object:
        from starlette.responses import JSONResponse

        return JSONResponse({"not": "a number"})

    @broken.get("/api/v1/plain", responses=PROBLEMS)
    def plain(number: int) -> int:
        return number

    @broken.exception_handler(ZeroDivisionError)
    def as_five_hundred(_request: object, _error: Exception) -> object:
        from starlette.responses import PlainTextResponse

        return PlainTextResponse('Traceback (most recent call last):\n  File "/x.py"', status_code=500)

    describe_problems(broken)
    found = Found()
    for operation in operations_of(document_of(broken)):
        ask_from_document(ground, operation, ENGINEER, each=5, seed=SEED, found=found)
    kinds = " | ".join(found.breaches)
    assert "GET /api/v1/raises: status 500" in kinds
    assert "GET /api/v1/raises: shows a stack trace" in kinds
    assert "GET /api/v1/undocumented: JsonSchemaError" in kinds
    assert "GET /api/v1/plain: status 422 as application/json" in kinds


@pytest.mark.parametrize(
    ("status", "kind", "body", "wrong"),
    [
        (404, "application/json", b"{}", "status 404 as application/json"),
        (404, "application/problem+json", b"not found", "no JSON"),
        (404, "application/problem+json", b'{"status": 400}', "another status"),
        (404, "application/problem+json", b'{"status": 404, "type": "x"}', "without title, detail"),
        (503, "application/problem+json", b"{}", "status 503"),
    ],
)
def test_twin_each_fault_of_a_problem_document_is_named(
    status: int, kind: str, body: bytes, wrong: str
) -> None:
    assert any(wrong in told for told in wrong_with(status, kind, body, cpu_s=0))


def test_twin_a_slow_answer_is_named() -> None:
    assert wrong_with(200, "", b"", cpu_s=2.5) == ["took 2.5 s"]
