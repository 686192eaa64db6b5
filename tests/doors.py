"""The app as a test opens it, and browsers and programs that ask it in somebody's name."""

import atexit
from collections.abc import Callable
from contextlib import ExitStack
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import gettempdir
from typing import Any

from anyio.from_thread import BlockingPortal, start_blocking_portal
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.app import create_app
from service.domain.words import Role
from service.security.passwords import Hasher
from service.security.tokens import digest, new_secret, new_token
from service.settings import ROOT, Settings
from service.storage.tables.people import SessionRow, TokenRow
from service.storage.unit import Store
from tests.builders import Plant, add

CHEAP = Hasher(time_cost=1, memory_kib=8, parallelism=1)
OWN_PAGE = {"Sec-Fetch-Site": "same-origin"}
COOKIE = "riseline"


def open_app(store: Store, clock: Callable[[], datetime], **change: Any) -> FastAPI:
    """The whole service on a test's database, without TLS, with a cheap password hash."""
    fields: dict[str, Any] = {
        "database_url": str(store.engine.url),
        "demo": False,
        "secure_cookies": False,
        "web": ROOT / "web",
        "files": files_of(store),
    }
    return create_app(Settings(**(fields | change)), store=store, clock=clock, hasher=CHEAP)


def files_of(store: Store) -> Path:
    """A folder of files that belongs to a test's database and to no other."""
    database = Path(str(store.engine.url.database))
    beside = database if database.is_absolute() else Path(gettempdir()) / "riseline-tests" / database.name
    return beside.with_name(f"{beside.name}.files")


def session_of(store: Store, person_id: int, now: datetime, **change: Any) -> str:
    """The secret of a session begun for a person."""
    secret = new_secret()
    fields = {"created_at": now, "seen_at": now, "expires_at": now + timedelta(hours=12)} | change
    with store.begin() as unit:
        add(unit, SessionRow(secret_hash=digest(secret), person_id=person_id, **fields))
    return secret


def token_of(store: Store, person_id: int, now: datetime, **change: Any) -> str:
    """A token made for a person."""
    secret = new_token()
    fields = {
        "name": "test",
        "created_at": now,
        "used_at": now,
        "expires_at": now + timedelta(days=7),
    } | change
    with store.begin() as unit:
        row = TokenRow(secret_hash=digest(secret), person_id=person_id, prefix=secret[:8], **fields)
        add(unit, row)
    return secret


class Client(TestClient):
    """A client whose requests run in one event loop of this process: its own would begin and end with each."""

    def __init__(self, app: FastAPI, **how: Any) -> None:
        super().__init__(app, **how)
        self.portal = _event_loop()


@cache
def _event_loop() -> BlockingPortal:
    """In a thread that ends with the process."""
    open_to_the_end = ExitStack()
    atexit.register(open_to_the_end.close)
    return open_to_the_end.enter_context(start_blocking_portal())


def browser(app: FastAPI, secret: str = "") -> TestClient:
    """A browser that follows no redirect; with a secret it is signed in."""
    cookies = {COOKIE: secret} if secret else {}
    return Client(app, follow_redirects=False, headers=OWN_PAGE, cookies=cookies)


def program(app: FastAPI, token: str = "") -> TestClient:
    """A client of the API; with a token it asks in its owner's name."""
    headers = {"Authorization": f"Bearer {token}"} if token else {}
    return Client(app, follow_redirects=False, headers=headers)


def browser_as(app: FastAPI, store: Store, plant: Plant, role: Role, now: datetime) -> TestClient:
    """A browser in which the plant's person of a role is signed in."""
    return browser(app, session_of(store, plant.people[role], now))


def program_as(app: FastAPI, store: Store, plant: Plant, role: Role, now: datetime) -> TestClient:
    return program(app, token_of(store, plant.people[role], now))
