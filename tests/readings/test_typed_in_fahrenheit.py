"""Typed in °F, kept in °C. Values by hand: 212 °F = 100 °C, 211 °F = 99.444… °C, 77 °F = 25 °C."""

import json
import re
from datetime import date

import pytest
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import InstrumentRow, PointRow
from service.storage.unit import Store
from tests.conftest import NOW
from tests.doors import browser_as, open_app
from tests.pages.forms_read import read_form
from tests.readings.builders import Issued, issue
from tests.readings.test_typed_boxes import of_point, of_view, stop_of, stored
from tests.rounds.builders import change


@pytest.fixture
def issued(store: Store) -> Issued:
    made = issue(store, boards=1, views=1, day=date(2026, 11, 24))
    for role in (Role.TECHNICIAN, Role.ENGINEER):
        change(store, PersonRow, made.plant.people[role], temperature_unit="f")
    return made


def typed(issued: Issued, place: int, temperature: str, **more: str) -> dict[str, str]:
    return (
        of_point(issued, place, temperature_c=temperature, current_a="90,5")
        | {
            "taken_at": "2026-11-24 09:10",
            "looked": "yes",
        }
        | more
    )


def test_212_in_fahrenheit_is_kept_as_100_celsius(technician: TestClient, issued: Issued) -> None:
    answer = technician.post(
        stop_of(technician, issued), data=typed(issued, 0, "212") | of_view(issued, ambient_c="77")
    )
    assert answer.status_code == 303, answer.text
    kept = stored(issued)[0]
    assert (kept.temperature_c, kept.ambient_c, kept.current_a) == (100.0, 25.0, 90.5)


def test_another_person_still_reads_celsius(store: Store, technician: TestClient, issued: Issued) -> None:
    technician.post(stop_of(technician, issued), data=typed(issued, 0, "212"))
    uid = stored(issued)[0].uid
    with browser_as(open_app(store, lambda: NOW), store, issued.plant, Role.MANAGER, NOW) as manager:
        theirs = manager.get(f"/readings/{uid}").text
    ours = technician.get(f"/readings/{uid}").text
    assert "100.0\u00a0°C" in theirs
    assert "°F" not in theirs
    assert "212.0\u00a0°F" in ours


def test_a_stop_sent_back_untouched_moves_nothing(technician: TestClient, issued: Issued) -> None:
    address = stop_of(technician, issued)
    technician.post(address, data=typed(issued, 0, "211") | of_view(issued, ambient_c="76,9"))
    before = stored(issued)
    page = technician.get(address).text
    assert 'value="211"' in page
    assert 'value="76.9"' in page
    again = technician.post(address, data=read_form(page, address).boxes)
    assert "Nothing%20new" in again.headers["set-cookie"]
    assert stored(issued) == before


def test_a_correction_of_the_amps_leaves_the_temperature_to_the_last_digit(
    store: Store, technician: TestClient, issued: Issued
) -> None:
    address = stop_of(technician, issued)
    technician.post(address, data=typed(issued, 0, "211"))
    with store.begin() as unit:
        unit.session.query(ReadingRow).update({"temperature_c": 99.4444444437})
    boxes = read_form(technician.get(address).text, address).boxes
    boxes |= of_point(issued, 0, current_a="91", correction_reason="misread") | {"looked": "yes"}
    assert technician.post(address, data=boxes).status_code == 303
    kept = stored(issued)[0]
    assert (kept.current_a, kept.temperature_c) == (91.0, 99.4444444437)


def test_a_range_is_told_in_the_unit_that_was_typed(technician: TestClient, issued: Issued) -> None:
    address = stop_of(technician, issued)
    answer = technician.post(address, data=typed(issued, 0, "150") | of_view(issued, ambient_c="300"))
    assert answer.status_code == 422
    assert "Outside -76 to 176 °F" in answer.text
    assert "Found: 300." in answer.text
    assert 'value="300"' in answer.text
    assert "°C" not in answer.text


def test_a_form_opened_before_the_unit_was_changed_is_not_misread(
    store: Store, technician: TestClient, issued: Issued
) -> None:
    address = stop_of(technician, issued)
    boxes = read_form(technician.get(address).text, address).boxes | typed(issued, 0, "212")
    change(store, PersonRow, issued.plant.people[Role.TECHNICIAN], temperature_unit="c")
    refused = technician.post(address, data=boxes)
    assert refused.status_code == 409
    assert "Your units were changed" in refused.text
    assert stored(issued) == []


def test_the_register_takes_fahrenheit_and_keeps_what_is_untouched(
    store: Store, engineer: TestClient, issued: Issued
) -> None:
    point_id, address = issued.plant.point_ids[0], f"/register/point/{issued.plant.point_ids[0]}/edit"
    change(store, PointRow, point_id, reflected_c=21.123456789, rated_rise_k=55.0)
    form = read_form(engineer.get(address).text, address).boxes
    assert form["rated_rise_k"] == "99"
    assert re.fullmatch(r"70\.0222\d+", form["reflected_c"])
    assert engineer.post(address, data=form | {"rated_rise_k": "90"}).status_code == 303
    with store.look() as unit:
        row = unit.session.get_one(PointRow, point_id)
        assert (row.reflected_c, row.rated_rise_k) == (21.123456789, 50.0)


def test_a_register_range_is_told_in_fahrenheit(engineer: TestClient, issued: Issued) -> None:
    address = f"/register/point/{issued.plant.point_ids[0]}/edit"
    form = read_form(engineer.get(address).text, address).boxes | {"reflected_c": "9999"}
    answer = engineer.post(address, data=form)
    assert answer.status_code == 422
    assert "°C" not in answer.text
    assert "Found: 9999." in answer.text


def test_what_holds_for_a_round_is_typed_in_fahrenheit(
    store: Store, engineer: TestClient, issued: Issued
) -> None:
    here, address = f"/rounds/{issued.round_id}", f"/rounds/{issued.round_id}/settings"
    form = read_form(engineer.get(here).text, address).boxes
    typed_now = {"ambient_c": "77", "reflected_c": "68", "reflected_c_half_width": "9"}
    assert engineer.post(address, data=form | typed_now).status_code == 303
    told = engineer.get(f"/api/v1/rounds/{issued.round_id}/settings").json()
    assert '"value": 25.0' in json.dumps(told)
    assert '"half_width": 5.0' in json.dumps(told)
    page = engineer.get(here).text
    assert "77\u00a0°F" in page
    assert "68\u00a0°F ± 9\u00a0°F" in page
    again = read_form(page, address).boxes
    assert (again["ambient_c"], again["reflected_c_half_width"]) == ("77", "9")


def test_a_check_of_an_instrument_is_typed_in_fahrenheit(
    store: Store, engineer: TestClient, issued: Issued
) -> None:
    with store.look() as unit:
        instrument = unit.session.query(InstrumentRow).first()
        assert instrument is not None
        address = f"/set-up/instruments/{instrument.id}"
    noted = {"occasion": "start", "reference_c": "212", "shown_c": "216.5"}
    assert engineer.post(f"{address}/checks", data=noted).status_code == 303
    page = engineer.get(address).text
    assert "212.0\u00a0°F" in page
    assert "4.5\u00a0°F too high" in page  # 2.5 K: a difference, by 9/5 alone
