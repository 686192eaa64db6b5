"""A reading's sheet, and a whole site's emissivity looked at, changed and taken back, in a browser."""

from collections.abc import Callable
from datetime import datetime

from playwright.sync_api import Page, expect
from sqlalchemy import func, select

from service.domain.words import Access, Role
from service.storage.tables.readings import AssessmentRow, ReadingRow, ReevaluationRow
from service.storage.tables.register import EquipmentRow
from service.storage.unit import Store
from tests.browser.accessible import violations
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.doors import session_of
from tests.pages.test_readings import walked
from tests.readings.builders import issue
from tests.rounds.builders import change


def faults(page: Page) -> list[str]:
    """What axe finds, and a page wider than its screen."""
    found = [f"{page.url}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in violations(page)]
    if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
        found.append(f"{page.url}: wider than the screen")
    return found


def test_a_reading_is_laid_out_and_reached_from_its_point(
    store: Store, address: str, visit: Callable[[str], Visitor], now: datetime
) -> None:
    issued = issue(store)
    uid = walked(issued, hot=52.0)
    secret, found = session_of(store, issued.plant.people[Role.ENGINEER], now), []
    for size, dark in ((DESK, False), (PHONE, True)):
        page = visit(address).with_session(secret, size=size, dark=dark)
        page.goto(f"/readings/{uid}")
        found += faults(page)
    assert found == []
    page.goto(f"/points/{issued.rows[0][2]}")
    page.get_by_role("region", name="Visits as a table").get_by_role("link").first.click()
    expect(page.get_by_role("heading", name="What the uncertainty is made of")).to_be_visible()


def test_a_sites_emissivity_is_looked_at_changed_and_taken_back(
    store: Store, address: str, visit: Callable[[str], Visitor], now: datetime
) -> None:
    issued = issue(store)
    walked(issued, hot=46.6)
    page = visit(address).with_session(session_of(store, issued.plant.people[Role.ENGINEER], now))
    page.goto(f"/equipment?site={issued.plant.site_ids[0]}")
    page.get_by_role("link", name="Evaluate again").click()
    found = faults(page)
    page.get_by_label("Emissivity", exact=True).fill("0.6")
    page.get_by_role("button", name="Show what would move").click()
    expect(page.get_by_role("heading", name="Before and after")).to_be_visible()
    found += faults(page)
    assert numbers(store) == (6, 0), "a preview stores nothing"
    page.get_by_label("Why are the figures wrong now?").fill("Contact comparison on all terminals")
    page.get_by_role("button", name="Evaluate again").click()
    expect(page.get_by_role("heading", name="Take it back")).to_be_visible()
    found += faults(page)
    assert numbers(store) == (12, 1)
    page.get_by_label("Why?").fill("Only one terminal was compared")
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("took 1 back")
    page.goto("/reevaluations")
    found += faults(page)
    expect(page.get_by_text("taken back by 2")).to_be_visible()
    assert numbers(store) == (18, 2)
    assert found == []


def numbers(store: Store) -> tuple[int, int]:
    """Assessments ever made, and re-evaluations."""
    with store.look() as unit:
        made = [
            unit.session.scalar(select(func.count()).select_from(table))
            for table in (AssessmentRow, ReevaluationRow)
        ]
    return made[0] or 0, made[1] or 0


def test_a_reading_through_a_window_of_which_nothing_is_said_is_kept_without_a_verdict(
    store: Store, address: str, visit: Callable[[str], Visitor], now: datetime
) -> None:
    issued = issue(store, boards=1, views=1)
    change(store, EquipmentRow, issued.plant.equipment_ids[0], access=Access.WINDOW.value)
    page = visit(address).with_session(session_of(store, issued.plant.people[Role.TECHNICIAN], now))
    page.goto(f"/rounds/{issued.round_id}/return")
    page.locator("a[href*='/return/stops/']").first.click()
    for row, shown in zip(issued.rows, ("52", "44", "44"), strict=False):
        page.locator(f"[name='temperature_c-{row[0]}']").fill(shown)
        page.locator(f"[name='current_a-{row[0]}']").fill("90")
    page.get_by_role("button", name="Keep").first.click()
    page.wait_for_load_state()
    if page.get_by_label("I have looked").count():
        page.get_by_label("I have looked").check()
        page.get_by_role("button", name="Keep").first.click()
        page.wait_for_load_state()
    with store.look() as unit:
        uid = unit.session.scalars(
            select(ReadingRow.uid).where(ReadingRow.point_id == issued.rows[0][2])
        ).one()
    page.goto(f"/readings/{uid}")
    expect(page.get_by_role("heading", level=1)).to_contain_text("no verdict")
    told = "what the window lets through is not known: type what the window lets through"
    expect(page.get_by_text(told).first).to_be_visible()
