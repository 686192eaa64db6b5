"""Routes, rounds and permits over JSON: versions, problems, what a token sees."""

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import pytest
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.tables.register import InstrumentRow
from service.storage.unit import Store
from tests.builders import Plant, build_plant
from tests.doors import open_app, program, program_as, token_of
from tests.rounds.builders import DAY, NOW, change, cover, draft, issued, read_row, rows_of

Clock = Callable[[], datetime]


def asked(store: Store, clock: Clock, plant: Plant, role: Role = Role.ENGINEER) -> TestClient:
    return program_as(open_app(store, clock), store, plant, role, NOW)


def match(answer: Any) -> dict[str, str]:
    return {"If-Match": answer.headers["ETag"]}


def body_of(reply: dict[str, Any], **change: Any) -> dict[str, Any]:
    names = (
        "name",
        "planned_on",
        "start_min",
        "person_id",
        "second_person_id",
        "instrument_id",
        "weather",
        "note",
    )
    return {name: reply[name] for name in names} | change


def test_a_round_goes_from_route_to_signature_over_json(any_store: Store, clock: Clock) -> None:
    plant = build_plant(any_store, boards=2)
    cover(any_store, plant.equipment_ids[1])
    client = asked(any_store, clock, plant)
    route = client.post(
        "/api/v1/routes",
        json={"client_id": plant.client_id, "name": "South", "equipment_ids": plant.equipment_ids},
    )
    made = client.post(
        "/api/v1/rounds", json={"name": "S", "planned_on": DAY.isoformat(), "route_id": route.json()["id"]}
    )
    assert made.status_code == 201
    address = f"/api/v1/rounds/{made.json()['id']}"
    given = client.put(
        address,
        headers=match(made),
        json=body_of(made.json(), person_id=plant.people[Role.TECHNICIAN], instrument_id=plant.instrument_id),
    )
    refused = client.post(f"{address}/issue", headers=match(given))
    assert refused.status_code == 422
    assert [p["where"] for p in refused.json()["problems"]] == ["stop 2"]
    stop = client.get(address).json()["stops"][1]
    assert stop["not_open_because"] == "no permit asked"
    permit = client.post(
        f"{address}/permits", json={"site_id": stop["site_id"], "stop_ids": [stop["id"]], "number": "P-1"}
    )
    assert permit.status_code == 201
    issue = client.post(f"{address}/issue", headers=match(given))
    assert issue.status_code == 200
    assert issue.json()["points"] == 12
    rows = client.get(f"{address}/rows").json()
    assert len({row["row_uid"] for row in rows}) == 12
    for row in rows_of(any_store, made.json()["id"]):
        read_row(any_store, row)
    from service.usecases.rounds.mark_returned import mark_returned

    with any_store.begin() as unit:
        returned = mark_returned(unit, plant.actor(Role.TECHNICIAN), made.json()["id"], NOW)
    closed = client.post(
        f"{address}/sign-off", headers={"If-Match": f'"{returned.version}"'}, json={"reasons": {}}
    )
    assert closed.json()["state"] == "signed off"
    moves = [move["to_state"] for move in client.get(address).json()["moves"]]
    assert moves == ["draft", "issued", "returned", "signed off"]


EDITS = [
    ("PUT", "", {"name": "x", "planned_on": "2026-12-08", "start_min": 420}),
    ("PUT", "/stops", {"stop_ids": [1]}),
    ("POST", "/stops", {"equipment_ids": [1]}),
    ("PUT", "/stops/1", {"minutes": 5}),
    ("DELETE", "/stops/1", None),
    ("POST", "/reorder-for-load", None),
    ("POST", "/issue", None),
    ("POST", "/withdraw", {"reason": "rain"}),
    ("POST", "/sign-off", {"reasons": {}}),
]


@pytest.mark.parametrize(("method", "path", "body"), EDITS)
def test_every_edit_wants_the_version_and_refuses_an_old_one(
    store: Store, clock: Clock, method: str, path: str, body: object
) -> None:
    walk = issued(store)
    client = asked(store, clock, walk.plant)
    address = f"/api/v1/rounds/{walk.round.id}{path}"
    assert client.request(method, address, json=body).status_code == 428
    stale = client.request(method, address, json=body, headers={"If-Match": '"1"'})
    assert (stale.status_code, stale.json()["current_version"]) == (412, walk.round.version)
    assert stale.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize(("method", "path", "body"), EDITS)
@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER, Role.ADMINISTRATOR])
def test_other_roles_edit_nothing(
    store: Store, clock: Clock, role: Role, method: str, path: str, body: object
) -> None:
    walk = issued(store)
    client = asked(store, clock, walk.plant, role)
    answer = client.request(
        method, f"/api/v1/rounds/{walk.round.id}{path}", json=body, headers={"If-Match": '"1"'}
    )
    assert answer.status_code == 403


def test_a_foreign_round_is_told_like_one_that_is_not_there(store: Store, clock: Clock) -> None:
    walk = issued(store)
    other = asked(store, clock, walk.plant, Role.TECHNICIAN)
    from service.storage.tables.rounds import RoundRow
    from tests.rounds.builders import change

    change(store, RoundRow, walk.round.id, person_id=None, second_person_id=None)
    foreign, absent = (other.get(f"/api/v1/rounds/{one}").json() for one in (walk.round.id, 999))
    assert foreign == absent
    assert foreign["status"] == 404
    assert other.get("/api/v1/rounds").json() == []


def test_a_token_for_one_round_opens_that_round_only(store: Store, clock: Clock) -> None:
    walk = issued(store)
    technician = walk.plant.people[Role.TECHNICIAN]
    token = token_of(store, technician, NOW, round_id=walk.round.id)
    client = program(open_app(store, clock), token)
    own = f"/api/v1/rounds/{walk.round.id}"
    assert [client.get(own + path).status_code for path in ("", "/rows", "/file.csv", "/permits")] == [
        200
    ] * 4
    assert client.get("/api/v1/rounds").status_code == 404
    assert (
        client.post(f"{own}/withdraw", json={"reason": "x"}, headers={"If-Match": '"1"'}).status_code == 403
    )


def test_lists_are_paged_by_id_and_bounded(store: Store, clock: Clock) -> None:
    plant = build_plant(store)
    client = asked(store, clock, plant)
    made = [
        client.post(
            "/api/v1/rounds",
            json={"name": "S", "planned_on": "2026-12-08", "equipment_ids": plant.equipment_ids},
        ).json()["id"]
        for _ in range(5)
    ]
    first = [one["id"] for one in client.get("/api/v1/rounds", params={"limit": 2}).json()]
    rest = [one["id"] for one in client.get("/api/v1/rounds", params={"after": first[-1]}).json()]
    assert first + rest == made
    assert client.get("/api/v1/rounds", params={"limit": 501}).status_code == 422
    states = client.get("/api/v1/rounds", params={"state": "issued"}).json()
    assert states == []


def test_unknown_fields_are_refused(store: Store, clock: Clock) -> None:
    plant = build_plant(store)
    body = {"name": "S", "planned_on": "2026-12-08", "equipment_ids": plant.equipment_ids, "state": "issued"}
    answer = asked(store, clock, plant).post("/api/v1/rounds", json=body)
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "state"


@pytest.mark.parametrize("text", ["\x00", "x" * 5000])
def test_texts_that_cannot_be_kept_are_problems(any_store: Store, clock: Clock, text: str) -> None:
    walk = issued(any_store)
    client = asked(any_store, clock, walk.plant)
    headers = {"If-Match": f'"{walk.round.version}"'}
    answer = client.post(f"/api/v1/rounds/{walk.round.id}/withdraw", json={"reason": text}, headers=headers)
    assert answer.status_code == 422


def test_a_sheet_code_finds_its_stop_and_a_wrong_one_says_so(store: Store, clock: Clock) -> None:
    walk = issued(store)
    client = asked(store, clock, walk.plant, Role.TECHNICIAN)
    stop = client.get(f"/api/v1/rounds/{walk.round.id}").json()["stops"][0]
    found = client.get(f"/api/v1/rounds/sheets/{stop['sheet_code']}").json()
    assert found == {"round_id": walk.round.id, "stop_id": stop["id"], "position": 1}
    assert client.get("/api/v1/rounds/sheets/222-223").status_code == 422


def test_what_is_due_is_told_by_site(store: Store, clock: Clock) -> None:
    from service.usecases.rounds.due import refresh_due

    plant = build_plant(store, sites=2)
    with store.begin() as unit:
        refresh_due(unit, plant.point_ids, NOW)
    client = asked(store, clock, plant)
    found = client.get("/api/v1/rounds/due", params={"until": "2026-12-31"}).json()
    assert [(site["name"], site["points"]) for site in found] == [("Site 1", 6), ("Site 2", 6)]
    assert found[0]["equipment"][0]["reason"].startswith("never read")
    one = client.get("/api/v1/rounds/due", params={"until": "2026-12-31", "site_id": plant.site_ids[1]})
    assert [site["name"] for site in one.json()] == ["Site 2"]


def test_a_program_gives_the_reason_for_an_overdue_calibration(store: Store) -> None:
    walk = draft(store)
    change(store, InstrumentRow, walk.plant.instrument_id, calibration_due=date(2026, 12, 7))
    with program_as(open_app(store, lambda: NOW), store, walk.plant, Role.ENGINEER, NOW) as client:
        address = f"/api/v1/rounds/{walk.round.id}"
        headers = match(client.get(address))
        refused = client.post(f"{address}/issue", headers=headers)
        assert [p["field"] for p in refused.json()["problems"]] == ["calibration_reason"]
        issue = client.post(f"{address}/issue", headers=headers, json={"calibration_reason": "checked today"})
        assert issue.status_code == 200, issue.text
        assert "It goes out all the same: checked today" in issue.json()["warnings"]
