"""December planned from nothing in a real browser: drawn up, changed by hand, issued, subscribed to."""

import re
from collections.abc import Callable
from datetime import datetime

import httpx
import pytest
from icalendar import Calendar
from playwright.sync_api import Page

from service.domain.words import Role
from service.storage.unit import Store
from service.usecases.plans import see
from service.usecases.plans.see import PlanPage
from tests.browser.accessible import violations
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.builders import Plant
from tests.doors import session_of
from tests.plans.builders import planning_plant

pytestmark = pytest.mark.browser
Visit = Callable[[str], Visitor]


def plan_of(store: Store, plant: Plant) -> PlanPage:
    (plan,) = see.list_plans(store, plant.actor())
    return see.read_plan(store, plant.actor(), plan.id)


def drawn_up(page: Page) -> None:
    """Wait until the service has drawn it up: the page changes by itself."""
    page.get_by_role("heading", level=2, name="Put off").wait_for()
    page.locator(".plan-working").wait_for(state="detached")


def press(page: Page, name: str) -> None:
    """A button by keyboard alone."""
    page.get_by_role("button", name=name, exact=True).focus()
    page.keyboard.press("Enter")
    page.wait_for_load_state()


def open_walk(page: Page, plan: PlanPage) -> str:
    """The page of a walk with several stops; its key."""
    key = next(walk.key for walk in plan.body.walks if len(walk.stops) > 1)
    page.goto(f"/rounds/plans/{plan.plan.id}/walks/{key}")
    return key


def order(store: Store, plant: Plant, key: str) -> list[int]:
    walk = plan_of(store, plant).body.walk(key)
    assert walk is not None
    return [stop.equipment_id for stop in walk.stops]


def test_december_from_nothing_to_rounds_and_a_calendar(
    store: Store, address: str, visit: Visit, now: datetime
) -> None:
    plant = planning_plant(store)
    page = visit(address).with_session(session_of(store, plant.people[Role.ENGINEER], now))
    page.goto("/rounds?month=2026-12")
    page.get_by_role("link", name="Plan the month").click()
    page.get_by_role("button", name="Draw the plan up").click()
    drawn_up(page)
    assert re.search(r"December 2026 takes \w+ walks?", page.locator("h1").inner_text())

    # drag a stop to another place: the walk is frozen in the new order
    key = open_walk(page, plan_of(store, plant))
    before = order(store, plant, key)
    stops = page.locator("[data-stop][draggable=true]")
    stops.first.wait_for()
    stops.nth(1).drag_to(stops.nth(0), target_position={"x": 60, "y": 4})
    page.get_by_role("button", name="Keep this order").click()
    page.get_by_role("button", name="Let it be planned again").wait_for()
    assert order(store, plant, key) == [before[1], before[0], *before[2:]]

    # pin a stop of it to a time
    page.locator("a.step").first.click()
    page.locator("#field-pinned").fill("09:30")
    page.get_by_role("button", name="Put it there").click()
    page.wait_for_url("**/walks/*")
    pinned = [stop for walk in plan_of(store, plant).body.walks for stop in walk.stops if stop.pinned_min]
    assert [stop.start_min for stop in pinned] == [570.0]

    # a day is lost; its stops fill free time elsewhere
    walked = [walk for walk in plan_of(store, plant).body.walks if walk.stops]
    lost = min(walked, key=lambda walk: (walk.frozen, walk.key)).key
    page.goto(f"/rounds/plans/{plan_of(store, plant).plan.id}/walks/{lost}/lose")
    page.locator("#field-reason").fill("road flooded")
    page.get_by_role("button", name="The day is lost").click()
    drawn_up(page)
    walk = plan_of(store, plant).body.walk(lost)
    assert walk is not None
    assert walk.lost == "road flooded"

    # rounds are made, one is issued, and its walker's calendar has it
    page.get_by_role("button", name="Make the rounds").click()
    page.get_by_text("made:").wait_for()
    made = next(iter(plan_of(store, plant).rounds.values()))
    page.goto(f"/rounds/{made.id}/build")
    page.locator("#field-instrument-id").select_option(index=1)
    page.get_by_role("button", name="Keep", exact=True).click()
    page.goto(f"/rounds/{made.id}")
    page.get_by_role("button", name=re.compile("^Issue")).first.click()
    page.get_by_text("Issued").first.wait_for()
    walker = visit(address).with_session(session_of(store, plant.people[Role.TECHNICIAN], now))
    walker.goto("/set-up/calendar")
    walker.get_by_role("button", name="Make it").click()
    feed = walker.locator("code.secret").inner_text()
    path = feed[feed.index("/calendar/") :]
    calendar = Calendar.from_ical(httpx.get(f"{address}{path}").text)
    events = {str(event["SUMMARY"]): str(event["STATUS"]) for event in calendar.walk("VEVENT")}
    assert any(made.code in summary and status == "CONFIRMED" for summary, status in events.items())


def test_a_plan_is_changed_by_keyboard_alone(store: Store, address: str, visit: Visit, now: datetime) -> None:
    plant = planning_plant(store)
    page = visit(address).with_session(session_of(store, plant.people[Role.ENGINEER], now))
    page.goto("/rounds/plans/new")
    press(page, "Draw the plan up")
    drawn_up(page)
    key = open_walk(page, plan_of(store, plant))
    before = order(store, plant, key)
    page.locator("[data-stop][draggable=true]").first.wait_for()
    page.locator(".handle").first.focus()
    page.keyboard.press("Alt+ArrowDown")
    press(page, "Keep this order")
    page.get_by_role("button", name="Let it be planned again").wait_for()
    assert order(store, plant, key) == [before[1], before[0], *before[2:]]
    page.goto(f"/rounds/plans/{plan_of(store, plant).plan.id}")
    press(page, "Undo")
    page.get_by_text("One step back.").wait_for()
    assert order(store, plant, key) == before
    press(page, "Redo")
    page.get_by_text("One step on.").wait_for()
    assert order(store, plant, key) == [before[1], before[0], *before[2:]]


@pytest.mark.parametrize(("size", "dark"), [(DESK, False), (PHONE, True)], ids=["light desk", "dark phone"])
def test_the_pages_of_a_plan_fit_and_are_accessible(
    store: Store, address: str, visit: Visit, now: datetime, *, dark: bool, size: dict[str, int]
) -> None:
    plant = planning_plant(store)
    page = visit(address).with_session(
        session_of(store, plant.people[Role.ENGINEER], now), size=size, dark=dark
    )
    page.goto("/rounds/plans/new")
    page.get_by_role("button", name="Draw the plan up").click()
    drawn_up(page)
    plan = plan_of(store, plant)
    key = next(walk.key for walk in plan.body.walks if walk.stops)
    base = f"/rounds/plans/{plan.plan.id}"
    faults = []
    paths = ("", "/risk", f"/walks/{key}", f"/walks/{key}/lose", f"/place/{plant.equipment_ids[0]}")
    for path in [*(f"{base}{path}" for path in paths), f"{base}/compare?before=1&after=2"]:
        page.goto(path)
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            faults.append(f"{path}: wider than the screen")
        found = violations(page)
        faults += [f"{path}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in found]
    assert faults == []
