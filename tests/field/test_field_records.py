"""What devices send beside readings: once, in somebody's own name, and where an engineer sees it."""

from datetime import timedelta

from service.domain.hours_seen import SeenPlace, SeenVisit
from service.domain.minutes_seen import suggested_minutes
from service.domain.words import Access, Role
from service.storage.unit import Store
from service.storage.visits_seen import visits_of_equipment
from tests.field.builders import AT, MORNING, SENT, Device


def _stop_id(device: Device) -> int:
    stops = device.client.get(f"/api/v1/rounds/{device.issued.round_id}").json()["stops"]
    return int(stops[0]["id"])


def test_a_visit_of_a_stop_is_kept_once_and_told_on_the_round(device: Device) -> None:
    body = SENT | {
        "stop_id": _stop_id(device), "started_at": "2026-03-16T09:26:00Z", "ended_at": "2026-03-16T09:48:30Z",
        "cautions_at": "2026-03-16T09:25:00Z", "heard": "a hum in field 2", "skew_s": 26 * 60.0,
    }  # fmt: skip
    first = device.put("stop-visits", body, uid="stop-visit-1")
    again = device.put("stop-visits", body, uid="stop-visit-1")
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    visits = device.client.get(f"/api/v1/rounds/{device.issued.round_id}/stop-visits").json()
    assert [visit["started_at"] for visit in visits] == ["2026-03-16T09:00:00Z"]
    page = device.client.get(f"/rounds/{device.issued.round_id}/walked").text
    assert "a hum in field 2" in page
    assert "22" in page  # minutes between arrival and leaving


def test_the_same_id_with_something_else_is_refused_and_told(device: Device) -> None:
    body = SENT | {"stop_id": _stop_id(device), "seen": "oil"}
    assert device.put("stop-visits", body, uid="stop-visit-1").status_code == 201
    other = device.put("stop-visits", body | {"seen": "no oil"}, uid="stop-visit-1")
    assert other.status_code == 422
    assert "Something else was stored under this id" in other.text


def test_a_corrected_visit_takes_the_place_of_the_one_before(device: Device) -> None:
    body = SENT | {"stop_id": _stop_id(device), "seen": "oil"}
    device.put("stop-visits", body, uid="stop-visit-1")
    device.put("stop-visits", body | {"seen": "water", "replaces": ["stop-visit-1"]}, uid="stop-visit-2")
    visits = device.client.get(f"/api/v1/rounds/{device.issued.round_id}/stop-visits").json()
    assert [visit["seen"] for visit in visits] == ["water"]


def test_a_telling_lies_at_the_finding_that_the_reading_opened(device: Device) -> None:
    device.read(1, 40.0, at=AT)
    device.read(2, 40.0, at=AT)
    hot = device.read(0, 120.0, at=AT).json()
    (act_now,) = hot["act_now"]
    body = SENT | {"row_uid": device.issued.rows[0][0], "told_whom": "Shift lead", "told_at": AT}
    first = device.put("field-tellings", body, uid="telling-1")
    again = device.put("field-tellings", body, uid="telling-1")
    assert first.json() == again.json()
    assert first.json()["finding_id"] == act_now["finding_id"]
    assert device.client.get(f"/findings/{act_now['finding_id']}").text.count("<b>Told</b> Shift lead") == 1
    assert "nobody on record as told" not in device.client.get("/desk").text


def test_a_telling_before_any_verdict_opens_an_act_now(device: Device) -> None:
    body = SENT | {"row_uid": device.issued.rows[0][0], "told_whom": "Shift lead", "answer": "will isolate"}
    finding_id = device.put("field-tellings", body).json()["finding_id"]
    finding = device.client.get(f"/api/v1/findings/{finding_id}").json()
    assert (finding["level"], finding["state"]) == (4, "open")


def test_a_telling_of_a_part_off_the_round_finds_it_by_its_send(device: Device) -> None:
    part = SENT | {"place": "roof fan", "temperature_c": 95.0, "picture": "TH_9", "site": "Site 1"}
    sent = device.put("readings", part, uid="off-round-1")
    assert sent.status_code == 201, sent.text
    body = SENT | {"off_round_uid": "off-round-1", "told_whom": "Shift lead"}
    told = device.put("field-tellings", body)
    assert told.json()["finding_id"] == sent.json()["finding_ids"][0]


def test_a_check_and_a_camera_clock_come_in_by_the_true_time(device: Device) -> None:
    check = {"occasion": "start", "reference_c": 35.0, "shown_c": 35.4, "at": "2026-03-16T10:00:00Z"}
    assert device.put("field-checks", SENT | check | {"skew_s": 3600.0}).status_code == 201
    checks = device.client.get(f"/api/v1/rounds/{device.issued.round_id}/checks").json()
    assert [one["at"] for one in checks] == ["2026-03-16T09:00:00Z"]
    clock = {"instrument_id": device.issued.plant.instrument_id, "camera_time": "11:02:00", "offset_s": 120.0}
    assert device.put("camera-clocks", SENT | clock | {"skew_s": 3600.0}).status_code == 201
    (kept,) = device.client.get(f"/api/v1/rounds/{device.issued.round_id}/camera-clocks").json()
    assert kept["offset_s"] == 3720.0


def test_what_one_person_typed_never_comes_in_under_another_name(device: Device) -> None:
    device.person_id = device.issued.plant.people[Role.ENGINEER]
    answer = device.read(0, 40.0, at=AT)
    assert answer.status_code == 401
    assert "Somebody else is signed in" in answer.text
    assert device.client.get(f"/api/v1/rounds/{device.issued.round_id}/readings").json() == []


def test_minutes_there_go_from_arrival_to_leaving_where_that_was_noted(store: Store, device: Device) -> None:
    for place in range(3):
        device.read(place, 40.0 + place, at=f"2026-03-16T09:0{place}:00Z")
    visit = {
        "stop_id": _stop_id(device),
        "started_at": "2026-03-16T08:50:00Z",
        "ended_at": "2026-03-16T09:14:00Z",
    }
    device.put("stop-visits", SENT | visit)
    equipment_id = device.issued.plant.equipment_ids[0]
    with store.look() as unit:
        (seen,) = visits_of_equipment(unit, [equipment_id], since=MORNING)[equipment_id]
    assert (seen.span_min, seen.stay_min) == (2.0, 24.0)


def test_a_noted_stay_is_not_dressed_twice() -> None:
    place = SeenPlace(1, 1, 1, "T-1", "Board", "UTC", "", 20, Access.HINGED_COVER)
    walks = [SeenVisit(MORNING + timedelta(days=day), 0.5, 3.0, 3, 24.0) for day in range(5)]
    assert suggested_minutes(place, walks).minutes == 24


def test_a_reading_that_went_astray_does_not_stand_over_the_one_that_corrects_it(device: Device) -> None:
    assert device.read(0, 40.0, at=AT, uid="reading-1").status_code == 201
    third = {"replaces": ["reading-1", "reading-2"], "correction_reason": "corrected on the device"}
    assert device.read(0, 42.0, at=AT, uid="reading-3", **third).status_code == 201
    second = {"replaces": ["reading-1"], "correction_reason": "corrected on the device"}
    late = device.read(0, 41.0, at=AT, uid="reading-2", **second)
    assert late.status_code == 422
    stored = device.client.get(f"/api/v1/rounds/{device.issued.round_id}/readings").json()
    assert [one["temperature_c"] for one in stored if one["current"]] == [42.0]
