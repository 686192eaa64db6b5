"""A raster in a real browser: drawn on by mouse and by keys, without script by numbers, readable by everybody."""

from collections.abc import Callable
from datetime import datetime

import pytest
from playwright.sync_api import Locator, Page, expect

from service.domain.rasters import Region
from service.domain.words import Role
from service.storage.unit import Store
from service.usecases.rasters.see import see_raster
from tests.browser.accessible import violations
from tests.browser.conftest import Visitor, seen
from tests.doors import session_of
from tests.rasters.builders import COOL, Brought, returned

pytestmark = pytest.mark.browser
Visit = Callable[[str], Visitor]
#: rows and columns of the raster
ROWS, COLUMNS = 240, 320


@pytest.fixture
def brought(store: Store) -> Brought:
    return returned(store)


def opened(brought: Brought, visit: Visit, address: str, now: datetime, **page: object) -> tuple[Page, str]:
    """The page of a new raster in the technician's browser, and the raster's uid."""
    uid = brought.bring().uid
    secret = session_of(brought.store, brought.issued.plant.people[Role.TECHNICIAN], now)
    opening = visit(address).with_session(secret, **page)
    opening.goto(f"/rasters/{uid}")
    return opening, uid


def regions(brought: Brought, uid: str) -> tuple[Region, ...]:
    return see_raster(brought.store, brought.engineer, uid).regions


def places(brought: Brought, uid: str) -> list[tuple[int, int, int, int]]:
    return [(r.row_from, r.column_from, r.row_to, r.column_to) for r in regions(brought, uid)]


def stored(page: Page) -> None:
    expect(page.get_by_role("status").filter(has_text="is stored")).to_be_visible()


def overlay(page: Page) -> Locator:
    """The drawing over the picture, once its script is at work."""
    found = page.locator(".raster-overlay.live")
    found.wait_for()
    return found


def drag(page: Page, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Press at the middle of one pixel (row, column), draw on to another, let go."""
    overlay(page).scroll_into_view_if_needed()
    box = overlay(page).bounding_box()
    assert box is not None
    points = [
        (box["x"] + (column + 0.5) / COLUMNS * box["width"], box["y"] + (row + 0.5) / ROWS * box["height"])
        for row, column in (start, end)
    ]
    page.mouse.move(*points[0])
    page.mouse.down()
    page.mouse.move(*points[1], steps=4)
    page.mouse.up()


def test_a_box_and_a_spot_are_drawn_by_mouse(
    brought: Brought, address: str, visit: Visit, now: datetime
) -> None:
    page, uid = opened(brought, visit, address, now)
    drag(page, (100, 80), (105, 87))
    expect(page.locator("[data-figures]")).to_contain_text("3×3 about the hottest 60.")
    page.locator("#field-name").fill("Clamp")
    page.get_by_role("button", name="Store it").click()
    stored(page)
    assert places(brought, uid) == [(100, 80, 106, 88)]
    assert regions(brought, uid)[0].figures.mean_c == pytest.approx(60, abs=0.1)
    page.get_by_label("Spot").check()
    drag(page, (103, 204), (103, 206))
    page.keyboard.press("Enter")
    stored(page)
    spot = regions(brought, uid)[1]
    assert (spot.shape, spot.row_from, spot.column_from, spot.radius_px) == ("spot", 103, 204, 2.0)


def test_a_region_is_moved_by_mouse_and_takes_the_old_ones_place(
    brought: Brought, address: str, visit: Visit, now: datetime
) -> None:
    page, uid = opened(brought, visit, address, now)
    old = brought.draw(see_raster(brought.store, brought.engineer, uid).raster, COOL, name="Clamp")
    page.reload()
    drag(page, (102, 204), (102, 204))
    expect(page.get_by_role("heading", name="Change Clamp")).to_be_visible()
    drag(page, (102, 204), (92, 164))
    page.get_by_role("button", name="Store it").click()
    stored(page)
    assert places(brought, uid) == [(90, 160, 96, 168)]
    assert regions(brought, uid)[0].id != old.id
    assert regions(brought, uid)[0].name == "Clamp"


def test_everything_is_done_by_keys_alone(
    brought: Brought, address: str, visit: Visit, now: datetime
) -> None:
    page, uid = opened(brought, visit, address, now)
    overlay(page).focus()
    keys = page.keyboard
    keys.press("ArrowUp")  # a new box of 48 pixels a side lies in the middle: rows 96, columns 136
    keys.press("ArrowLeft")
    for _ in range(3):
        keys.press("Shift+ArrowDown")
        keys.press("Shift+ArrowLeft")
    keys.press("Tab")
    assert page.evaluate("document.activeElement.hasAttribute('data-draft')"), "the new box comes next"
    keys.press("ArrowUp")
    keys.press("Enter")
    stored(page)
    assert places(brought, uid) == [(94, 135, 145, 180)]
    overlay(page).focus()
    keys.press("Tab")
    assert page.evaluate("document.activeElement.dataset.name") == "Box 1"
    keys.press("ArrowRight")
    expect(page.locator("#field-column")).to_have_value("136")
    keys.press("Escape")
    expect(page.locator("#field-name")).to_have_value("")
    expect(page.locator("[data-draft]")).to_be_hidden()
    assert places(brought, uid) == [(94, 135, 145, 180)], "Escape has undone the step"
    keys.press("ArrowDown")
    keys.press("Enter")
    stored(page)
    assert places(brought, uid) == [(95, 135, 146, 180)]


def test_a_region_stays_on_the_picture_however_often_a_key_is_pressed(
    brought: Brought, address: str, visit: Visit, now: datetime
) -> None:
    page, uid = opened(brought, visit, address, now)
    overlay(page).focus()
    for _ in range(100):
        page.keyboard.press("ArrowUp")
    for _ in range(60):
        page.keyboard.press("Shift+ArrowUp")
    expect(page.locator("#field-row")).to_have_value("0")
    expect(page.locator("#field-rows")).to_have_value("3")
    page.keyboard.press("Enter")
    stored(page)
    assert places(brought, uid)[0][::2] == (0, 3)


def test_numbers_alone_do_it_where_no_script_runs(
    brought: Brought, address: str, visit: Visit, now: datetime
) -> None:
    page, uid = opened(brought, visit, address, now, java_script_enabled=False)
    expect(page.locator(".raster-picture")).to_be_visible()
    for name, value in (("row", 100), ("column", 80), ("rows", 6), ("columns", 8)):
        page.locator(f"#field-{name}").fill(str(value))
    page.get_by_role("button", name="Store it").click()
    stored(page)
    page.get_by_role("link", name="Change").click()
    page.locator("#field-rows").fill("9")
    page.get_by_role("button", name="Store the change").click()
    stored(page)
    assert places(brought, uid) == [(100, 80, 109, 88)]


@pytest.mark.parametrize(("size", "dark"), seen("light desk"))
def test_the_pages_fit_and_are_accessible(
    brought: Brought, address: str, visit: Visit, now: datetime, *, dark: bool, size: dict[str, int]
) -> None:
    page, uid = opened(brought, visit, address, now, dark=dark, size=size)
    raster = see_raster(brought.store, brought.engineer, uid).raster
    hot, cool = brought.draw(raster, name="Clamp"), brought.draw(raster, COOL)
    views = ("", f"?over={cool.id}&line=50", f"?change={hot.id}")
    faults = []
    for path in [f"/rasters/{uid}{view}" for view in views] + [f"/readings/{brought.reading.uid}/rasters"]:
        page.goto(path)
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            faults.append(f"{path}: wider than the screen")
        found = violations(page)
        faults += [f"{path}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in found]
    assert faults == []
