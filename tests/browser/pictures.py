"""`make pictures`: the pictures of the README, taken from the running demonstration."""

import io
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright
from sqlalchemy import func, select

from seed_data.load import load_demo
from service.domain.words import Role, RoundState, Trend
from service.jobs.worker import Worker
from service.settings import ROOT
from service.storage.engine import open_engine
from service.storage.schema import upgrade
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import PointStateRow
from service.storage.tables.rounds import RoundRow, StopRow
from service.storage.unit import Store
from tests.browser.conftest import ARGUMENTS, DESK, chromium_path
from tests.browser.serving import serving
from tests.doors import COOKIE, open_app, session_of

TARGET = ROOT / "web" / "pictures"
LARGEST = 250_000
COLOURS = 96


def addresses(store: Store) -> dict[str, str]:
    """Where each picture is taken: a point that has been rising for long, a round with many stops."""
    with store.look() as unit:
        rising = (
            select(PointStateRow.point_id)
            .where(PointStateRow.trend == Trend.RISING.value)
            .order_by(PointStateRow.level.desc(), PointStateRow.trend_visits.desc())
        )
        point = unit.session.scalars(rising.limit(1)).one()
        planned = (
            select(RoundRow.id)
            .join(StopRow, StopRow.round_id == RoundRow.id)
            .where(RoundRow.state.in_((RoundState.DRAFT.value, RoundState.ISSUED.value)))
            .group_by(RoundRow.id)
            .order_by(func.count().desc())
        )
        round_id = unit.session.scalars(planned.limit(1)).one()
    return {
        "standing": "/",
        "point": f"/points/{point}",
        "round": f"/rounds/{round_id}/build",
        "desk": "/desk",
    }


def take(page: Page, address: str, target: Path) -> int:
    """One picture of the top of a screen; how many bytes it has."""
    answer = page.goto(address)
    if answer is None or answer.status != 200:
        raise RuntimeError(f"{address} does not open")
    page.wait_for_load_state("networkidle")
    picture = Image.open(io.BytesIO(page.screenshot()))
    picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(target, optimize=True)
    size = target.stat().st_size
    if size > LARGEST:
        raise RuntimeError(f"{target.name} has {size} bytes, more than {LARGEST}")
    return size


def main() -> int:
    path = chromium_path()
    if path is None:
        print("Pictures need a Chromium: install the package chromium.", file=sys.stderr)
        return 1
    TARGET.mkdir(exist_ok=True)
    now = datetime.now(UTC)
    clock: Callable[[], datetime] = lambda: now  # noqa: E731
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/demo.db"
        upgrade(url, migrations=ROOT / "migrations")
        store = Store(open_engine(url))
        load_demo(store, now, say=print)
        Worker(store, clock=clock).work_off()
        with store.look() as unit:
            engineers = select(PersonRow.id).where(PersonRow.role == Role.ENGINEER.value)
            engineer = unit.session.scalars(engineers.limit(1)).one()
        secret = session_of(store, engineer, now)
        with serving(open_app(store, clock, demo=True)) as address, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=path, args=list(ARGUMENTS))
            context = browser.new_context(base_url=address, viewport=DESK, locale="en-GB")  # type: ignore[arg-type]
            context.add_cookies([{"name": COOKIE, "value": secret, "url": address}])
            page = context.new_page()
            for name, place in addresses(store).items():
                print(f"{name}: {place}, {take(page, place, TARGET / f'{name}.png'):,} bytes")
            browser.close()
        store.engine.dispose()
    return 0


if __name__ == "__main__":
    sys.exit(main())
