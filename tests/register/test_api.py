"""The register over JSON: typed, paged, and safe against lost updates."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from starlette.testclient import TestClient

from service.domain.register import KEY_FIELDS, PARENT_FIELDS, Noun
from service.domain.register_fields import FIELDS
from service.domain.words import Role
from service.storage.unit import Store
from tests.builders import Plant, build_plant
from tests.doors import open_app, program_as
from tests.register.builders import csv_of, flat_rows
from tests.register.counting import counts

Clock = Callable[[], datetime]
API = "/api/v1"


@pytest.fixture
def plant(store: Store) -> Plant:
    return build_plant(store)


@pytest.fixture
def engineer(store: Store, plant: Plant, clock: Clock, now: datetime) -> TestClient:
    return program_as(open_app(store, clock), store, plant, Role.ENGINEER, now)


def new_body(noun: Noun, parent_id: int) -> dict[str, Any]:
    body: dict[str, Any] = {field.name: "words" for field in FIELDS[noun] if field.required}
    body |= {KEY_FIELDS[noun]: "NEW-1"}
    if noun is Noun.POINT:
        body["kind"] = "joint"
    return body | ({PARENT_FIELDS[noun]: parent_id} if noun in PARENT_FIELDS else {})


@pytest.mark.parametrize("noun", list(Noun))
def test_every_noun_is_made_read_changed_retired_and_restored(engineer: TestClient, noun: Noun) -> None:
    address = f"{API}/{noun.plural}"
    made = engineer.post(address, json=new_body(noun, 1))
    assert made.status_code == 201, made.text
    own = f"{address}/{made.json()['id']}"
    assert made.headers["location"] == own
    assert made.headers["etag"] == '"1"'
    read = engineer.get(own)
    assert read.json() == made.json()
    changed = engineer.patch(own, json={"name": "Other words"}, headers={"If-Match": read.headers["etag"]})
    assert (changed.json()["name"], changed.headers["etag"]) == ("Other words", '"2"')
    retired = engineer.post(f"{own}/retire", headers={"If-Match": '"2"'})
    assert retired.json()["counts"][noun.plural] == 1
    assert engineer.get(own).json()["retired_at"] is not None
    back = engineer.post(f"{own}/restore", headers={"If-Match": '"3"'})
    assert (back.json()["retired_at"], back.headers["etag"]) == (None, '"4"')


def test_an_edit_names_the_version_it_was_made_on(engineer: TestClient, plant: Plant) -> None:
    own = f"{API}/points/{plant.point_ids[0]}"
    assert engineer.patch(own, json={"name": "x"}).status_code == 428
    assert engineer.patch(own, json={"name": "x"}, headers={"If-Match": '"1"'}).status_code == 200
    stale = engineer.patch(own, json={"name": "y"}, headers={"If-Match": '"1"'})
    assert (stale.status_code, stale.json()["current_version"], stale.headers["etag"]) == (412, 2, '"2"')
    for move in ("retire", "restore"):
        assert engineer.post(f"{own}/{move}").status_code == 428
        assert engineer.post(f"{own}/{move}", headers={"If-Match": '"1"'}).status_code == 412


def test_what_is_not_sent_is_left_alone(engineer: TestClient, plant: Plant) -> None:
    own = f"{API}/points/{plant.point_ids[0]}"
    before = engineer.get(own).json()
    after = engineer.patch(own, json={"emissivity": 0.9}, headers={"If-Match": '"1"'}).json()
    changed = {name for name in before if before[name] != after[name]}
    assert changed == {"emissivity", "version", "changed_at"}


@pytest.mark.parametrize(
    "body",
    [
        {"name": "x", "id": 9},
        {"name": "x", "site_id": 9},
        {"version": 7},
        {"common_load_version": 7},
        {"name": None},
        {"emissivity": 2},
        {"kind": "joynt"},
        {"name": "x" * 201},
        {"name": "a\u0000b"},
        {"emissivity": "much"},
    ],
)
def test_what_is_not_a_field_or_not_a_value_is_refused(
    engineer: TestClient, plant: Plant, body: dict[str, Any]
) -> None:
    reply = engineer.patch(f"{API}/points/{plant.point_ids[0]}", json=body, headers={"If-Match": '"1"'})
    assert reply.status_code == 422
    assert reply.headers["content-type"] == "application/problem+json"
    assert reply.json()["problems"]


def test_a_taken_tag_is_told_at_its_field(engineer: TestClient, plant: Plant) -> None:
    body = new_body(Noun.POINT, plant.view_ids[0]) | {"tag": "S1-MCC1-F01-L1"}
    reply = engineer.post(f"{API}/points", json=body)
    assert (reply.status_code, reply.json()["problems"][0]["field"]) == (422, "tag")


def test_lists_come_in_pages_with_a_bound(engineer: TestClient) -> None:
    first = engineer.get(f"{API}/points", params={"limit": 4}).json()
    rest = engineer.get(f"{API}/points", params={"limit": 4, "after": first["next_after"]}).json()
    assert (len(first["items"]), len(rest["items"]), rest["next_after"]) == (4, 2, None)
    assert engineer.get(f"{API}/points", params={"limit": 501}).status_code == 422
    assert engineer.get(f"{API}/points", params={"colour": "red"}).status_code == 422


def test_lists_are_narrowed_and_searched(engineer: TestClient, plant: Plant) -> None:
    of_view = engineer.get(f"{API}/points", params={"view_id": plant.view_ids[1]}).json()["items"]
    assert {point["view_id"] for point in of_view} == {plant.view_ids[1]}
    assert len(engineer.get(f"{API}/points", params={"search": "f02-l3"}).json()["items"]) == 1
    assert engineer.get(f"{API}/points", params={"site_id": 999}).status_code == 404


def test_the_tree_and_the_tags_are_told(engineer: TestClient, plant: Plant) -> None:
    tree = engineer.get(f"{API}/sites/{plant.site_ids[0]}/tree").json()
    assert tree["mark"]["points"] == 6
    assert tree["areas"][0]["children"][0]["children"][0]["children"][0]["noun"] == "point"
    assert engineer.get(f"{API}/tags", params={"text": "mcc1-f01-l2"}).json()[0]["noun"] == "point"


def test_a_file_is_looked_at_then_stored(store: Store, engineer: TestClient) -> None:
    files = {"file": ("register.csv", csv_of(flat_rows(4)))}
    before = counts(store)
    looked = engineer.post(f"{API}/imports/register/preview", files=files).json()
    assert (looked["stored"], looked["counts"]["points"]["new"], looked["problem_count"]) == (False, 4, 0)
    assert counts(store) == before
    stored = engineer.post(f"{API}/imports/register", files=files).json()
    assert (stored["stored"], counts(store)["points"]) == (True, before["points"] + 4)
    again = engineer.post(f"{API}/imports/register", files=files).json()
    assert (again["counts"]["points"]["unchanged"], counts(store)["points"]) == (4, before["points"] + 4)


def test_a_bad_file_is_a_problem_document(engineer: TestClient) -> None:
    reply = engineer.post(f"{API}/imports/register", files={"file": ("x.csv", b"Point tag\nA1\nA2\n")})
    assert reply.status_code == 422
    assert [problem["where"] for problem in reply.json()["problems"]] == ["row 2", "row 3"]


@pytest.mark.parametrize("name", ["template.xlsx", "template.csv", "register.xlsx"])
def test_the_files_are_offered_for_download(engineer: TestClient, name: str) -> None:
    reply = engineer.get(f"{API}/imports/register/{name}")
    assert reply.status_code == 200
    assert f"{name.rsplit('.', 1)[1]}" in reply.headers["content-disposition"]
    assert reply.content[:2] == (b"PK" if name.endswith("xlsx") else b"\xef\xbb")


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER, Role.ADMINISTRATOR])
def test_others_may_not_write(store: Store, plant: Plant, clock: Clock, now: datetime, role: Role) -> None:
    other = program_as(open_app(store, clock), store, plant, role, now)
    before = counts(store)
    for noun in Noun:
        assert other.post(f"{API}/{noun.plural}", json=new_body(noun, 1)).status_code in (403, 404)
        changed = other.patch(f"{API}/{noun.plural}/1", json={"name": "x"}, headers={"If-Match": '"1"'})
        assert changed.status_code in (403, 404)
    assert other.post(f"{API}/imports/register", files={"file": ("x.csv", b"a")}).status_code == 403
    assert counts(store) == before


def test_the_document_types_every_field(engineer: TestClient) -> None:
    document = engineer.get(f"{API}/openapi.json").json()
    for noun in Noun:
        schemas = document["components"]["schemas"]
        shown = schemas[noun.value.capitalize()]["properties"]
        assert {field.name for field in FIELDS[noun]} <= set(shown)
        listed = document["paths"][f"{API}/{noun.plural}"]["get"]["responses"]["200"]["content"]
        assert listed["application/json"]["schema"]["$ref"].endswith(f"/{noun.value.capitalize()}Page")
        assert schemas[f"New{noun.value.capitalize()}"]["additionalProperties"] is False
