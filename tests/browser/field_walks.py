"""A round walked in Field as a technician does it: by keys, offline, on a phone that may be closed."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page
from sqlalchemy import select

from service.domain.words import Role
from service.storage.tables.readings import ReadingRow
from service.storage.unit import Store
from tests.browser.conftest import ARGUMENTS, PHONE, chromium_path, true_now
from tests.doors import COOKIE, session_of
from tests.readings.builders import Issued, issue


def issued_today(store: Store, **kinds: int) -> Issued:
    """A round of today, given to the technician."""
    return issue(store, walked_at=true_now(), **kinds)


@contextmanager
def phone(
    browser: Browser,
    folder: Path,
    *,
    address: str,
    walk: Issued,
    role: Role = Role.TECHNICIAN,
    more: tuple[str, ...] = (),
) -> Iterator[BrowserContext]:
    """A phone with its own storage on the disk: closing it loses nothing but the screen.

    ``more`` are switches of its browser, such as those that stand in for a microphone.
    """
    context = browser.browser_type.launch_persistent_context(
        folder,
        executable_path=chromium_path(),
        args=[*ARGUMENTS, *more],
        base_url=address,
        viewport=PHONE,  # type: ignore[arg-type]
        has_touch=True,
        locale="en-GB",
        timezone_id="Europe/London",
    )
    context.set_default_timeout(60_000)
    secret = session_of(walk.store, walk.plant.people[role], true_now())
    context.add_cookies([{"name": COOKIE, "value": secret, "url": address}])
    asked: set[str] = set()
    context.on("request", lambda request: asked.add(request.url))
    try:
        yield context
    finally:
        context.close()
    elsewhere = {url for url in asked if not url.startswith((f"{address}/", "blob:", "data:"))}
    assert elsewhere == set(), "Field asks nobody but its own service"


def opened(page: Page, place: str = "") -> Page:
    """Field at a place, ready for keys."""
    page.goto(f"/field/{place}")
    page.locator("html[data-ready=yes]").wait_for(state="attached")
    if place:  # within the app nothing is loaded anew, so that it was ready before it is there
        page.locator(f'main[data-address="{place}"]').wait_for()
    return page


def take_along(page: Page) -> None:
    """The only round offered, onto the phone, with the app itself."""
    opened(page)
    page.get_by_role("button", name="Take along").click()
    page.get_by_role("link", name="Open", exact=True).wait_for()
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("navigator.serviceWorker.controller !== null")


def go(page: Page) -> None:
    """The one thing to do next, until its screen is there."""
    before = page.locator("main").get_attribute("data-address")
    page.locator(".steps .go").click()
    page.locator(f'main:not([data-address="{before}"])').wait_for()


def begin_stop(page: Page, air_c: str) -> None:
    """From the stops or the end of the stop before: its cautions, what holds for all of it, its first view."""
    page.locator("main[data-screen=stop]").wait_for()
    if page.locator(".cautions[open]").count():
        page.locator(".steps .go").click()
        page.locator(".cautions:not([open])").wait_for()
    page.get_by_label("Air near the part").fill(air_c)
    go(page)
    page.locator("main[data-screen=view]").wait_for()


def offline_at_first_view(page: Page, walk: Issued, *, air: str = "24.0") -> None:
    """The round taken along, the signal cut, and the round's first view open."""
    take_along(page)
    page.context.set_offline(True)
    opened(page, f"#/rounds/{walk.round_id}")
    go(page)
    begin_stop(page, air)


def read_view(page: Page, temperatures: list[str]) -> None:
    """Type what the instrument shows, box by box, then go on whatever is asked."""
    for text in temperatures:
        page.keyboard.type(text)
        page.locator("[data-key=next]").click()
    before = page.locator("main").get_attribute("data-address")
    moved_on = page.locator(f'main:not([data-address="{before}"])')
    page.locator(".steps .go").click()
    walk_on = page.get_by_role("button", name="Walk on")
    walk_on.or_(moved_on).first.wait_for()
    if walk_on.count():
        walk_on.click()
        moved_on.wait_for()


#: what the phone keeps of a round, asked of its own database
_KEEPS = """async ([round, text]) => {
  const done = (asked) => new Promise((resolve, reject) => {
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  const database = await done(indexedDB.open("riseline-field"));
  const drafts = await done(database.transaction("drafts").objectStore("drafts").getAll());
  database.close();
  return JSON.stringify(drafts.filter((draft) => draft.roundId === round)).includes(text);
}"""


def kept(page: Page, walk: Issued, text: str) -> None:
    """Wait until the phone has written something typed to its disk."""
    page.wait_for_function(_KEEPS, arg=[walk.round_id, text])


def readings_of(store: Store, round_id: int) -> list[ReadingRow]:
    """Every reading that is stored of a round."""
    with store.look() as unit:
        return list(unit.session.scalars(select(ReadingRow).where(ReadingRow.round_id == round_id)))


#: signal comes back again and again, so that nobody waits out the pauses between tries
_SIGNAL = """() => {
  dispatchEvent(new Event("online"));
  return document.querySelector("#banner").textContent.includes("everything is on the server");
}"""


def all_sent(page: Page) -> None:
    """Let signal come back until nothing is kept back on the phone."""
    page.wait_for_function(_SIGNAL, polling=250, timeout=120_000)
