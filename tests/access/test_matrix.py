"""Who may do what: every route, asked by everybody (reliability.md R21)."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from service.usecases.people import accounts
from tests.access.matrix import Ground, ask, lay_ground, routes_of, surprises
from tests.access.rows import Bound, Outcome, Row, expected
from tests.access.table import TABLE
from tests.access.world import PERSONAS, ROUND_TOKEN
from tests.conftest import NOW

ROWS = [pytest.param(row, id=f"{row.route} #{k}") for k, row in enumerate(TABLE)]


@pytest.fixture(scope="module")
def ground(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Ground:
    now: Callable[[], datetime] = lambda: NOW  # noqa: E731
    return lay_ground(sqlite_template, tmp_path_factory.mktemp("access"), now)


def test_every_route_stands_in_the_table_and_the_other_way_round(ground: Ground) -> None:
    there, listed = routes_of(ground.app), {row.route for row in TABLE}
    assert there - listed == set(), "routes that nobody has thought about: add them to tests/access/table.py"
    assert listed - there == set(), "rows without a route"


@pytest.mark.parametrize("row", ROWS)
def test_everybody_gets_what_the_design_says(ground: Ground, row: Row) -> None:
    assert surprises(ground, row) == []


@pytest.mark.parametrize("row", [p for p in ROWS if p.values[0].json])  # type: ignore[attr-defined]
def test_a_field_that_is_not_asked_for_is_refused(ground: Ground, row: Row) -> None:
    persona = next(p for p in PERSONAS if expected(row, p) is Outcome.PASSES)
    for field, value in (("zz_unexpected", 1), ("created_at", "2020-01-01T00:00:00Z"), ("person_name", "x")):
        with ground.fresh() as client:
            answer = ask(client, row, persona, ground.world, **{field: value})
        assert answer.status_code == 422, f"{row.route} took {field}"


def test_every_schema_that_is_sent_in_refuses_unknown_fields(ground: Ground) -> None:
    with ground.fresh() as client:
        document = client.get("/api/v1/openapi.json").json()
    schemas = document["components"]["schemas"]
    found, seen = [], set()

    def look(schema: object) -> None:
        if isinstance(schema, list):
            for part in schema:
                look(part)
        if not isinstance(schema, dict):
            return
        name = str(schema.get("$ref", "")).rsplit("/", 1)[-1]
        if name and name not in seen:
            seen.add(name)
            inner = schemas[name]
            if inner.get("type") == "object" and inner.get("additionalProperties") is not False:
                found.append(name)
            look(inner)
        for part in schema.values():
            look(part)

    for path in document["paths"].values():
        for operation in path.values():
            bodies = operation.get("requestBody", {}).get("content", {})
            look([body for kind, body in bodies.items() if "json" in kind])
    assert found == []


@pytest.mark.parametrize("row", [p for p in ROWS if p.values[0].api])  # type: ignore[attr-defined]
def test_a_token_of_one_round_opens_that_round_alone(ground: Ground, row: Row) -> None:
    address = row.address(ground.world)
    own = f"/api/v1/rounds/{ground.world['round_id']}"
    if row.bound is Bound.OPEN or address == own or address.startswith(f"{own}/"):
        pytest.skip("open to it")
    with ground.fresh() as client:
        answer = ask(client, Row(**{**vars(row), "session": False}), ROUND_TOKEN, ground.world)
    assert answer.status_code == 404


# ---- the broken twins: what the harness must catch ------------------------------------------------


def row_of(route: str) -> Row:
    return next(row for row in TABLE if row.route == route)


def forget(*_: object, **__: object) -> None:
    """What is left of ``require`` in a use case that forgets to ask."""


@pytest.mark.parametrize("route", ["GET /api/v1/people", "PUT /api/v1/people/{person_id}"])
def test_twin_a_use_case_that_forgets_to_ask_is_caught(
    ground: Ground, monkeypatch: pytest.MonkeyPatch, route: str
) -> None:
    monkeypatch.setattr(accounts, "require", forget)
    assert any("engineer" in told for told in surprises(ground, row_of(route)))


def test_twin_a_route_that_takes_anybody_is_caught(ground: Ground) -> None:
    claims_too_much = Row("GET /sign-in")
    assert any("anonymous was to get" in told for told in surprises(ground, claims_too_much))


def test_twin_a_thing_that_is_not_hidden_is_caught(ground: Ground) -> None:
    claims_hidden = Row("GET /api/v1/people/me", bound=Bound.SITE)
    assert any("engineer away" in told for told in surprises(ground, claims_hidden))


def test_twin_a_route_that_refuses_everybody_is_caught(ground: Ground) -> None:
    unsent = Row("POST /api/v1/tokens", session=True, json=lambda w: {"name": "", "days": 7})
    assert any("nobody gets through" in told for told in surprises(ground, unsent))


def test_twin_a_new_route_is_caught(ground: Ground) -> None:
    routes = routes_of(ground.app) | {"GET /new"}
    assert routes - {row.route for row in TABLE} >= {"GET /new"}
