"""A round and a device on it; and a real Chromium for the modules of the field (tests/browser/conftest.py)."""

import pytest
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.unit import Store
from tests.browser.conftest import chromium, visit
from tests.doors import browser_as
from tests.field.builders import MORNING, NOW, Device
from tests.readings.builders import Issued, issue

__all__ = ["chromium", "visit"]


@pytest.fixture
def issued(store: Store) -> Issued:
    return issue(store, walked_at=MORNING)


@pytest.fixture
def device(store: Store, issued: Issued) -> Device:
    """The technician's, with the round on it."""
    return Device(store, issued, NOW)


@pytest.fixture
def engineer(store: Store, device: Device) -> TestClient:
    """The engineer's browser at the service that the device sends to."""
    return browser_as(device.app, store, device.issued.plant, Role.ENGINEER, NOW)
