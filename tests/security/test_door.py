"""The door: origin, size and headers (reliability.md R16, R23)."""

import json
from collections.abc import Callable, Iterator
from datetime import datetime

import pytest
from fastapi import FastAPI
from starlette.datastructures import Headers
from starlette.testclient import TestClient

from service.domain.words import Role
from service.pages.door import comes_from_here
from service.storage.unit import Store
from tests.builders import Plant, build_plant
from tests.doors import browser, browser_as, open_app, program, session_of

PROBLEM = "application/problem+json"


@pytest.fixture
def plant(store: Store) -> Plant:
    return build_plant(store)


@pytest.fixture
def app(store: Store, clock: Callable[[], datetime]) -> FastAPI:
    return open_app(store, clock, body_limit=50_000)


@pytest.mark.parametrize(
    ("headers", "accepted"),
    [
        ({"sec-fetch-site": "same-origin"}, True),
        ({"sec-fetch-site": "none"}, True),
        ({"sec-fetch-site": "same-site"}, False),
        ({"sec-fetch-site": "cross-site"}, False),
        ({"sec-fetch-site": "cross-site", "origin": "https://here.example"}, False),
        ({"sec-fetch-site": ""}, False),
        ({"origin": "https://here.example"}, True),
        ({"origin": "https://here.example:8443"}, False),
        ({"origin": "https://there.example"}, False),
        ({"origin": "https://here.example.there.example"}, False),
        ({"origin": "https://there.example/here.example"}, False),
        ({"origin": "null"}, False),
        ({"origin": ""}, False),
        ({}, False),
        ({"authorization": "Bearer x", "sec-fetch-site": "cross-site"}, True),
        ({"authorization": "Basic x"}, False),
    ],
)
def test_an_unsafe_request_comes_from_our_own_page_or_carries_a_token(
    headers: dict[str, str], accepted: bool
) -> None:
    sent = Headers({"host": "here.example", "cookie": "riseline=abc"} | headers)
    assert comes_from_here(sent, path="/set-up/tokens") is accepted
    assert comes_from_here(sent, path="/api/v1/tokens") is accepted


def test_an_api_request_without_cookie_and_token_is_asked_to_sign_in(app: FastAPI) -> None:
    assert program(app).post("/api/v1/tokens", json={"name": "x", "days": 1}).status_code == 401


def test_a_foreign_page_cannot_use_the_cookie(
    app: FastAPI, store: Store, plant: Plant, now: datetime
) -> None:
    secret = session_of(store, plant.people[Role.ENGINEER], now)
    for cookies in ({"riseline": secret}, {"riseline": secret, "x": "y"}):
        evil = TestClient(
            app, cookies=cookies, headers={"origin": "https://evil.example"}, follow_redirects=False
        )
        assert evil.post("/api/v1/tokens", json={"name": "x", "days": 1}).status_code == 403
        assert evil.post("/set-up/tokens", data={"name": "x", "days": "1"}).status_code == 403
        assert evil.post("/sign-out").status_code == 403
    assert browser(app, secret).get("/api/v1/tokens").json() == []


def test_signing_somebody_in_from_a_foreign_page_is_refused(app: FastAPI) -> None:
    evil = TestClient(app, headers={"sec-fetch-site": "cross-site"})
    answer = evil.post("/sign-in", data={"login": "x", "password": "y"})
    assert answer.status_code == 403
    assert "sent by a page of another site" in answer.text


@pytest.mark.parametrize("path", ["/api/v1/tokens", "/set-up/tokens"])
def test_a_body_over_the_limit_is_refused_whether_it_says_so_or_not(
    app: FastAPI, store: Store, plant: Plant, now: datetime, path: str
) -> None:
    client = browser_as(app, store, plant, Role.ENGINEER, now)
    body = json.dumps({"name": "x" * 60_000, "days": 1}).encode()
    kind = {"content-type": "application/json"}

    def in_pieces() -> Iterator[bytes]:
        yield from (body[k : k + 1000] for k in range(0, len(body), 1000))

    if path.startswith("/set-up"):
        body, kind = b"name=" + b"x" * 60_000, {"content-type": "application/x-www-form-urlencoded"}
    assert client.post(path, content=body, headers=kind).status_code == 413
    assert client.post(path, content=in_pieces(), headers=kind).status_code == 413
    assert client.get("/api/v1/tokens").json() == []


HEADERS = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}


def test_every_answer_carries_the_security_headers(
    app: FastAPI, store: Store, plant: Plant, now: datetime
) -> None:
    client = browser_as(app, store, plant, Role.ENGINEER, now)
    answers = [
        client.get("/sign-in"),
        client.get("/set-up"),
        client.get("/nothing"),
        client.get("/api/v1/people/me"),
        client.get("/api/v1/people"),
        client.get("/api/v1/nothing"),
        client.post("/set-up", content=b"x" * 60_000),
        client.delete("/set-up"),
        browser(app).get("/set-up"),
    ]
    assert [answer.status_code for answer in answers] == [200, 200, 404, 200, 403, 404, 413, 405, 303]
    for answer in answers:
        assert {name: answer.headers.get(name) for name in HEADERS} == HEADERS
        policy = answer.headers["content-security-policy"]
        assert "unsafe" not in policy
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("GET", "/api/v1/nothing", None, 404),
        ("GET", "/api", None, 404),
        ("DELETE", "/api/v1/tokens", None, 405),
        ("POST", "/api/v1/tokens", b"{", 422),
        ("POST", "/api/v1/tokens", b"\xff\xfe", 422),
        ("POST", "/api/v1/tokens", b'{"name": "\xff"}', 400),
        ("POST", "/api/v1/tokens", b'{"name": "x", "days": 1, "person_id": 3}', 422),
        ("POST", "/api/v1/tokens", b"[" * 20_000, 400),
        ("POST", "/api/v1/tokens", b'{"name": "\\ud800", "days": 1}', 422),
        ("POST", "/api/v1/tokens", b'{"name": "x", "days": ' + b"9" * 5000 + b"}", 400),
        ("GET", "/api/v1/audit?limit=501", None, 422),
        ("GET", "/api/v1/people/99999999999999999999", None, 422),
    ],
)
def test_the_frameworks_own_refusals_are_problem_documents(
    app: FastAPI,
    store: Store,
    plant: Plant,
    now: datetime,
    method: str,
    path: str,
    body: bytes | None,
    status: int,
) -> None:
    client = browser_as(app, store, plant, Role.ENGINEER, now)
    answer = client.request(method, path, content=body, headers={"content-type": "application/json"})
    assert answer.status_code == status
    if path.startswith("/api/"):
        assert answer.headers["content-type"] == PROBLEM
        assert answer.json()["status"] == status
        assert "Traceback" not in answer.text


def test_an_unforeseen_error_is_told_without_its_inside(
    store: Store, clock: Callable[[], datetime], caplog: pytest.LogCaptureFixture
) -> None:
    app = open_app(store, clock)

    @app.get("/api/v1/broken")
    def broken_api() -> None:
        raise RuntimeError("inner secret")

    @app.get("/broken")
    def broken_page() -> None:
        raise RuntimeError("inner secret")

    for path, kind in (("/api/v1/broken", PROBLEM), ("/broken", "text/html; charset=utf-8")):
        answer = program(app).get(path)
        assert (answer.status_code, answer.headers["content-type"]) == (500, kind)
        assert "inner secret" not in answer.text
        assert answer.headers["x-content-type-options"] == "nosniff"
    assert caplog.text.count("RuntimeError: inner secret") == 2


def test_the_document_of_the_api_names_the_problems_of_every_operation(app: FastAPI) -> None:
    document = program(app).get("/api/v1/openapi.json").json()
    assert "ProblemDocument" in document["components"]["schemas"]
    operations = [op for path in document["paths"].values() for op in path.values()]
    assert operations
    for operation in operations:
        for status in ("401", "403", "404", "422"):
            assert list(operation["responses"][status]["content"]) == [PROBLEM]
