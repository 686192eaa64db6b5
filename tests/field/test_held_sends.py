"""What a round no longer takes is kept whole, told with its values, and decided once: nothing typed is lost."""

from typing import Any

import pytest
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from tests.field.builders import AT, MORNING, NOW, SENT, Device
from tests.readings.builders import Issued, issue


def end(store: Store, issued: Issued, state: str) -> None:
    with store.begin() as unit:
        row = unit.session.get_one(RoundRow, issued.round_id)
        row.state, row.signed_off_at = state, NOW if state == "signed off" else None


def readings(client: TestClient, round_id: int) -> list[Any]:
    return list(client.get(f"/api/v1/rounds/{round_id}/readings").json())


@pytest.mark.parametrize("state", ["withdrawn", "signed off"])
def test_a_reading_of_a_round_that_is_over_is_held_and_told_with_its_values(
    store: Store, device: Device, engineer: TestClient, state: str
) -> None:
    end(store, device.issued, state)
    first = device.read(0, 61.5, at=AT, uid="reading-1", note="humming")
    again = device.read(0, 61.5, at=AT, uid="reading-1", note="humming")
    assert (first.status_code, again.status_code) == (202, 202)
    assert first.json() == again.json()
    assert first.json()["held"] is True
    assert len(engineer.get("/api/v1/held-sends").json()) == 1
    desk = engineer.get("/desk").text
    assert "61.5 °C" in desk
    assert "humming" in desk
    assert f"is {state}" in desk
    page = engineer.get(f"/held/{first.json()['held_id']}").text
    assert "humming" in page
    assert device.issued.rows[0][1] in page


def test_a_program_that_can_ask_is_refused_as_before(store: Store, device: Device) -> None:
    end(store, device.issued, "withdrawn")
    path = f"/api/v1/rounds/{device.issued.round_id}/readings/reading-1"
    answer = device.client.put(path, json=device.issued.record(0), headers={"If-None-Match": "*"})
    assert answer.status_code == 409


def test_a_row_that_is_gone_is_held_and_a_wrong_value_is_not(device: Device) -> None:
    gone = device.put("readings", SENT | {"row_uid": "row-of-before", "temperature_c": 61.5})
    assert gone.status_code == 202
    wrong = device.put("readings", SENT | {"row_uid": device.issued.rows[0][0], "temperature_c": 6150.0})
    assert wrong.status_code == 422


def test_the_same_id_with_another_value_is_refused_when_held(store: Store, device: Device) -> None:
    end(store, device.issued, "withdrawn")
    assert device.read(0, 61.5, at=AT, uid="reading-1").status_code == 202
    assert device.read(0, 62.0, at=AT, uid="reading-1").status_code == 422


def test_taken_in_after_sign_off_it_is_a_correction_in_the_readers_name(
    store: Store, device: Device, engineer: TestClient
) -> None:
    device.read(0, 40.0, at=AT, uid="reading-1")
    end(store, device.issued, "signed off")
    held = device.read(0, 41.0, at="2026-03-16T09:05:00Z", uid="reading-2").json()
    body = {"reason": "was out of reach", "round_id": device.issued.round_id}
    taken = engineer.post(f"/api/v1/held-sends/{held['held_id']}/take-in", json=body)
    assert taken.status_code == 200, taken.text
    first, second = readings(engineer, device.issued.round_id)
    assert (first["current"], second["current"]) == (False, True)
    assert (second["uid"], second["temperature_c"], second["revision"]) == ("reading-2", 41.0, 2)
    assert second["correction_reason"] == "was out of reach"
    assert second["source"] == first["source"]
    assert second["taken_at"] == "2026-03-16T09:05:00Z"
    trail = engineer.get("/api/v1/audit").text
    assert "held send" in trail
    twice = engineer.post(f"/api/v1/held-sends/{held['held_id']}/take-in", json=body)
    assert twice.status_code == 409


def test_taken_in_where_nothing_was_read_it_is_the_reading(
    store: Store, device: Device, engineer: TestClient
) -> None:
    end(store, device.issued, "signed off")
    held = device.read(0, 41.0, at=AT, uid="reading-2").json()
    body = {"reason": "found on the tablet", "round_id": device.issued.round_id}
    assert engineer.post(f"/api/v1/held-sends/{held['held_id']}/take-in", json=body).status_code == 200
    (kept,) = readings(engineer, device.issued.round_id)
    assert (kept["uid"], kept["temperature_c"]) == ("reading-2", 41.0)
    assert device.read(0, 41.0, at=AT, uid="reading-2").json() == held, "sent again it is answered the same"
    assert len(readings(engineer, device.issued.round_id)) == 1


def test_of_a_withdrawn_round_another_open_round_with_the_point_takes_it(
    store: Store, device: Device, engineer: TestClient
) -> None:
    end(store, device.issued, "withdrawn")
    held = device.read(0, 41.0, at=AT, uid="reading-2").json()
    page = f"/held/{held['held_id']}"
    assert "No open round has its place" in engineer.get(page).text
    other = issue(store, plant=device.issued.plant, walked_at=MORNING)
    assert other.code in engineer.get(page).text
    form = {"reason": "walked under the old round", "round_id": str(other.round_id)}
    assert engineer.post(f"{page}/take-in", data=form).status_code == 303
    (kept,) = readings(engineer, other.round_id)
    assert kept["temperature_c"] == 41.0
    assert "waits for a place" not in engineer.get(page).text
    assert "61.5" not in engineer.get("/desk").text


def test_set_aside_it_stays_with_its_reason_and_leaves_the_desk(
    store: Store, device: Device, engineer: TestClient
) -> None:
    end(store, device.issued, "withdrawn")
    held = device.read(0, 61.5, at=AT).json()
    page = f"/held/{held['held_id']}"
    assert engineer.post(f"{page}/set-aside", data={"why_aside": ""}).status_code == 422
    assert engineer.post(f"{page}/set-aside", data={"why_aside": "read again since"}).status_code == 303
    assert "read again since" in engineer.get(page).text
    assert "61.5" in engineer.get(page).text
    assert "61.5 °C" not in engineer.get("/desk").text


def test_a_telling_of_a_part_that_never_came_in_waits_for_its_finding(
    device: Device, engineer: TestClient
) -> None:
    body = SENT | {"off_round_uid": "off-round-1", "told_whom": "Shift lead"}
    held = device.put("field-tellings", body)
    assert held.status_code == 202
    assert "told Shift lead" in engineer.get("/desk").text
    part = SENT | {"place": "roof fan", "temperature_c": 95.0, "picture": "TH_9", "site": "Site 1"}
    finding_id = device.put("readings", part, uid="off-round-2").json()["finding_ids"][0]
    taken = {"reason": "the same fan", "finding_id": finding_id}
    path = f"/api/v1/held-sends/{held.json()['held_id']}/take-in"
    assert engineer.post(path, json={"reason": "which one"}).status_code == 422
    assert engineer.post(path, json=taken).status_code == 200
    assert "<b>Told</b> Shift lead" in engineer.get(f"/findings/{finding_id}").text


def test_a_check_of_a_round_that_is_over_is_held_and_taken_in(
    store: Store, device: Device, engineer: TestClient
) -> None:
    end(store, device.issued, "signed off")
    check = {"occasion": "end", "reference_c": 35.0, "shown_c": 35.4, "at": AT}
    held = device.put("field-checks", SENT | check)
    assert held.status_code == 202
    path = f"/api/v1/held-sends/{held.json()['held_id']}/take-in"
    assert engineer.post(path, json={"reason": "came late"}).status_code == 200
    checks = engineer.get(f"/api/v1/rounds/{device.issued.round_id}/checks").json()
    assert [one["shown_c"] for one in checks] == [35.4]


def test_a_visit_of_a_stop_of_another_round_can_only_be_set_aside(
    device: Device, engineer: TestClient
) -> None:
    held = device.put("stop-visits", SENT | {"stop_id": 987_654, "seen": "oil"})
    assert held.status_code == 202
    path = f"/api/v1/held-sends/{held.json()['held_id']}"
    assert engineer.post(f"{path}/take-in", json={"reason": "why not"}).status_code == 409
    assert engineer.post(f"{path}/set-aside", json={"reason": "no such stop"}).status_code == 200


def test_the_desk_shows_both_values_of_a_point_read_twice(
    store: Store, device: Device, engineer: TestClient
) -> None:
    device.read(0, 40.0, at=AT)
    second = Device(store, device.issued, NOW, Role.ENGINEER)
    second.read(0, 47.5, at=AT)
    desk = engineer.get("/desk").text
    assert "40.0 °C by Test technician and 47.5 °C by Test engineer" in desk


def test_what_a_second_device_of_the_same_person_read_waits_for_a_decision(
    store: Store, device: Device, engineer: TestClient
) -> None:
    assert device.read(0, 40.0, at=AT, uid="first-phone").status_code == 201
    corrected = {"replaces": ["tablet-1"], "correction_reason": "corrected on the device"}
    assert device.read(0, 46.0, at=AT, uid="tablet-1").status_code == 202
    held = device.read(0, 47.0, at=AT, uid="tablet-2", **corrected)
    assert held.status_code == 202
    assert "an engineer decides" in held.json()["reason"]
    (kept,) = readings(engineer, device.issued.round_id)
    assert kept["temperature_c"] == 40.0
    states = {one["uid"]: one["state"] for one in engineer.get("/api/v1/held-sends").json()}
    assert states == {"tablet-1": "set aside", "tablet-2": "waiting"}
    body = {"reason": "the tablet was right", "round_id": device.issued.round_id}
    path = f"/api/v1/held-sends/{held.json()['held_id']}/take-in"
    assert engineer.post(path, json=body).status_code == 200
    current = [one for one in readings(engineer, device.issued.round_id) if one["current"]]
    assert [(one["uid"], one["temperature_c"]) for one in current] == [("tablet-2", 47.0)]


def test_what_the_engineer_has_corrected_is_not_written_over_by_a_phone_that_has_not_seen_it(
    store: Store, device: Device, engineer: TestClient
) -> None:
    device.read(0, 40.0, at=AT, uid="reading-1")
    answer = engineer.post(
        "/api/v1/readings/reading-1/corrections",
        json={"reason": "digit slip", "changes": {"temperature_c": 41.0}},
        headers={"If-Match": '"1"', "Idempotency-Key": "correct-1"},
    )
    assert answer.status_code == 201, answer.text
    late = {"replaces": ["reading-1"], "correction_reason": "corrected on the device"}
    assert device.read(0, 42.0, at=AT, uid="reading-2", **late).status_code == 202
    current = [one for one in readings(engineer, device.issued.round_id) if one["current"]]
    assert [one["temperature_c"] for one in current] == [41.0]
