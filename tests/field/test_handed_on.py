"""A round that is given to somebody else while its technician is out of reach: what was typed is held, nothing is opened."""

from dataclasses import replace

from sqlalchemy import delete, select
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.tables.people import GrantRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.rounds.edit import details_of, edit_round
from service.usecases.rounds.plan import RoundWish, plan_round
from service.usecases.rounds.sight import round_to_see
from tests.doors import browser, session_of
from tests.field.builders import AT, MORNING, NOW, SENT, Device, hand_on, second_technician
from tests.pictures.builders import encoded
from tests.readings.builders import Issued

SOUND = b"OggS" + bytes(range(60))


def test_what_was_typed_before_it_was_handed_on_is_held_and_told_in_words(
    store: Store, device: Device, engineer: TestClient
) -> None:
    hand_on(store, device.issued, second_technician(store, device.issued.plant))
    first = device.read(0, 61.5, at=AT, uid="reading-1", note="humming")
    again = device.read(0, 61.5, at=AT, uid="reading-1", note="humming")
    assert (first.status_code, again.status_code) == (202, 202)
    assert first.json() == again.json()
    assert "taken off Test technician meanwhile; it is with Test second" in first.json()["reason"]
    assert "61.5 °C" in engineer.get("/desk").text
    body = {"reason": "walked before it was handed on", "round_id": device.issued.round_id}
    taken = engineer.post(f"/api/v1/held-sends/{first.json()['held_id']}/take-in", json=body)
    assert taken.status_code == 200, taken.text
    (kept,) = engineer.get(f"/api/v1/rounds/{device.issued.round_id}/readings").json()
    assert (kept["temperature_c"], kept["source"]) == (61.5, f"person {device.person_id}")


def test_a_reading_stored_before_is_answered_the_same_afterwards(
    store: Store, device: Device, engineer: TestClient
) -> None:
    before = device.read(0, 40.0, at=AT, uid="reading-1")
    hand_on(store, device.issued, None)
    after = device.read(0, 40.0, at=AT, uid="reading-1")
    assert (before.status_code, after.status_code) == (201, 201)
    assert before.json() == after.json()
    assert engineer.get("/api/v1/held-sends").json() == []


def test_the_time_at_a_stop_and_the_cameras_clock_are_held_and_taken_in(
    store: Store, device: Device, engineer: TestClient
) -> None:
    round_id = device.issued.round_id
    stop_id = engineer.get(f"/api/v1/rounds/{round_id}/pack").json()["stops"][0]["id"]
    hand_on(store, device.issued, None)
    visit = SENT | {
        "stop_id": stop_id,
        "started_at": AT,
        "ended_at": "2026-03-16T09:12:00Z",
        "smelt": "ozone",
    }
    clock = SENT | {
        "instrument_id": device.issued.plant.instrument_id,
        "camera_time": "09:00:07",
        "offset_s": 7.0,
    }
    held = [device.put("stop-visits", visit, uid="visit-01"), device.put("camera-clocks", clock)]
    assert [one.status_code for one in held] == [202, 202]
    for one in held:
        held_id = one.json()["held_id"]
        assert "Take it in" in engineer.get(f"/held/{held_id}").text
        answer = engineer.post(f"/api/v1/held-sends/{held_id}/take-in", json={"reason": "was there"})
        assert answer.status_code == 200, answer.text
    (stayed,) = engineer.get(f"/api/v1/rounds/{round_id}/stop-visits").json()
    assert (stayed["smelt"], stayed["person"]) == ("ozone", "Test technician")
    (compared,) = engineer.get(f"/api/v1/rounds/{round_id}/camera-clocks").json()
    assert compared["offset_s"] == 7.0
    assert device.put("stop-visits", visit, uid="visit-01").json() == held[0].json()


def test_nothing_of_the_round_is_seen_any_more_and_a_program_is_refused(store: Store, device: Device) -> None:
    hand_on(store, device.issued, None)
    round_id = device.issued.round_id
    device.read(0, 61.5, at=AT)
    for path in ("", "/pack", "/readings", "/pictures"):
        assert device.client.get(f"/api/v1/rounds/{round_id}{path}").status_code == 404, path
    assert device.client.get("/api/v1/held-sends").json() == []
    record = device.issued.record(0)
    path = f"/api/v1/rounds/{round_id}/readings/reading-9"
    assert device.client.put(path, json=record, headers={"If-None-Match": "*"}).status_code == 404


def test_who_never_had_the_round_in_hand_is_told_it_is_not_there(store: Store, issued: Issued) -> None:
    other = second_technician(store, issued.plant)
    issued.plant.people[Role.TECHNICIAN] = other
    stranger = Device(store, issued, NOW)
    assert stranger.read(0, 61.5, at=AT).status_code == 404
    assert stranger.put("stop-visits", SENT | {"stop_id": 1}).status_code == 404


def test_who_lost_the_site_meanwhile_is_told_it_is_not_there(store: Store, device: Device) -> None:
    hand_on(store, device.issued, None)
    with store.begin() as unit:
        unit.session.execute(delete(GrantRow).where(GrantRow.person_id == device.person_id))
    assert device.read(0, 61.5, at=AT).status_code == 404


def test_a_draft_that_changes_hands_opens_nothing(store: Store, issued: Issued) -> None:
    plant = issued.plant
    wish = RoundWish(name="Draft", planned_on=MORNING.date(), equipment_ids=tuple(plant.equipment_ids))
    draft = plan_round(store, issued.engineer, wish, now=MORNING)
    for person_id in (plant.people[Role.TECHNICIAN], None):
        with store.look() as unit:
            round_ = round_to_see(unit, issued.engineer, draft.id)
            assert unit.session.scalar(select(RoundRow.state).where(RoundRow.id == draft.id)) == "draft"
        given = replace(details_of(round_), person_id=person_id)
        edit_round(store, issued.engineer, draft.id, given, version=round_.version, now=MORNING)
    device = Device(store, issued, NOW)
    sent = device.put("readings", SENT | {"row_uid": "none", "temperature_c": 40.0}, round_id=draft.id)
    assert sent.status_code == 404


def test_a_note_to_somebody_elses_photo_is_not_taken_of_a_former_walker(
    store: Store, device: Device, engineer: TestClient
) -> None:
    path = f"/api/v1/rounds/{device.issued.round_id}/pictures/photo-02"
    assert engineer.put(path, content=encoded()).status_code == 201
    hand_on(store, device.issued, None)
    assert device.client.put(f"{path}/voice", content=SOUND).status_code == 404
    assert engineer.get("/api/v1/pictures/photo-02").json()["voice"] is False


def test_a_note_spoken_on_the_walk_goes_to_the_round_all_the_same(
    store: Store, device: Device, engineer: TestClient
) -> None:
    hand_on(store, device.issued, None)
    notes = f"/api/v1/rounds/{device.issued.round_id}/spoken-notes"
    path = f"{notes}/spoken-01?row_uid={device.issued.rows[1][0]}"
    headers = {"Riseline-Person": str(device.person_id)}
    for _ in range(2):
        assert device.client.put(path, content=SOUND, headers=headers).status_code == 201
    (kept,) = engineer.get(notes).json()
    assert (kept["uid"], kept["by"]) == ("spoken-01", "Test technician")
    assert device.client.get(notes).status_code == 404
    assert device.client.get(f"{notes}/spoken-01").status_code == 404
    stranger = browser(device.app, session_of(store, second_technician(store, device.issued.plant), NOW))
    assert stranger.put(path.replace("-01", "-02"), content=SOUND).status_code == 404


def test_a_photo_of_the_walk_goes_to_the_round_all_the_same(
    store: Store, device: Device, engineer: TestClient
) -> None:
    hand_on(store, device.issued, None)
    path = f"/api/v1/rounds/{device.issued.round_id}/pictures/photo-01?kind=visible"
    headers = {"If-None-Match": "*", "Riseline-Person": str(device.person_id), "Content-Type": "image/jpeg"}
    assert device.client.put(path, content=encoded(), headers=headers).status_code == 201
    assert device.client.put(path, content=encoded(), headers=headers).status_code == 201
    (kept,) = engineer.get(f"/api/v1/rounds/{device.issued.round_id}/pictures").json()
    assert (kept["uid"], kept["by"]) == ("photo-01", "Test technician")
    assert device.client.get("/api/v1/pictures/photo-01").status_code == 404
    voice = path.replace("?kind=visible", "/voice")
    for _ in range(2):
        spoken = device.client.put(voice, content=SOUND, headers=headers)
        assert (spoken.status_code, spoken.json()["voice"]) == (201, True)
    assert device.client.get("/api/v1/pictures/photo-01/voice").status_code == 404
    assert engineer.get("/api/v1/pictures/photo-01/voice").content == SOUND
    stranger = browser(device.app, session_of(store, second_technician(store, device.issued.plant), NOW))
    assert stranger.put(voice, content=SOUND + b"!", headers=headers).status_code == 404
    assert stranger.put(path, content=encoded(number=2), headers=headers).status_code == 404
