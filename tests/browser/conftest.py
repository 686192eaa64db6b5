"""A real Chromium against the real service: one browser a module, one context a test."""

import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

from service.storage.unit import Store
from service.usecases.people.demo import DEMO_PASSWORD
from tests.browser.serving import serving
from tests.conftest import NOW
from tests.doors import COOKIE, open_app

MISSING = "NO CHROMIUM HERE: no screen was proven (install the package chromium)"
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
#: the same engine without windows: a third less work a page
WITHOUT_WINDOWS = ("chromium-headless-shell",)
ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
DESK = {"width": 1440, "height": 900}
PHONE = {"width": 390, "height": 844}
#: How a page is looked at: both widths and both colour schemes.
SIGHTS = {
    "light desk": (DESK, False),
    "dark phone": (PHONE, True),
    "dark desk": (DESK, True),
    "light phone": (PHONE, False),
}


def seen(*usual: str, **first: Any) -> list[Any]:
    """All sights as parameters, those that are not usual at leisure; ``first`` stands before them."""
    return [
        pytest.param(
            *first.values(),
            *sight,
            id="-".join([*map(str, first.values()), name]),
            marks=() if name in usual else pytest.mark.torture,
        )
        for name, sight in SIGHTS.items()
    ]


def true_now() -> datetime:
    return datetime.now(UTC)


def chromium_path() -> str | None:
    """Where the whole browser is: the walks with Field and the figures are its own."""
    return next(filter(None, map(shutil.which, NAMES)), None)


def engine_path() -> str | None:
    """Where the lightest browser of this engine is."""
    return next(filter(None, map(shutil.which, (*WITHOUT_WINDOWS, *NAMES))), None)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """A browser a module: while it runs, its own loop holds the thread that the tests run in."""
    path = engine_path()
    if path is None:
        pytest.skip(MISSING)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(ARGUMENTS))
        yield browser
        browser.close()


class Visitor:
    """One person's browser at one address; whatever its console complains of fails the test."""

    def __init__(self, browser: Browser, address: str) -> None:
        self._browser = browser
        self._contexts: list[BrowserContext] = []
        self.address = address
        self.complaints: list[str] = []

    def page(self, *, size: dict[str, int] | None = None, dark: bool = False, **context: Any) -> Page:
        """A page in a context of its own: nobody is signed in there yet."""
        opened = self._browser.new_context(
            base_url=self.address,
            viewport=size or DESK,  # type: ignore[arg-type]
            color_scheme="dark" if dark else "light",
            locale="en-GB",
            timezone_id="Europe/London",
            **context,
        )
        opened.set_default_timeout(30_000)
        self._contexts.append(opened)
        page = opened.new_page()
        page.on("console", self._hear)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        return page

    def _hear(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(f"{message.type}: {message.text} ({message.location.get('url')})")

    def signed_in(self, login: str, password: str = DEMO_PASSWORD, **page: Any) -> Page:
        """A page of somebody who has just signed in by the form."""
        opened = self.page(**page)
        opened.goto("/sign-in")
        opened.locator("#field-login").fill(login)
        opened.locator("#field-password").fill(password)
        opened.get_by_role("button", name="Sign in", exact=True).click()
        opened.wait_for_url(lambda url: "/sign-in" not in url)
        return opened

    def with_session(self, secret: str, **page: Any) -> Page:
        """A page of somebody whose session (tests.doors.session_of) goes on."""
        opened = self.page(**page)
        opened.context.add_cookies([{"name": COOKIE, "value": secret, "url": self.address}])
        return opened

    def leave(self) -> None:
        for context in self._contexts:
            context.close()


@pytest.fixture
def visit(chromium: Browser) -> Iterator[Callable[[str], Visitor]]:
    """A way to visit any address of a test's own server."""
    visitors: list[Visitor] = []

    def open_at(address: str) -> Visitor:
        visitors.append(Visitor(chromium, address))
        return visitors[-1]

    yield open_at
    for visitor in visitors:
        visitor.leave()
    assert [line for visitor in visitors for line in visitor.complaints] == []


@pytest.fixture
def address(store: Store) -> Iterator[str]:
    """An empty database of the test's own, being served; the test fills it through ``store``."""
    with serving(open_app(store, lambda: NOW, worker_thread=True)) as served:
        yield served


@pytest.fixture
def live(store: Store) -> Iterator[str]:
    """As ``address``, but in real time, as a browser and its Date headers are."""
    with serving(open_app(store, true_now, worker_thread=True)) as served:
        yield served


# ---- the demonstration ---------------------------------------------------------------------


@pytest.fixture
def demo_address(demo_store: Store) -> Iterator[str]:
    """The demonstration being served, its worker at work."""
    with serving(open_app(demo_store, lambda: NOW, demo=True, worker_thread=True)) as address:
        yield address


@pytest.fixture
def visitor(visit: Callable[[str], Visitor], demo_address: str) -> Visitor:
    """Somebody with a browser at the demonstration."""
    return visit(demo_address)
