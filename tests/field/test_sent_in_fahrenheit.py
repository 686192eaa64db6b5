"""Sends of a device whose technician works in °F. Values by hand: 104 °F = 40 °C, 142.7 °F = 61.5 °C, 77 °F = 25 °C."""

from collections.abc import Callable

import pytest
from sqlalchemy import select

from service.domain.words import Role, TemperatureUnit
from service.pages.view import units
from service.storage.tables.readings import ReadingRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from tests.browser.conftest import Visitor
from tests.doors import browser_as
from tests.field.builders import AT, MORNING, NOW, Device
from tests.field.device import ADDRESS, device
from tests.readings.builders import issue

IN_F = {"temperature_unit": "°F", "ambient_c": 77.0}
#: sentences as both judges make them, with numbers that must stay as they are
SENTENCES = (
    "Repair soon: 30.0 K over its like parts; 45.2 K over air, load 90 %.",
    "Level 2 of 4, 12.0 K more than last time.",
    "Read it again at 40 A or more (load hours Mon to Fri 07:00 to 11:30).",
    "Look again above 4–15 K, or between −60 and 80 °C.",
    "36.5 or 365 °C?",
    "level with its like parts; K12 and S1-MCC1-F01-L1 at -3.5 °C",
    "10 K or 12 K over air",
)


def test_a_reading_typed_in_fahrenheit_is_stored_in_celsius_with_what_was_typed(store: Store) -> None:
    phone = Device(store, issue(store, walked_at=MORNING), NOW)
    assert phone.read(0, 104.0, at=AT, **IN_F).status_code == 201
    with store.look() as unit:
        row = unit.session.scalars(select(ReadingRow)).one()
        assert (row.temperature_c, row.ambient_c) == (40.0, 25.0)
        typed = row.typed or {}
        assert (typed["temperature_c"], typed["temperature_unit"]) == (104.0, "°F")


@pytest.mark.parametrize("unit", ["K", 5, None])
def test_a_unit_that_is_none_of_the_two_is_refused(store: Store, unit: object) -> None:
    phone = Device(store, issue(store, walked_at=MORNING), NOW)
    assert phone.read(0, 40.0, at=AT, temperature_unit=unit).status_code == 422


def test_held_aside_it_is_told_and_taken_in_in_celsius(store: Store) -> None:
    phone = Device(store, issue(store, walked_at=MORNING), NOW)
    with store.begin() as unit:
        row = unit.session.get_one(RoundRow, phone.issued.round_id)
        row.state, row.signed_off_at = "signed off", NOW
    held = phone.read(0, 142.7, at=AT, **IN_F)
    assert held.status_code == 202
    engineer = browser_as(phone.app, store, phone.issued.plant, Role.ENGINEER, NOW)
    assert "61.5 °C" in engineer.get("/desk").text
    page = engineer.get(f"/held/{held.json()['held_id']}").text
    assert "<dd>61.5" in page
    assert "142.7" not in page
    body = {"reason": "was out of reach", "round_id": phone.issued.round_id}
    path = f"/api/v1/held-sends/{held.json()['held_id']}/take-in"
    assert engineer.post(path, json=body).status_code == 200
    (kept,) = engineer.get(f"/api/v1/rounds/{phone.issued.round_id}/readings").json()
    assert (kept["temperature_c"], kept["ambient_c"]) == (61.5, 25.0)


@pytest.mark.browser
def test_the_device_tells_a_sentence_in_fahrenheit_as_the_pages_do(visit: Callable[[str], Visitor]) -> None:
    told = device(visit).evaluate(
        """async ([module, sentences]) => {
          const { told } = await import(module);
          return sentences.map((one) => told(one, { unit: "f" }));
        }""",
        [f"{ADDRESS}/assets/field/units.js", list(SENTENCES)],
    )
    units.read_in(TemperatureUnit.FAHRENHEIT)
    try:
        assert told == [units.own_words(one) for one in SENTENCES]
    finally:
        units.read_in(TemperatureUnit.CELSIUS)
