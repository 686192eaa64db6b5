"""A note that is spoken with no signal to a photo, a reading or a stop: kept on the phone, sent later, played on pages; no key where nothing records."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from sqlalchemy import select

from service.storage.tables.pictures import PictureRow
from service.storage.tables.returns import SpokenNoteRow
from service.storage.unit import Store
from tests.browser.accessible import violations
from tests.browser.conftest import Visitor, true_now
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
from tests.doors import session_of
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


def spoken(page: Page, key: str, said: str) -> None:
    """A second of a note, from its key until the phone says that it is kept."""
    page.get_by_role("button", name=key, exact=True).click()
    page.get_by_role("timer").get_by_text("1 s").wait_for()
    page.get_by_role("button", name="Keep it").click()
    page.locator(".speak", has_text=said).get_by_text("The spoken note is kept on this device.").wait_for()


#: playing is heard by its end of the file: a whole recording, decoded under our own content policy
_PLAYED = """async (player) => {
  player.muted = true;
  await player.play();
  await new Promise((resolve, reject) => {
    player.addEventListener("error", () => reject(new Error(player.error.message)));
    if (player.currentTime > 0.2) resolve();
    player.addEventListener("timeupdate", () => player.currentTime > 0.2 && resolve());
  });
  return player.currentTime;
}"""


def test_notes_spoken_to_a_reading_and_a_stop_come_in_and_play_on_what_came_back(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=1)
    began = true_now()
    with phone(chromium, tmp_path, address=live, walk=walk, more=MICROPHONE) as context:
        page = context.pages[0]
        offline_at_first_view(page, walk)
        page.locator(".more summary").click()
        spoken(page, "L2: speak a note", "L2: speak a note")
        spoken(page, "L2: speak a note", "2 spoken notes kept.")
        page.locator(".box input").first.focus()
        read_view(page, ["30.1", "30.2", "30.3"])
        spoken(page, "Speak a note", "Speak a note")
        opened(page, f"#/rounds/{walk.round_id}/kept")
        assert page.locator(".kept li", has_text="Spoken note: ").count() == 3
        page.reload()
        page.locator("html[data-ready=yes]").wait_for(state="attached")
        context.set_offline(False)
        all_sent(page)
        page.reload()
        page.locator("html[data-ready=yes]").wait_for(state="attached")
        assert page.locator(".kept li.done", has_text="Spoken note: ").count() == 3
    with store.look() as unit:
        notes = unit.session.scalars(select(SpokenNoteRow).order_by(SpokenNoteRow.id)).all()
    assert [note.point_id for note in notes] == [walk.rows[1][2], walk.rows[1][2], None]
    for note in notes:
        assert note.taken_at is not None
        assert began <= note.taken_at <= note.received_at
    desk = Visitor(chromium, live)
    engineer = desk.with_session(session_of(store, walk.engineer.person_id or 0, true_now()))
    engineer.goto(f"/rounds/{walk.round_id}/reception")
    row = engineer.get_by_role("row").filter(has_text=walk.rows[1][1])
    assert row.locator("audio").count() == 2
    players = engineer.locator("audio")
    assert players.count() == 3
    for place in range(3):
        assert players.nth(place).evaluate(_PLAYED) > 0.2
    faults = violations(engineer)
    for address in (f"/rounds/{walk.round_id}/walked", f"/points/{walk.rows[1][2]}"):
        engineer.goto(address)
        assert engineer.locator("audio").count() > 0
        faults += violations(engineer)
    desk.leave()
    assert (desk.complaints, faults) == ([], [])


def test_a_note_that_is_thrown_away_leaves_nothing_and_says_so(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=1)
    with phone(chromium, tmp_path, address=live, walk=walk, more=MICROPHONE) as context:
        page = context.pages[0]
        offline_at_first_view(page, walk)
        page.locator(".more summary").click()
        page.get_by_role("button", name="L1: speak a note").click()
        page.get_by_role("timer").get_by_text("1 s").wait_for()
        page.get_by_role("button", name="Throw it away").click()
        page.get_by_text("Nothing was kept of the spoken note.").wait_for()
        opened(page, f"#/rounds/{walk.round_id}/kept")
        assert page.locator(".kept li", has_text="Spoken note: ").count() == 0


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
        page.locator(".more summary").click()
        assert page.get_by_role("button", name="speak a note").count() == 0
