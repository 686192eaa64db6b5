"""Every screen of Field: nothing for axe to find, every target wide enough for a glove, at 200 % text too."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from service.storage.unit import Store
from tests.browser.accessible import violations
from tests.browser.field_walks import issued_today, opened, phone, take_along
from tests.readings.builders import Issued

pytestmark = pytest.mark.browser
#: what a gloved thumb hits [CSS px]; 44 is WCAG 2.2's enhanced figure (criterion 2.5.5)
LEAST_TARGET = 48

#: visible targets that are smaller than that in height, and too narrow; links within a sentence are none
_SMALL = """(least) => [...document.querySelectorAll("a, button, input, select, summary, textarea")]
  .filter((one) => one.checkVisibility() && !one.closest("p:not(.where, .links, .banner, .call)") && one.type !== "file")
  .map((one) => [one.closest(".box") ?? one, one])
  .map(([box, one]) => [box.getBoundingClientRect(), one])
  .filter(([box]) => box.height < least - 0.5 || box.width < least - 0.5)
  .map(([box, one]) => `${one.tagName} ${one.textContent || one.className} ${Math.round(box.width)}x${Math.round(box.height)}`)
"""


def places_of(page: Page, walk: Issued) -> dict[str, str]:
    """An address of each screen."""
    pack = page.evaluate(f"fetch('/api/v1/rounds/{walk.round_id}/pack').then((answer) => answer.json())")
    stop = pack["stops"][0]
    at = f"#/rounds/{walk.round_id}"
    row = stop["views"][0]["points"][0]["row_uid"]
    return {
        "rounds": "#/",
        "settings": "#/settings",
        "round": at,
        "stop": f"{at}/stops/{stop['id']}",
        "view": f"{at}/stops/{stop['id']}/views/{stop['views'][0]['id']}",
        "tell": f"{at}/tell/{row}",
        "check": f"{at}/check",
        "clock": f"{at}/clock",
        "hot": f"{at}/hot",
        "kept": f"{at}/kept",
    }


def faults_of(page: Page, name: str) -> list[str]:
    found = [f"{name}: {rule['id']} {rule['nodes'][0]['html'][:120]}" for rule in violations(page)]
    wide = page.evaluate("document.documentElement.scrollWidth > innerWidth")
    small = page.evaluate(_SMALL, LEAST_TARGET)
    return [
        *found,
        *(f"{name}: wider than the screen" for _ in range(wide)),
        *(f"{name}: small {one}" for one in small),
    ]


@pytest.mark.parametrize("light", ["light", "dark"])
def test_every_screen_is_accessible_and_made_for_gloves(
    store: Store, chromium: Browser, live: str, tmp_path: Path, light: str
) -> None:
    walk = issued_today(store, boards=1, views=2, bearings=1)
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        page.emulate_media(color_scheme=light)  # type: ignore[arg-type]
        take_along(page)
        faults = []
        for name, place in places_of(page, walk).items():
            opened(page, place)
            page.locator(f"main[data-screen={name}]").wait_for()
            faults += faults_of(page, name)
            if name == "stop":
                page.locator(".steps .go").click()
                page.get_by_label("Air near the part").wait_for()
                faults += faults_of(page, "stop, cautions read")
            if name == "view":
                for text in ("31.0", "70.0", "31.2"):
                    page.keyboard.type(text)
                    page.locator("[data-key=next]").click()
                page.locator("summary").click()
                faults += faults_of(page, "view, typed")
                page.get_by_role("button", name="Can’t read").click()
                faults += faults_of(page, "reasons")
                page.keyboard.press("Escape")
        assert faults == [], "\n".join(faults)


def test_every_screen_holds_at_twice_the_text(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=1, bearings=1)
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        take_along(page)
        faults = []
        for name, place in places_of(page, walk).items():
            opened(page, place)
            page.locator(f"main[data-screen={name}]").wait_for()
            page.evaluate("document.documentElement.style.fontSize = '200%'")
            faults += faults_of(page, f"{name} at 200 %")
        assert faults == [], "\n".join(faults)
