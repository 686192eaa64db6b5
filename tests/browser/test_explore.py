"""Explore puts the chart library in the drawing's place, and the browser's console has nothing to say of it."""

from collections.abc import Callable
from datetime import datetime

from playwright.sync_api import expect

from service.domain.words import Role
from service.pages.assets import map_styles
from service.storage.unit import Store
from tests.browser.conftest import Visitor
from tests.doors import session_of
from tests.pages.test_readings import walked
from tests.readings.builders import issue


def test_explore_loads_no_style_sheet_that_the_policy_refuses(
    store: Store, address: str, visit: Callable[[str], Visitor], now: datetime
) -> None:
    issued = issue(store)
    walked(issued, hot=46.6)
    page = visit(address).with_session(session_of(store, issued.plant.people[Role.ENGINEER], now))
    page.goto(f"/points/{issued.rows[0][2]}")
    page.get_by_role("button", name="Explore").click()
    expect(page.get_by_role("button", name="Back to the drawing")).to_be_visible(timeout=30_000)
    expect(page.locator(".explorer .main-svg").first).to_be_visible()
    # what the console complained of fails the test where its visitor leaves


def test_the_library_is_known_to_bring_one_sheet_for_maps() -> None:
    assert len(map_styles()) == 1
