"""Rounds in a real browser: the order by keyboard and by mouse, the pages, the printed sheets."""

import re
from collections.abc import Callable
from datetime import datetime

import pytest

from service.domain.words import Role
from service.storage import rounds
from service.storage.tables.register import SiteRow
from service.storage.unit import Store
from service.usecases.rounds.issue import issue_round
from service.usecases.rounds.mark_returned import mark_returned
from tests.browser.accessible import violations
from tests.browser.conftest import Visitor, seen
from tests.doors import session_of
from tests.rounds.builders import NOW, Walk, change, cover, draft, issued

pytestmark = pytest.mark.browser
Visit = Callable[[str], Visitor]


def order(walk: Walk) -> list[int]:
    with walk.store.look() as unit:
        return [stop.equipment_id for stop in rounds.stops_of(unit, walk.round.id)]


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_stops_are_reordered_by_keyboard_drag_and_plain_buttons(
    store: Store, address: str, visit: Visit, now: datetime, *, script: bool
) -> None:
    walk = draft(store, boards=3)
    a, b, c = walk.plant.equipment_ids
    secret = session_of(store, walk.plant.people[Role.ENGINEER], now)
    page = visit(address).with_session(secret, java_script_enabled=script)
    page.goto(f"/rounds/{walk.round.id}/build")
    if script:
        page.locator("[data-stop][draggable=true]").first.wait_for()  # the script has begun
        page.locator(".handle").first.focus()
        page.keyboard.press("Alt+ArrowDown")
        assert page.locator("[data-order-note]").is_visible()
        page.get_by_role("button", name="Keep this order").click()
    else:
        page.get_by_role("button", name="Move Board 1 down").click()
    page.get_by_role("status").wait_for() if script else page.wait_for_load_state()
    assert order(walk) == [b, a, c]
    if script:
        stops = page.locator("[data-stop][draggable=true]")
        stops.first.wait_for()
        stops.nth(2).drag_to(stops.nth(0), target_position={"x": 60, "y": 4})
        page.get_by_role("button", name="Keep this order").click()
        page.wait_for_load_state()
        assert order(walk) == [c, b, a]


@pytest.mark.parametrize(("size", "dark"), seen("dark phone"))
def test_the_pages_of_a_round_fit_and_are_accessible(
    store: Store, address: str, visit: Visit, now: datetime, *, dark: bool, size: dict[str, int]
) -> None:
    walk = issued(store, boards=2, bearings=1)
    plan = draft(store, plant=walk.plant)
    cover(store, walk.plant.equipment_ids[0])
    with store.begin() as unit:
        mark_returned(unit, walk.technician(), walk.round.id, NOW)
    secret = session_of(store, walk.plant.people[Role.ENGINEER], now)
    page = visit(address).with_session(secret, size=size, dark=dark)
    faults = []
    pages = ("", "/build", "/go", "/sheets", "/permits/new", "/sign-off")
    for path in [f"/rounds/{one.round.id}{path}" for one in (walk, plan) for path in pages]:
        answer = page.goto(path)
        assert answer is not None
        if answer.status != 200:
            faults.append(f"{path}: {answer.status}")
            continue
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            faults.append(f"{path}: wider than the screen")
        found = violations(page)
        faults += [f"{path}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in found]
    assert faults == []


def test_every_sheet_is_one_page_of_a4(store: Store, address: str, visit: Visit, now: datetime) -> None:
    walk = draft(store, boards=2, views=14, bearings=2)
    change(store, SiteRow, walk.plant.site_ids[0], safety_text="The crane is parked and locked first. " * 12)
    issue_round(store, walk.engineer, walk.round.id, version=walk.round.version, now=NOW)
    cover(store, walk.plant.equipment_ids[0])
    secret = session_of(store, walk.plant.people[Role.TECHNICIAN], now)
    page = visit(address).with_session(secret)
    page.goto(f"/rounds/{walk.round.id}/sheets")
    sheets = page.locator(".sheet").count()
    printed = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type /Page\b", printed)) == sheets > 4
    page.emulate_media(media="print")
    box = page.locator(".sheet-table .box").first.bounding_box()
    assert box is not None
    assert (box["width"], box["height"]) == (60, 30)
    colours = page.evaluate(
        "[...new Set([...document.querySelectorAll('.sheet *')].map(e => getComputedStyle(e).color))]"
    )
    assert all(len(set(re.findall(r"\d+", colour)[:3])) == 1 for colour in colours), colours
