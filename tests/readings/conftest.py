"""The people who bring readings in, signed in on the test's own `issued` round."""

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.unit import Store
from tests.conftest import NOW
from tests.doors import browser_as, open_app
from tests.readings.builders import Issued


@pytest.fixture
def technician(store: Store, issued: Issued) -> Iterator[TestClient]:
    with browser_as(open_app(store, lambda: NOW), store, issued.plant, Role.TECHNICIAN, NOW) as made:
        yield made


@pytest.fixture
def engineer(store: Store, issued: Issued) -> Iterator[TestClient]:
    with browser_as(open_app(store, lambda: NOW), store, issued.plant, Role.ENGINEER, NOW) as made:
        yield made
