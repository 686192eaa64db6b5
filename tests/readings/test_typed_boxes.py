"""A typed stop: boxes of windows, settings and kinds where they are asked, and what a change leaves alone."""

import re
from datetime import date
from typing import Any

import pytest
from starlette.testclient import TestClient

from service.domain.readings import Reading
from service.domain.words import Access, SettingSource
from service.storage import readings
from service.storage.tables.register import EquipmentRow, InstrumentRow, PointRow
from service.storage.unit import Store
from tests.builders import STAMPS, add
from tests.readings.builders import Issued, issue
from tests.rounds.builders import change


@pytest.fixture
def issued(store: Store) -> Issued:
    return issue(store, boards=1, views=1, bearings=1, day=date(2026, 11, 24))


def stop_of(client: TestClient, issued: Issued, number: int = 0) -> str:
    page = client.get(f"/rounds/{issued.round_id}/return").text
    return str(re.findall(rf"/rounds/{issued.round_id}/return/stops/\d+", page)[number])


def of_view(issued: Issued, place: int = 0, **boxes: str) -> dict[str, str]:
    return {f"{name}-v{issued.rows[place][3]}": text for name, text in boxes.items()}


def of_point(issued: Issued, place: int = 0, **boxes: str) -> dict[str, str]:
    return {f"{name}-{issued.rows[place][0]}": text for name, text in boxes.items()}


def stored(issued: Issued) -> list[Reading]:
    with issued.store.look() as unit:
        found = readings.readings_of_round(unit, issued.round_id, after=0, limit=100)
    return [one for one in found if one.current]


def test_boxes_stand_where_they_are_asked_for(store: Store, technician: TestClient, issued: Issued) -> None:
    board = technician.get(stop_of(technician, issued)).text
    assert "Window itself" not in board
    assert "Speed" not in board
    assert board.count('name="discoloured-') == 3
    pump = technician.get(stop_of(technician, issued, 1)).text
    assert "Last greased, hours before" in pump
    change(store, EquipmentRow, issued.plant.equipment_ids[0], access=Access.WINDOW.value)
    change(store, PointRow, issued.plant.point_ids[0], window_transmission=0.82)
    board = technician.get(stop_of(technician, issued)).text
    assert board.count("Window itself") == 1
    assert "By the register 0.82" in board


def test_boxes_of_a_view_hold_for_each_of_its_points(
    store: Store, technician: TestClient, issued: Issued
) -> None:
    change(store, EquipmentRow, issued.plant.equipment_ids[0], access=Access.WINDOW.value)
    typed = of_view(
        issued, ambient_c="25,5", window_c="27,5", window_transmission="0,82", through_window="yes",
        reflected_c="24", reflected_standing="measured", distance_m="0,9", humidity_percent="45",
        minutes_at_load="180", emissivity_set="0,95", reflected_set_c="20", transmission_set="0,8",
        path_transmission="0,97",
    )  # fmt: skip
    typed |= of_point(
        issued, 0, temperature_c="40,5", emissivity="0,9", emissivity_standing="table", discoloured="no"
    )
    typed |= of_point(issued, 1, temperature_c="40,2") | {"looked": "yes"}
    answer = technician.post(stop_of(technician, issued), data=typed)
    assert answer.status_code == 303, answer.text
    first, second = stored(issued)
    for one in (first, second):
        assert (one.window_c, one.window_transmission, one.through_window) == (27.5, 0.82, True)
        assert (one.reflected_c, one.reflected_standing) == (24.0, SettingSource.MEASURED)
        assert (one.distance_m, one.humidity_percent, one.minutes_at_load) == (0.9, 45.0, 180.0)
        assert (one.emissivity_set, one.reflected_set_c, one.transmission_set) == (0.95, 20.0, 0.8)
        assert one.path_transmission == 0.97
    assert (first.emissivity, first.emissivity_standing) == (0.9, SettingSource.TABLE)
    assert first.boxes == {"discoloured": False}
    assert (second.emissivity, second.boxes) == (None, None)
    page = technician.get(stop_of(technician, issued)).text
    assert re.search(r'name="window_c-v\d+" value="27.5"', page)
    assert re.search(r'name="discoloured-[^"]+".*?value="no" selected', page, re.DOTALL)


def test_a_box_of_a_kind_that_is_wrong_is_told_beside_it(technician: TestClient, issued: Issued) -> None:
    place = 3
    typed = of_point(issued, place, temperature_c="52", speed_rpm="quick", second_method="vibration")
    answer = technician.post(stop_of(technician, issued, 1), data=typed)
    assert answer.status_code == 422
    assert f'href="#field-speed-rpm-{issued.rows[place][0]}"' in answer.text
    assert 'value="quick"' in answer.text
    assert not stored(issued)
    assert technician.post(
        stop_of(technician, issued, 1), data=typed | of_point(issued, place, speed_rpm="1485") | {"looked": "yes"}
    ).status_code == 303  # fmt: skip
    assert stored(issued)[0].boxes == {"speed_rpm": 1485.0, "second_method": "vibration"}


def test_a_mistake_in_a_box_of_the_view_is_told_once(technician: TestClient, issued: Issued) -> None:
    typed = of_view(issued, distance_m="near")
    for place in range(3):
        typed |= of_point(issued, place, temperature_c="40")
    answer = technician.post(stop_of(technician, issued), data=typed)
    assert answer.status_code == 422
    assert answer.text.count(f'href="#field-distance-m-v{issued.rows[0][3]}"') == 1
    assert "S1-MCC1-F01 Feeder 01, line terminals: Distance" in answer.text
    assert "<details open><summary>More settings" in answer.text


SENT: dict[str, Any] = {
    "humidity_percent": 44.0,
    "reflected_c": 31.25,
    "emissivity_set": 0.93,
    "fan_on_part": True,
    "path_transmission": 0.99,
    "load_source": "load bank",
    "boxes": {"discoloured": True},
}


def test_changing_one_box_leaves_all_that_was_sent_otherwise(
    store: Store, technician: TestClient, issued: Issued
) -> None:
    """The boxes hold "90.5" with a point; a decimal comma typed beside it is no contradiction."""
    with store.begin() as unit:
        add(unit, InstrumentRow(client_id=issued.plant.client_id, serial="IR-2", name="Camera 2", **STAMPS))
    records = [
        issued.record(0, current_a=90.5, instrument_serial="IR-2", distance_m=1.5, **SENT),
        issued.record(1, current_a=90.5, distance_m=2.5, **SENT),
    ]
    issued.bring(records)
    before = stored(issued)
    typed = of_point(issued, 0, temperature_c="41,5", correction_reason="misread") | {"looked": "yes"}
    assert technician.post(stop_of(technician, issued), data=typed).status_code == 303
    untouched, changed = sorted(stored(issued), key=lambda one: one.revision)
    assert untouched == before[1]
    assert (changed.temperature_c, changed.revision) == (41.5, 2)
    same = ("current_a", "distance_m", "instrument_id", "taken_at", "note", *SENT)
    assert {name: getattr(changed, name) for name in same} == {
        name: getattr(before[0], name) for name in same
    }


def test_changing_a_box_of_the_view_changes_it_for_all_of_its_points_and_nothing_else(
    technician: TestClient, issued: Issued
) -> None:
    issued.bring([issued.record(place, distance_m=1.5 + place, **SENT) for place in range(3)])
    typed = of_view(issued, reflected_c="28,5") | {"looked": "yes"}
    for place in range(3):
        typed |= of_point(issued, place, correction_reason="measured again")
    assert technician.post(stop_of(technician, issued), data=typed).status_code == 303
    now = stored(issued)
    assert [(one.reflected_c, one.distance_m) for one in now] == [(28.5, 1.5), (28.5, 2.5), (28.5, 3.5)]
    assert {one.revision for one in now} == {2}


def test_a_box_that_is_emptied_is_empty(technician: TestClient, issued: Issued) -> None:
    issued.bring([issued.record(0, **SENT)])
    typed = of_point(issued, 0, discoloured="", correction_reason="not looked at")
    assert technician.post(stop_of(technician, issued), data=typed | {"looked": "yes"}).status_code == 303
    assert stored(issued)[0].boxes is None
