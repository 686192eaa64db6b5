"""The editor of criteria in a real browser: from a copy to a choice, and every part of it accessible."""

from collections.abc import Callable
from datetime import datetime

import pytest
from playwright.sync_api import Page, expect

from service.domain.words import Role
from service.storage.unit import Store
from tests.browser.accessible import violations
from tests.browser.conftest import Visitor, seen
from tests.condition.criteria_builders import Sets, lay_sets
from tests.doors import session_of


@pytest.fixture
def sets(store: Store) -> Sets:
    return lay_sets(store, bearings=1)


def faults_of(page: Page) -> list[str]:
    """What axe finds, and whether the page is wider than its screen."""
    found = violations(page)
    faults = [f"{page.url}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in found]
    if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
        faults.append(f"{page.url}: wider than the screen")
    return faults


def expect_refusals(visitor: Visitor, count: int) -> None:
    """A form with a mistake answers 422, which the browser tells its console too."""
    told = [line for line in visitor.complaints if "status of 422" in line]
    assert len(told) == count
    visitor.complaints[:] = [line for line in visitor.complaints if line not in told]


def test_from_a_copy_over_a_mistake_to_a_choice_and_the_next_version(
    sets: Sets, address: str, visit: Callable[[str], Visitor], now: datetime
) -> None:
    visitor = visit(address)
    page = visitor.with_session(session_of(sets.store, sets.plant.people[Role.ENGINEER], now))
    page.goto("/set-up/criteria")
    page.get_by_label("Title").fill("Switchroom rules")
    page.get_by_role("button", name="Make the copy").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Switchroom rules, version 1")

    page.get_by_role("link", name="Numbers", exact=True).click()
    page.get_by_label("Least load that may clear, of the common load").fill("30")
    page.get_by_label("Exponent n of the rise with current").fill("1,7")
    page.get_by_role("button", name="Keep").click()
    problems = page.get_by_role("alert")
    expect(problems).to_contain_text("1 problem. Nothing was stored.")
    problems.get_by_role("link").click()
    box = page.get_by_label("Least load that may clear, of the common load")
    expect(box).to_have_attribute("aria-invalid", "true")
    assert page.evaluate("location.hash") == "#field-min-load-share"
    box.fill("50")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("The set is kept as edited.")).to_be_visible()
    expect_refusals(visitor, 1)

    page.goto("/set-up/criteria")
    page.get_by_label("Criteria of Site 1", exact=True).select_option("Switchroom rules, version 1")
    page.get_by_role("button", name="Choose for Site 1").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Two\u00a0sites are judged by two\u00a0sets")

    page.get_by_role("link", name="Switchroom rules, version 1", exact=True).click()
    page.get_by_role("link", name="Columns", exact=True).click()
    page.get_by_label("Over like parts, edge 1", exact=True).fill("2")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Switchroom rules, version 2")
    page.get_by_role("link", name="Differences to version 1").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("One\u00a0entry differs")
    expect(page.get_by_role("row", name="Over like parts")).to_contain_text("under 2 K")


@pytest.mark.parametrize(("size", "dark"), seen("light desk"))
def test_every_page_of_a_set_fits_and_is_accessible(
    sets: Sets,
    address: str,
    visit: Callable[[str], Visitor],
    now: datetime,
    *,
    size: dict[str, int],
    dark: bool,
) -> None:
    own = sets.own("Switchroom rules", exponent=1.7)
    secret = session_of(sets.store, sets.plant.people[Role.ENGINEER], now)
    visitor = visit(address)
    page = visitor.with_session(secret, size=size, dark=dark)
    faults = []
    base = f"/set-up/criteria/{own.id}"
    parts = [f"{base}/edit/{part}" for part in ("about", "columns", "numbers", "limits", "kinds")]
    for place in ("/set-up/criteria", base, f"{base}/differences", *parts):
        answer = page.goto(place)
        assert answer is not None
        assert answer.status == 200
        faults += faults_of(page)
    page.get_by_label("Kind 1, edge 1", exact=True).fill("much")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("alert")).to_be_visible()
    faults += faults_of(page)
    expect_refusals(visitor, 1)
    assert faults == []
