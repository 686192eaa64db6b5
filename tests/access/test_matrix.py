"""Who may do what: every route, asked by everybody (reliability.md R21)."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from pydantic import BaseModel, ConfigDict

from service.usecases.people import accounts
from tests.access.matrix import Ground, ask, lax_schemas, lay_ground, routes_of, sample, surprises
from tests.access.rows import Bound, Outcome, Row, expected
from tests.access.table import TABLE
from tests.access.world import PERSONAS, ROUND_TOKEN
from tests.conftest import NOW

NAMES = [f"{row.route} #{k}" for k, row in enumerate(TABLE)]
ROWS = [pytest.param(row, id=name) for row, name in zip(TABLE, NAMES, strict=True)]


@pytest.fixture(scope="module")
def ground(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ground]:
    with lay_ground(sqlite_template, tmp_path_factory.mktemp("access"), lambda: NOW) as laid:
        yield laid


def test_every_route_stands_in_the_table_and_the_other_way_round(ground: Ground) -> None:
    there, listed = routes_of(ground.app), {row.route for row in TABLE}
    assert there - listed == set(), "routes that nobody has thought about: add them to tests/access/table.py"
    assert listed - there == set(), "rows without a route"


@pytest.mark.parametrize(("turn", "row"), list(enumerate(TABLE)), ids=NAMES)
def test_everybody_gets_what_the_design_says(ground: Ground, turn: int, row: Row) -> None:
    assert surprises(ground, row, sample(turn)) == []


@pytest.mark.torture
@pytest.mark.parametrize("row", ROWS)
def test_everybody_of_everywhere_gets_what_the_design_says(ground: Ground, row: Row) -> None:
    assert surprises(ground, row) == []


@pytest.mark.parametrize(
    "row", [pytest.param(row, id=name) for row, name in zip(TABLE, NAMES, strict=True) if row.json]
)
def test_a_field_that_is_not_asked_for_is_refused(ground: Ground, row: Row) -> None:
    persona = next(p for p in PERSONAS if expected(row, p) is Outcome.PASSES)
    for field, value in (("zz_unexpected", 1), ("created_at", "2020-01-01T00:00:00Z"), ("person_name", "x")):
        with ground.fresh() as client:
            answer = ask(client, row, persona, ground.world, **{field: value})
        assert answer.status_code == 422, f"{row.route} took {field}"


def test_every_schema_that_is_sent_in_refuses_unknown_fields(ground: Ground) -> None:
    with ground.fresh() as client:
        assert lax_schemas(client.get("/api/v1/openapi.json").json()) == []


def opens_to_round_token(row: Row) -> bool:
    return row.bound is Bound.OPEN or (
        row.path.startswith("/api/v1/rounds/{round_id}") and "round_id" not in row.at
    )


CLOSED_TO_ROUND_TOKEN = [
    pytest.param(row, id=name)
    for row, name in zip(TABLE, NAMES, strict=True)
    if row.api and not opens_to_round_token(row)
]


@pytest.mark.parametrize("row", CLOSED_TO_ROUND_TOKEN)
def test_a_token_of_one_round_opens_that_round_alone(ground: Ground, row: Row) -> None:
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


def test_twin_a_body_that_takes_unknown_fields_is_caught() -> None:
    class Inner(BaseModel):
        amps: float

    class Lax(BaseModel):
        model_config = ConfigDict(extra="forbid")
        rows: list[Inner]

    app = FastAPI()

    @app.post("/lax")
    def lax(body: Lax) -> None: ...

    assert lax_schemas(app.openapi()) == ["Inner"]
