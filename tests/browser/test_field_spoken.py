"""A note that is spoken to a photo with no signal: kept on the phone, sent after its photo; no key where nothing records."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from sqlalchemy import select

from service.storage.tables.pictures import PictureRow
from service.storage.unit import Store
from tests.browser.field_walks import (
    all_sent,
    begin_stop,
    go,
    issued_today,
    offline_at_first_view,
    opened,
    phone,
    read_view,
    readings_of,
    take_along,
)
from tests.pictures.builders import encoded

pytestmark = pytest.mark.browser
#: a microphone that hums, and nobody who has to allow it
MICROPHONE = ("--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream")


def photographed(page: Page) -> None:
    """A photo of the view, chosen as the phone's camera would give it."""
    with page.expect_file_chooser() as chosen:
        page.get_by_role("button", name="Photo").click()
    chosen.value.set_files({"name": "P1.jpg", "mimeType": "image/jpeg", "buffer": encoded()})
    page.get_by_text("The photo is kept on this device.").wait_for()


def test_a_note_spoken_with_no_signal_comes_in_with_its_photo(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=1)
    with phone(chromium, tmp_path, address=live, walk=walk, more=MICROPHONE) as context:
        page = context.pages[0]
        offline_at_first_view(page, walk)
        photographed(page)
        page.get_by_role("button", name="Speak a note to it").click()
        page.get_by_role("timer").get_by_text("1 s").wait_for()
        page.get_by_role("button", name="Keep it").click()
        page.get_by_text("The spoken note is kept on this device.").wait_for()
        page.locator(".box input").first.focus()
        read_view(page, ["30.1", "30.2", "30.3"])
        page.reload()
        page.locator("html[data-ready=yes]").wait_for(state="attached")
        context.set_offline(False)
        all_sent(page)
    assert len(readings_of(store, walk.round_id)) == 3
    with store.look() as unit:
        kept = unit.session.scalars(select(PictureRow)).one()
        assert kept.voice_as.endswith(".webm")
        assert kept.row_id is not None


def test_a_device_that_records_nothing_shows_no_key_for_it(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=1)
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        page.add_init_script("delete globalThis.MediaRecorder")
        take_along(page)
        opened(page, f"#/rounds/{walk.round_id}")
        go(page)
        begin_stop(page, "24.0")
        photographed(page)
        assert page.get_by_role("button", name="Speak a note").count() == 0
