"""Sends of a device with defaults, as the field app makes them."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

from httpx import Response
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.tables.people import GrantRow, PersonRow
from service.storage.unit import Store
from service.usecases.rounds.edit import details_of, edit_round
from service.usecases.rounds.sight import round_to_see
from tests.builders import STAMPS, Plant, add
from tests.doors import browser_as, open_app
from tests.readings.builders import Issued

#: a day out: its morning, when everything is in, and an instant that a device names
MORNING = datetime(2026, 3, 16, 8, 0, tzinfo=UTC)
NOW = MORNING + timedelta(hours=9)
AT = "2026-03-16T09:00:00Z"
SENT = {"device_time": AT, "skew_s": 0.0}


def hand_on(store: Store, issued: Issued, person_id: int | None, *, now: datetime = MORNING) -> None:
    """Give a round to somebody else, or to nobody, as the engineer does."""
    with store.look() as unit:
        round_ = round_to_see(unit, issued.engineer, issued.round_id)
    given = replace(details_of(round_), person_id=person_id)
    edit_round(store, issued.engineer, round_.id, given, version=round_.version, now=now)


def second_technician(store: Store, plant: Plant) -> int:
    """Somebody else who may walk every site of the plant."""
    with store.begin() as unit:
        person = PersonRow(
            login="second",
            name="Test second",
            role=Role.TECHNICIAN.value,
            password_hash="!",
            qualified=True,
            **STAMPS,
        )
        add(unit, person)
        add(unit, GrantRow(person_id=person.id, client_id=plant.client_id))
        return person.id


class Device:
    """A technician's device: it names its person with every send, as the app does."""

    def __init__(self, store: Store, issued: Issued, now: datetime, role: Role = Role.TECHNICIAN) -> None:
        self.issued, self.person_id, self.now = issued, issued.plant.people[role], now
        self.app = open_app(store, lambda: self.now)
        self.client: TestClient = browser_as(self.app, store, issued.plant, role, now)

    def put(
        self, noun: str, body: dict[str, Any], *, uid: str | None = None, round_id: int | None = None
    ) -> Response:
        path = f"/api/v1/rounds/{round_id or self.issued.round_id}/{noun}/{uid or uuid4()}"
        headers = {"If-None-Match": "*", "Riseline-Person": str(self.person_id)}
        return self.client.put(path, json=body, headers=headers)

    def read(
        self, place: int, temperature_c: float, *, at: str, skew_s: float | None = 0.0, **more: Any
    ) -> Response:
        """One reading, its time by the device's clock alone."""
        uid = more.pop("uid", None)
        row = self.issued.rows[place][0]
        body = {"row_uid": row, "temperature_c": temperature_c, "ambient_c": 25.0, "current_a": 90.0}
        return self.put("readings", body | {"device_time": at, "skew_s": skew_s} | more, uid=uid)
