"""How heavy a pack is, and how long a slow phone with no signal takes to its first screen and for a key."""

import gzip
import statistics
import tempfile
from dataclasses import dataclass
from pathlib import Path

import httpx
from playwright.sync_api import BrowserContext, Page, sync_playwright

from service.settings import ROOT
from service.storage.engine import open_engine
from service.storage.schema import upgrade
from service.storage.unit import Store
from tests.browser.conftest import MISSING, chromium_path, true_now
from tests.browser.field_walks import issued_today, offline_at_first_view, phone
from tests.browser.serving import serving
from tests.doors import COOKIE, open_app, session_of
from tests.readings.builders import Issued

BOARDS, VIEWS = 25, 4
#: a phone of the lower middle beside a desk computer
THROTTLE = 4
OPENINGS = 7
KEYS = "31.2" * 10

#: from a key to the frame that shows what it did
_KEY_MS = """async (keys) => {
  const times = [];
  for (const key of keys) {
    const began = performance.now();
    document.querySelector(`[data-key="${key}"]`).click();
    await new Promise((shown) => requestAnimationFrame(() => setTimeout(shown)));
    times.push(performance.now() - began);
    if (document.querySelector(".box.here input").value.length > 3) {
      for (let n = 0; n < 8; n++) document.querySelector('[data-key="back"]').click();
    }
  }
  return times;
}"""


@dataclass(frozen=True)
class Screens:
    """Figures of one run: sizes in kB, times in ms."""

    pack_points: int
    pack_kb: float
    first_screen_ms: float
    key_ms: float
    key_ms_slowest: float


def measure() -> Screens:
    """Take a round of 300 points along, cut the signal, slow the processor down, open and type."""
    path = chromium_path()
    if path is None:
        raise RuntimeError(MISSING)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        url = f"sqlite:///{folder}/riseline.db"
        upgrade(url, migrations=ROOT / "migrations")
        store = Store(open_engine(url))
        walk = issued_today(store, boards=BOARDS, views=VIEWS)
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        with serving(open_app(store, true_now)) as address:
            weight = _weight(store, walk, address)
            with phone(browser, Path(folder) / "phone", address=address, walk=walk) as context:
                first, keys = _offline(context, walk)
        browser.close()
    return Screens(
        pack_points=len(walk.rows),
        pack_kb=round(weight / 1000, 1),
        first_screen_ms=round(first),
        key_ms=round(statistics.median(keys), 1),
        key_ms_slowest=round(max(keys), 1),
    )


def _weight(store: Store, walk: Issued, address: str) -> int:
    secret = session_of(store, walk.technician.person_id or 0, true_now())
    answer = httpx.get(
        f"{address}/api/v1/rounds/{walk.round_id}/pack", cookies={COOKIE: secret}, timeout=60, trust_env=False
    )
    answer.raise_for_status()
    return len(gzip.compress(answer.content, 6))


def _offline(context: BrowserContext, walk: Issued) -> tuple[float, list[float]]:
    page = context.pages[0]
    offline_at_first_view(page, walk)
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": THROTTLE})
    times = [_opening(page) for _ in range(OPENINGS)]
    keys: list[float] = page.evaluate(_KEY_MS, list(KEYS))
    return statistics.median(times), keys


def _opening(page: Page) -> float:
    """From the reload to the first screen that can be typed into [ms]."""
    page.reload()
    page.locator("html[data-ready=yes]").wait_for(state="attached")
    ready: float = page.evaluate("performance.getEntriesByName('ready')[0].startTime")
    return ready
