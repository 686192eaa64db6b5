"""Sends of a device with defaults, as the field app makes them."""

from datetime import datetime
from typing import Any
from uuid import uuid4

from httpx import Response
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.tables.people import GrantRow, PersonRow
from service.storage.unit import Store
from tests.builders import STAMPS, Plant, add
from tests.doors import browser_as, open_app
from tests.readings.builders import Issued


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
