"""The emissivity table, the form of a point and what holds for a round, in a real browser."""

import os
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from playwright.sync_api import Page, expect

from service.domain.words import Role
from service.storage.unit import Store
from tests.browser.accessible import violations
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.builders import build_plant
from tests.doors import session_of
from tests.rounds.builders import draft


def faults_of(page: Page) -> list[str]:
    """What axe finds, and whether the page is wider than its screen."""
    found = violations(page)
    faults = [f"{page.url}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in found]
    if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
        faults.append(f"{page.url}: wider than the screen")
    return faults


def look(page: Page, name: str) -> None:
    """Keep a picture where somebody asked for pictures."""
    folder = os.environ.get("RISELINE_TEST_PICTURES")
    if folder:
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)


def test_tables_and_forms_are_accessible_and_a_chosen_surface_sets_its_number(
    store: Store, address: str, visit: Callable[[str], Visitor], now: datetime
) -> None:
    plant = build_plant(store, views=1)
    walk = draft(store, plant=plant)
    session = session_of(store, plant.people[Role.ENGINEER], now)
    at = visit(address)
    point = f"/register/point/{plant.point_ids[0]}/edit"
    faults = []
    for name, size, dark in (("desk", DESK, False), ("phone", PHONE, True)):
        page = at.with_session(session, size=size, dark=dark)
        page.set_default_timeout(60_000)  # the first page of a service just begun
        for what, path in (
            ("table", "/set-up/emissivities"),
            ("point", point),
            ("round", f"/rounds/{walk.round.id}"),
            ("loads", f"/common-loads?site={plant.site_ids[0]}"),
            ("load", f"/points/{plant.point_ids[0]}/common-load"),
        ):
            page.goto(path)
            if what == "round":
                page.get_by_text("Say what holds", exact=True).click()
            look(page, f"{what}-{name}")
            faults += faults_of(page)
    assert faults == []

    page = at.with_session(session, java_script_enabled=False)
    page.set_default_timeout(60_000)
    page.goto(point)
    page.get_by_label("Surface in the emissivity table").select_option("oxidised-copper")
    page.get_by_label("Emissivity", exact=True).fill("")
    page.get_by_role("button", name="Keep").click()
    page.goto(point)
    expect(page.get_by_label("Emissivity", exact=True)).to_have_value("0.65")
    expect(page.get_by_label("Emissivity, give or take")).to_have_value("0.1")
    expect(page.get_by_label("The number is")).to_have_value("table")
