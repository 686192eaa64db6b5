"""Criteria over JSON: given out and taken in whole, edited against a version, compared, chosen."""

from collections.abc import Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from service.domain.criteria import Criteria
from service.domain.words import Role
from service.storage.unit import Store
from tests.condition.criteria_builders import NOW, Sets, lay_sets
from tests.doors import open_app, program_as

BASE = "/api/v1/criteria"


@pytest.fixture
def sets(any_store: Store) -> Sets:
    return lay_sets(any_store)


@pytest.fixture
def engineer(sets: Sets) -> Iterator[TestClient]:
    app = open_app(sets.store, lambda: NOW)
    with program_as(app, sets.store, sets.plant, Role.ENGINEER, NOW) as client:
        yield client


def put(client: TestClient, path: str, version: object, body: Any) -> Any:
    return client.put(f"{BASE}{path}", json=body, headers={"If-Match": f'"{version}"'})


def test_a_set_goes_out_and_comes_in_whole(sets: Sets, engineer: TestClient) -> None:
    own = sets.own("Own rules", exponent=1.7)
    given = engineer.get(f"{BASE}/{own.id}")
    assert given.headers["etag"] == '"2"'
    body = given.json()["body"]
    taken = engineer.post(BASE, json={"client_id": sets.plant.client_id, "body": body})
    assert taken.status_code == 201, taken.text
    assert taken.json()["name"] == f"{own.name}-2"
    assert taken.json()["body"] | {"id": own.name} == body
    assert Criteria.from_dict(taken.json()["body"]).exponent == 1.7
    told = engineer.get(f"{BASE}/{own.id}/differences/{taken.json()['id']}")
    assert told.json() == []


def test_every_problem_of_a_body_is_told_with_its_place(sets: Sets, engineer: TestClient) -> None:
    body = sets.preset().criteria.to_dict() | {"exponent": 9, "title": ""}
    body["limits"][0]["words"] = []
    answer = engineer.post(BASE, json={"client_id": sets.plant.client_id, "body": body})
    assert answer.status_code == 422
    told = {(problem["where"], problem["field"]) for problem in answer.json()["problems"]}
    assert told == {("criteria", "exponent"), ("criteria", "title"), ("criteria, limits 1", "words")}


def test_an_edit_names_what_it_read_and_of_a_set_in_use_makes_the_next_version(
    sets: Sets, engineer: TestClient
) -> None:
    own = sets.own()
    body = own.criteria.to_dict() | {"exponent": 1.7}
    assert put(engineer, f"/{own.id}", 7, {"body": body}).status_code == 412
    edited = put(engineer, f"/{own.id}", 1, {"body": body, "valid_from": "2026-11-01"})
    assert edited.status_code == 200, edited.text
    assert (edited.json()["id"], edited.json()["version"], edited.headers["etag"]) == (own.id, 1, '"2"')
    assert edited.json()["valid_from"] == "2026-11-01"
    site = sets.site()
    chosen = put(engineer, f"/sites/{site.site_id}", site.version, {"criteria_id": own.id})
    assert chosen.json()["in_force_id"] == own.id
    second = put(engineer, f"/{own.id}", 2, {"body": body | {"exponent": 1.9}})
    assert (second.json()["version"], second.headers["etag"]) == (2, '"1"')
    assert second.json()["id"] != own.id
    told = engineer.get(f"{BASE}/{own.id}/differences/{second.json()['id']}").json()
    assert [(one["what"], one["before"], one["after"]) for one in told] == [
        ("Exponent n of the rise with current", 1.7, 1.9)
    ]


def test_a_class_is_chosen_and_taken_back(sets: Sets, engineer: TestClient) -> None:
    own, site = sets.own(), sets.site()
    path = f"/sites/{site.site_id}/classes"
    choice = {"equipment_class": "Switchboard", "criteria_id": own.id}
    chosen = put(engineer, path, site.version, choice)
    assert chosen.json()["classes"] == [{"equipment_class": "switchboard", "criteria_id": own.id}]
    assert put(engineer, path, site.version, choice).status_code == 412
    back = put(engineer, path, chosen.json()["version"], choice | {"criteria_id": None})
    assert back.json()["classes"] == []


def test_an_administrator_keeps_presets_over_json_too(sets: Sets) -> None:
    app = open_app(sets.store, lambda: NOW)
    navy = sets.preset("navy-bands")
    with program_as(app, sets.store, sets.plant, Role.ADMINISTRATOR, NOW) as client:
        on = put(client, f"/{navy.id}/offer", 1, {"offered": True})
        assert on.json()["valid_from"] == NOW.date().isoformat()
        house = client.post(f"{BASE}/{navy.id}/copies", json={"title": "House"})
        assert (house.status_code, house.json()["client_id"]) == (201, None)
        gone = client.delete(f"{BASE}/{house.json()['id']}", headers={"If-Match": '"1"'})
        assert gone.status_code == 204
        assert client.get(f"{BASE}/{house.json()['id']}").status_code == 404
