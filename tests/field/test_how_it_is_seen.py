"""What is held aside and what a walk brought: on a desk and a phone, accessible, nothing wider than the screen."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe

from service.domain.words import Role
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from tests.browser.conftest import Visitor, seen
from tests.browser.conftest import address as address
from tests.browser.conftest import chromium as chromium
from tests.browser.conftest import visit as visit
from tests.conftest import NOW
from tests.doors import session_of
from tests.field.builders import Device
from tests.readings.builders import issue


def lay(store: Store) -> tuple[Device, int]:
    """A walk with a wrong clock, a visit, a camera's clock, and a reading that came after sign-off."""
    issued = issue(store, walked_at=NOW - timedelta(hours=1))
    device = Device(store, issued, NOW)
    at = (NOW - timedelta(minutes=20)).isoformat()
    sent = {"device_time": at, "skew_s": 26 * 3600.0}
    device.read(0, 40.0, at=at, skew_s=-26 * 3600.0)
    device.read(1, 41.0, at="1970-01-01T00:00:12Z")
    stop_id = device.client.get(f"/api/v1/rounds/{issued.round_id}").json()["stops"][0]["id"]
    device.put(
        "stop-visits", {"device_time": at, "stop_id": stop_id, "started_at": at, "seen": "oil under field 2"}
    )
    clock = {"instrument_id": issued.plant.instrument_id, "camera_time": "09:02:00", "offset_s": 120.0}
    device.put("camera-clocks", sent | clock)
    with store.begin() as unit:
        unit.session.get_one(RoundRow, issued.round_id).state = "signed off"
    held = device.read(2, 61.5, at=at, note="a hum that was not there last time", boxes={}).json()
    return device, int(held["held_id"])


@pytest.mark.parametrize(("size", "dark"), seen("light desk", "dark phone"))
def test_held_sends_and_walks_fit_and_are_accessible(
    store: Store,
    address: str,
    visit: Callable[[str], Visitor],
    tmp_path: Path,
    *,
    size: dict[str, int],
    dark: bool,
) -> None:
    device, held_id = lay(store)
    person = device.issued.plant.people[Role.ENGINEER]
    page = visit(address).with_session(session_of(store, person, NOW), size=size, dark=dark)
    faults = []
    for place in (f"/held/{held_id}", f"/rounds/{device.issued.round_id}/walked", "/desk"):
        answer = page.goto(place)
        assert answer is not None
        assert answer.status == 200, place
        page.screenshot(path=tmp_path / f"{place.strip('/').replace('/', '-')}.png", full_page=True)
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            faults.append(f"{place}: wider than the screen")
        found = Axe().run(page).response["violations"]
        faults += [f"{place}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in found]
    assert faults == []
