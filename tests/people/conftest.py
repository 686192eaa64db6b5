"""Shared by the tests about people: the app on a plant, and its people by role."""

from collections.abc import Callable
from datetime import datetime

import pytest
from fastapi import FastAPI

from service.storage.unit import Store
from tests.builders import Plant, build_plant
from tests.doors import open_app


@pytest.fixture
def plant(store: Store) -> Plant:
    return build_plant(store, sites=2)


@pytest.fixture
def app(store: Store, clock: Callable[[], datetime]) -> FastAPI:
    return open_app(store, clock)
