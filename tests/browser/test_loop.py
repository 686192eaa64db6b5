"""One month of the programme, lived in a real browser by each of the three people."""

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from sqlalchemy import func, select

from service.domain.words import Role
from service.storage.tables.readings import ReadingRow
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.condition.trend import assess_trends
from tests.browser.accessible import violations
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.loop_plant import MovingClock, filled_csv, imported, three_sites, walk_month
from tests.browser.serving import serving
from tests.builders import Plant, build_plant
from tests.doors import open_app, session_of

HOT = "NOR-F01-L2"
FIRST = datetime(2026, 1, 13, 8, 0, tzinfo=UTC)
MISTAKES = {
    "NOR-F01-L1": {"Temperature °C": "forty"},
    "NOR-F01-L3": {"Taken": "31.02.2026 09:00"},
    "NOR-F02-L1": {"Amps A": "-90"},
    "NOR-F02-L2": {"Reason letter": "Z"},
    "NOR-F02-L3": {"Row id": "nobody-knows-this-row"},
}


@pytest.fixture
def clock() -> MovingClock:
    return MovingClock(FIRST - timedelta(days=1))


@pytest.fixture
def loop_address(store: Store, clock: MovingClock) -> Iterator[str]:
    with serving(open_app(store, clock)) as served:
        yield served


def look(page: Page, folder: Path, name: str) -> None:
    """A picture of the screen, and no rule of accessibility broken on it."""
    page.screenshot(path=folder / f"{name}.png", full_page=True)
    found = violations(page)
    assert [f"{name}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in found] == []


def stored(store: Store) -> int:
    with store.look() as unit:
        return unit.session.scalar(select(func.count()).select_from(ReadingRow)) or 0


def test_the_loop_from_an_empty_register_to_a_proven_repair(
    store: Store, clock: MovingClock, loop_address: str, visit: Callable[[str], Visitor], tmp_path: Path
) -> None:
    ensure_presets(store, now=clock.now)
    plant = build_plant(store, sites=0)
    visitor = visit(loop_address)

    def person(role: Role, size: dict[str, int] = DESK) -> Page:
        return visitor.with_session(session_of(store, plant.people[role], clock.now), size=size)

    engineer = person(Role.ENGINEER)
    _bring_register_in(engineer)
    imported(store, plant)
    assert len(plant.point_ids) == 21

    _build_and_issue(engineer, plant, FIRST)
    look(engineer, tmp_path, "engineer-round")

    clock.now = FIRST + timedelta(hours=8)
    technician = person(Role.TECHNICIAN, PHONE)
    _return_with_mistakes_then_mended(technician, store, tmp_path)

    _live_on_until_it_rises(store, clock, plant)
    engineer = person(Role.ENGINEER)
    _decide(engineer, tmp_path, clock)

    clock.now += timedelta(days=20)
    walk_month(store, plant, clock.now - timedelta(hours=9), hot="", hot_k=0.0)
    engineer = person(Role.ENGINEER)
    engineer.goto("/findings/1")
    expect(engineer.locator("main")).to_contain_text("Proven")
    look(engineer, tmp_path, "engineer-finding")

    manager = person(Role.MANAGER)
    manager.goto("/")
    expect(manager.locator("h1")).to_contain_text("Nothing is past its line")
    look(manager, tmp_path, "manager-standing")
    manager.goto("/reports")
    manager.get_by_role("link", name=re.compile("North")).first.click()
    expect(manager.locator("h1")).to_be_visible()
    look(manager, tmp_path, "manager-report")


def _bring_register_in(page: Page) -> None:
    page.goto("/register/import")
    page.locator("input[type=file]").set_input_files(
        {
            "name": "register.xlsx",
            "mimeType": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
            "buffer": three_sites(),
        }
    )
    page.get_by_role("button", name="Look at it").click()
    page.get_by_role("button", name="Store all of it").click()
    page.goto("/equipment")
    for name in ("Northing works", "Easting pumps", "Westing booster"):
        expect(page.locator("main")).to_contain_text(name)


def _build_and_issue(page: Page, plant: Plant, day: datetime) -> None:
    page.goto("/rounds/new")
    page.locator("#field-name").fill("North round")
    page.locator("#field-planned-on").fill(day.date().isoformat())
    page.get_by_label(re.compile("Northing works")).check()
    page.get_by_role("button", name="Make the draft").click()
    page.locator("#field-person-id").select_option(str(plant.people[Role.TECHNICIAN]))
    page.locator("#field-second-person-id").select_option(str(plant.people[Role.ENGINEER]))
    page.get_by_role("button", name="Keep", exact=True).click()
    page.get_by_role("link", name=re.compile("^Issue to")).click()
    page.get_by_role("button", name=re.compile("^Issue")).click()
    expect(page.locator("main")).to_contain_text("ssued")


def _return_with_mistakes_then_mended(page: Page, store: Store, folder: Path) -> None:
    page.goto("/rounds/1/return")
    look(page, folder, "technician-return")
    blank = page.request.get("/rounds/1/file.csv").body()

    def temperature(tag: str) -> float:
        return 43.9 if tag == HOT else 40.0

    wrong = filled_csv(blank, FIRST, temperature=temperature, change=MISTAKES)
    _send(page, wrong)
    problems = page.locator("main").inner_text()
    for found in ("forty", "31.02.2026", "-90", "Z", "nobody-knows-this-row"):
        assert found in problems, f"{found} is not named in:\n{problems}"
    assert stored(store) == 0
    look(page, folder, "technician-mistakes")

    page.goto("/rounds/1/return")
    _send(page, filled_csv(blank, FIRST, temperature=temperature, change={}))
    page.get_by_role("button", name="Store all of it").click()
    expect(page.locator("h1")).to_contain_text("stored")
    expect(page.locator("main")).to_contain_text("Plan repair")
    assert stored(store) == 7
    look(page, folder, "technician-stored")


def _send(page: Page, content: bytes) -> None:
    page.locator("input[type=file]").set_input_files(
        {"name": "north.csv", "mimeType": "text/csv", "buffer": content}
    )
    page.get_by_role("button", name="Look at it").click()


def _live_on_until_it_rises(store: Store, clock: MovingClock, plant: Plant) -> None:
    """Seven more months, each a little hotter, by the same use cases the pages call."""
    assess_trends(store, point_ids=plant.point_ids, now=clock.now)
    for month in range(1, 8):
        at = FIRST + timedelta(days=30 * month)
        walk_month(store, plant, at, hot=HOT, hot_k=3.9 + 0.9 * month)
        clock.now = at + timedelta(hours=12)


def _decide(page: Page, folder: Path, clock: MovingClock) -> None:
    page.goto("/desk")
    expect(page.locator("main")).to_contain_text("Feeder 01")
    look(page, folder, "engineer-desk")
    page.get_by_role("link", name=re.compile("Feeder 01: Line terminal L2")).first.click()
    page.get_by_role("link", name="Its history").click()
    expect(page.locator("main")).to_contain_text(re.compile("rising", re.IGNORECASE))
    look(page, folder, "engineer-point")
    page.get_by_role("link", name="Open a finding").click()
    page.locator("#field-owner-id").select_option(label="Test engineer")
    page.get_by_role("button", name="Open the finding").click()
    expect(page.locator("main")).to_contain_text("Open")
    page.locator("#field-planned-for").fill((clock.now + timedelta(days=3)).date().isoformat())
    page.get_by_role("button", name="Plan it").click()
    expect(page.locator("main")).to_contain_text("Planned")
    clock.now += timedelta(hours=2)
    page.locator("form[action$='/repair'] textarea[name=as_found]").fill("Terminal at 9 N m")
    page.locator("form[action$='/repair'] textarea[name=as_left]").fill("Joint remade, 22 N m")
    page.get_by_role("button", name="Record the repair").click()
    expect(page.locator("main")).to_contain_text("Repaired")
    look(page, folder, "engineer-repaired")
