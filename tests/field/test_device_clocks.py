"""R11, clocks lie: whatever a device's clock says, its reading is kept, put right, told, and in order."""

from datetime import datetime, timedelta

import pytest
from starlette.testclient import TestClient

from service.storage.unit import Store
from tests.field.builders import AT, MORNING, NOW, Device
from tests.pictures.builders import encoded
from tests.readings.builders import issue

TRUE = MORNING + timedelta(hours=1)
SKEWS = [-26 * 3600.0, -301.0, -299.0, 0.0, 299.0, 301.0, 26 * 3600.0]


@pytest.mark.parametrize(
    ("skew_s", "taken_at"),
    [("3600", "2026-03-16T08:00:00Z"), ("", AT), ("-86400", None)],
    ids=["an hour ahead", "never measured", "into tomorrow"],
)
def test_a_photos_time_is_put_right_by_its_devices_offset_too(
    device: Device, engineer: TestClient, skew_s: str, taken_at: str | None
) -> None:
    path = f"/api/v1/rounds/{device.issued.round_id}/pictures/photo-01"
    sent = device.client.put(path, params={"taken_at": AT, "skew_s": skew_s}, content=encoded())
    assert sent.status_code == 201, sent.text
    (kept,) = engineer.get(f"/api/v1/rounds/{device.issued.round_id}/pictures").json()
    assert kept["taken_at"] == taken_at


@pytest.mark.parametrize("skew_s", SKEWS)
def test_a_measured_offset_puts_the_time_right_and_is_told_beyond_five_minutes(
    store: Store, skew_s: float
) -> None:
    device = Device(store, issue(store, walked_at=MORNING), NOW)
    shown = (TRUE + timedelta(seconds=skew_s)).isoformat()
    assert device.read(0, 40.0, at=shown, skew_s=skew_s, uid="reading-1").status_code == 201
    stored = device.client.get("/api/v1/readings/reading-1").json()
    assert datetime.fromisoformat(stored["taken_at"]) == TRUE
    assert (stored["device_time"], stored["skew_s"]) == (shown, skew_s)
    told = "The device’s clock was" in device.client.get("/readings/reading-1").text
    assert told is (abs(skew_s) > 300)
    assert (
        "with a wrong clock" in device.client.get(f"/rounds/{device.issued.round_id}/walked").text
    ) is told


@pytest.mark.parametrize(
    "shown",
    [
        "1970-01-01T00:00:12Z",
        "1969-12-31T23:00:00-01:00",
        "2099-12-31T23:59:59Z",
        "2107-02-07T00:00:00Z",
        "0001-01-01T00:00:00Z",
        "2027-02-29T09:00:00Z",
        "no clock at all",
    ],
)
def test_a_clock_that_cannot_be_believed_loses_no_reading_and_no_order(store: Store, shown: str) -> None:
    device = Device(store, issue(store, walked_at=MORNING), NOW)
    assert device.read(0, 40.0, at=TRUE.isoformat()).status_code == 201
    assert device.read(1, 41.0, at=shown, uid="reading-2").status_code == 201
    stored = device.client.get("/api/v1/readings/reading-2").json()
    assert datetime.fromisoformat(stored["taken_at"]) == TRUE
    assert stored["device_time"] == shown
    assert "could not be believed" in device.client.get("/readings/reading-2").text


@pytest.mark.parametrize("shown", ["1970-01-01T00:00:12Z", "2099-12-31T23:59:59Z"])
def test_an_absurd_clock_that_was_measured_is_put_right(store: Store, shown: str) -> None:
    device = Device(store, issue(store, walked_at=MORNING), NOW)
    skew_s = (datetime.fromisoformat(shown) - TRUE).total_seconds()
    assert device.read(0, 40.0, at=shown, skew_s=skew_s, uid="reading-1").status_code == 201
    taken = device.client.get("/api/v1/readings/reading-1").json()["taken_at"]
    assert datetime.fromisoformat(taken) == TRUE


@pytest.mark.parametrize(
    ("day", "shown", "true"),
    [
        # Europe/London, from the tz database: 01:00 to 02:00 is left out on 29 March 2026
        ("2026-03-29", "2026-03-29T00:59:59+00:00", "2026-03-29T00:59:59Z"),
        ("2026-03-29", "2026-03-29T02:00:01+01:00", "2026-03-29T01:00:01Z"),
        ("2026-03-29", "2026-03-29T01:30:00", "2026-03-29T01:30:00Z"),
        # and walked twice on 25 October 2026: the offset says which one
        ("2026-10-25", "2026-10-25T01:30:00+01:00", "2026-10-25T00:30:00Z"),
        ("2026-10-25", "2026-10-25T01:30:00+00:00", "2026-10-25T01:30:00Z"),
        ("2026-10-25", "2026-10-25T01:30:00", "2026-10-25T00:30:00Z"),
        ("2028-02-29", "2028-02-29T23:59:59.999+00:00", "2028-02-29T23:59:59.999Z"),
    ],
)
def test_clock_changes_and_leap_days_are_instants_like_others(
    store: Store, day: str, shown: str, true: str
) -> None:
    morning = datetime.fromisoformat(f"{day}T00:00:00+00:00")
    device = Device(store, issue(store, walked_at=morning), morning + timedelta(hours=30))
    assert device.read(0, 40.0, at=shown, uid="reading-1").status_code == 201
    taken = device.client.get("/api/v1/readings/reading-1").json()["taken_at"]
    assert datetime.fromisoformat(taken) == datetime.fromisoformat(true)


def test_a_server_clock_stepped_back_drops_nothing(store: Store) -> None:
    issued = issue(store, walked_at=MORNING)
    device = Device(store, issued, MORNING - timedelta(hours=1))
    device.now = MORNING - timedelta(hours=5)
    assert device.read(0, 40.0, at=TRUE.isoformat(), uid="reading-1").status_code == 201
    taken = device.client.get("/api/v1/readings/reading-1").json()["taken_at"]
    assert datetime.fromisoformat(taken) <= device.now


def test_a_time_that_somebody_typed_is_left_alone(store: Store) -> None:
    device = Device(store, issue(store, walked_at=MORNING), NOW)
    answer = device.read(0, 40.0, at="1970-01-01T00:00:00Z", taken_at="2026-03-16T08:45:00Z", uid="reading-1")
    assert answer.status_code == 201
    taken = device.client.get("/api/v1/readings/reading-1").json()["taken_at"]
    assert taken == "2026-03-16T08:45:00Z"
    assert "could not be believed" not in device.client.get("/readings/reading-1").text
