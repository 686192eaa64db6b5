"""R10, the phone keeps what was typed: killed browsers, full storage, ended sessions, updates of the app."""

import os
import re
import signal
import subprocess
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from queue import SimpleQueue
from random import Random
from typing import IO, Any

import pytest
from playwright.sync_api import Browser, Page

from service.domain.words import Role
from service.storage.unit import Store
from tests.browser.conftest import ARGUMENTS, engine_path
from tests.browser.conftest import chromium as chromium
from tests.browser.serving import serving
from tests.conftest import NOW
from tests.doors import COOKIE, open_app, session_of
from tests.field.faulty_line import Line, listening
from tests.readings.builders import Issued, issue

SEED = 20_261_128
_LISTENS = re.compile(rb"DevTools listening on ws://([\d.:]+)/")
#: What was typed longer ago than this must be there [s].
KEPT_AFTER_S = 0.25
#: The store at its first version, as the app of then made it.
FIRST_VERSION = """async () => {
  const asked = indexedDB.open("older", 1);
  asked.onupgradeneeded = () => {
    const made = asked.result;
    made.createObjectStore("packs", { keyPath: "round.id" });
    made.createObjectStore("drafts", { keyPath: ["roundId", "key"] });
    made.createObjectStore("sends", { keyPath: "seq", autoIncrement: true }).createIndex("uid", "uid", { unique: true });
    made.createObjectStore("meta");
  };
  const database = await new Promise((done) => { asked.onsuccess = () => done(asked.result); });
  const writing = database.transaction(["sends", "drafts"], "readwrite");
  writing.objectStore("sends").add({ uid: "reading-of-before", kind: "reading", roundId: 7, personId: 1 });
  writing.objectStore("drafts").put({ roundId: 7, key: "view 1", value: "61.5" });
  await new Promise((done) => { writing.oncomplete = done; });
  // an old tab stays open, as phones have it
  database.onversionchange = () => database.close();
}"""


@pytest.fixture
def line() -> Iterator[tuple[Line, str]]:
    made = Line(9, Random(SEED))  # nothing of the service is asked here
    with listening(made) as address:
        yield made, address


@pytest.fixture
def page(chromium: Browser, line: tuple[Line, str]) -> Iterator[Page]:
    context = chromium.new_context(base_url=line[1])
    opened = context.new_page()
    opened.goto("/harness")
    opened.wait_for_function("window.ready === true")
    yield opened
    context.close()


def test_an_update_of_the_app_keeps_queue_and_drafts(page: Page) -> None:
    page.evaluate(FIRST_VERSION)
    kept = page.evaluate(
        """async () => {
          const store = await openStore("older");
          return [(await store.sends()).map((send) => send.uid), await store.draft(7, "view 1"), await store.receipts()];
        }"""
    )
    assert kept == [["reading-of-before"], "61.5", []]


def test_a_full_device_refuses_photos_says_so_and_keeps_numbers(page: Page, line: tuple[Line, str]) -> None:
    page.context.new_cdp_session(page).send(
        "Storage.overrideQuotaForOrigin", {"origin": line[1], "quotaSize": 4 * 2**20}
    )
    told = page.evaluate(
        """async () => {
          const store = await openStore("full");
          const send = (kind, uid, more) => ({ uid, kind, roundId: 7, personId: 1, path: "/", madeAt: "", deviceTime: "", label: kind, ...more });
          let refused = null;
          const photos = [];
          for (let number = 0; number < 20 && !refused; number += 1) {
            // noise, so that nothing packs it away
            const bytes = new Uint8Array(500_000);
            for (let at = 0; at < bytes.length; at += 65_536) crypto.getRandomValues(bytes.subarray(at, at + 65_536));
            try { photos.push((await store.put(send("picture", `photo-${number}`, { blob: new Blob([bytes]) }))).uid); }
            catch (error) { refused = [error.name, error.message]; }
          }
          for (let number = 0; number < 60; number += 1) await store.put(send("reading", `reading-${number}`, { body: { temperature_c: number } }));
          await store.keepDraft(7, "view 1", "61.5");
          const kept = await store.sends();
          return { refused, photos, kept: kept.map((one) => one.uid), draft: await store.draft(7, "view 1") };
        }"""
    )
    assert told["refused"] == ["NoRoom", "No room for photos on this device. Numbers are still kept."]
    assert told["photos"]
    assert told["kept"] == [*told["photos"], *(f"reading-{number}" for number in range(60))]
    assert told["draft"] == "61.5"


def test_a_pack_is_not_dropped_while_something_of_its_round_waits(page: Page) -> None:
    told = page.evaluate(
        """async () => {
          const store = await openStore("packs");
          await store.keepPack({ round: { id: 7 }, format: 1 });
          await store.put({ uid: "reading-1", kind: "reading", roundId: 7, personId: 1, path: "/", madeAt: "", deviceTime: "", label: "", body: {} });
          const held = await store.dropPack(7);
          const [send] = await store.sends();
          await store.acknowledged(send, {}, "");
          return [held, await store.dropPack(7), await store.packs()];
        }"""
    )
    assert told == [False, True, []]


def test_the_offset_of_the_clock_is_the_answer_less_half_the_way(page: Page) -> None:
    # worked by hand: left 10:00:00.000, came 10:00:00.400, Date 09:59:00 → 60.2 s less half a second
    assert page.evaluate(
        "measured({ left: Date.UTC(2026, 0, 5, 10), came: Date.UTC(2026, 0, 5, 10) + 400 }, 'Mon, 05 Jan 2026 09:59:00 GMT')"
    ) == pytest.approx(59.7)
    assert page.evaluate("measured({ left: 0, came: 1 }, null)") is None


@pytest.mark.parametrize(
    ("shown", "then", "today", "belongs"),
    [
        ("2026-01-05T12:00:00Z", 7200, 7200, 7200),
        # wrong when it was typed, put right before it was sent
        ("2026-01-06T12:00:00Z", 93600, 0, 93600),
        # right when the pack was taken, failed before it was typed
        ("1970-01-01T00:01:00Z", 0, -1767607140, -1767607140),
        ("2026-01-05T10:05:00Z", None, 12, 12),
    ],
)
def test_a_send_has_the_offset_of_when_it_was_typed(
    page: Page, shown: str, then: float | None, today: float, belongs: float
) -> None:
    send = {"deviceTime": shown, "clockThen": {"skewS": then, "metAt": "2026-01-05T09:00:00Z"}}
    # it is 12:00 by the server's clock
    now = 1767614400000 + 1000 * today
    assert page.evaluate("([send, today, now]) => offsetOf(send, today, now)", [send, today, now]) == belongs


# ---- sessions ------------------------------------------------------------------------------


def _send(issued: Issued, person_id: int, place: int) -> dict[str, Any]:
    uid, at = str(uuid.uuid4()), issued.walked_at.isoformat()
    return {
        "uid": uid, "kind": "reading", "roundId": issued.round_id, "personId": person_id, "label": "", "madeAt": at,
        "path": f"/api/v1/rounds/{issued.round_id}/readings/{uid}", "deviceTime": at,
        "body": {"row_uid": issued.rows[place][0], "temperature_c": 40.0 + place, "current_a": 90.0},
    }  # fmt: skip


def test_without_a_session_the_queue_stays_and_goes_when_its_person_is_back(
    store: Store, chromium: Browser
) -> None:
    issued = issue(store, day=NOW.date())
    technician, engineer = (issued.plant.people[role] for role in (Role.TECHNICIAN, Role.ENGINEER))
    sends = [_send(issued, technician, place) for place in range(3)]
    with serving(open_app(store, lambda: NOW)) as service:
        line = Line(int(service.rpartition(":")[2]), Random(SEED))
        with listening(line) as address:
            context = chromium.new_context(base_url=address)
            page = context.new_page()
            page.goto("/harness")
            page.wait_for_function("window.ready === true")
            page.evaluate("(begun) => begin(begun, 60000)", {"name": "q", "personId": technician, "seed": 1})
            page.evaluate("(sends) => type(sends, [], 1)", sends)
            told = "async () => { await running.sync.now(); return running.sync.state(); }"
            for secret in ("", "expired-secret", session_of(store, engineer, NOW)):
                if secret:
                    context.add_cookies([{"name": COOKIE, "value": secret, "url": address}])
                state = page.evaluate(told)
                assert (state["waiting"], state["signedOut"]) == (3, True), secret
            context.add_cookies(
                [{"name": COOKIE, "value": session_of(store, technician, NOW), "url": address}]
            )
            state = page.evaluate(told)
            assert (state["waiting"], state["signedOut"], state["problems"]) == (0, False, [])
            others = page.evaluate(
                """async (engineer) => {
                  const [send] = [{ uid: "of-another-1", kind: "reading", roundId: 1, personId: engineer, path: "/", madeAt: "", deviceTime: "", label: "", body: {} }];
                  await running.store.put(send);
                  await running.sync.now();
                  return running.sync.state();
                }""",
                engineer,
            )
            assert (others["waiting"], others["others"]) == (0, 1)
            context.close()


# ---- killed browsers -----------------------------------------------------------------------


@contextmanager
def browser_process(folder: Path) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    """A Chromium of our own on a profile that outlives it, and where it listens."""
    path = engine_path()
    assert path is not None
    process = subprocess.Popen(
        [path, *ARGUMENTS, "--headless=new", "--remote-debugging-port=0", f"--user-data-dir={folder}", "about:blank"],
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip
    assert process.stderr is not None
    doors: SimpleQueue[str] = SimpleQueue()
    listener = threading.Thread(target=_tell_door, args=(process.stderr, doors))
    listener.start()
    try:
        yield process, doors.get(timeout=60)
    finally:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        listener.join()
        process.stderr.close()


def _tell_door(said: IO[bytes], doors: SimpleQueue[str]) -> None:
    """Where it listens, as it says itself; all else that it says is read and thrown away."""
    for line in said:
        if found := _LISTENS.search(line):
            doors.put(f"http://{found[1].decode()}")


TYPING = """async () => {
  const store = await openStore("typing");
  const begun = ((await store.draft(7, "view 1")) ?? { keys: 0 }).keys;
  for (let keys = begun + 1; ; keys += 1) {
    void fetch(`/typed/${keys}`).catch(() => undefined);
    KEEP
    await new Promise((go) => setTimeout(go, 20));
  }
}"""


KEEP = 'await store.keepDraft(7, "view 1", { keys, text: "7".repeat(keys % 40) });'
#: The broken twin writes when the fingers have rested for a second.
LAZY = f"const typed = keys; setTimeout(async () => {{ {KEEP.replace('keys,', 'keys: typed,')} }}, 1000);"


def keys_lost(browser: Browser, folder: Path, kills: int, draw: Random, *, keep: str = KEEP) -> int:
    """Type, kill the whole browser at a random instant, open it again and look: keys lost that are old enough."""
    lost = 0
    line = Line(9, draw)
    with listening(line) as address:
        killed_at = None
        for kill in range(kills + 1):
            with browser_process(folder) as (process, door):
                opened = browser.browser_type.connect_over_cdp(door)
                page = opened.contexts[0].new_page()
                page.goto(f"{address}/harness")
                page.wait_for_function("window.ready === true")
                if killed_at is not None:
                    there = page.evaluate(
                        "async () => ((await (await openStore('typing')).draft(7, 'view 1')) ?? { keys: 0 }).keys"
                    )
                    lost += sum(keys > there for keys, at in line.typed if at < killed_at - KEPT_AFTER_S)
                if kill == kills:
                    break
                already = len(line.typed)
                page.evaluate(f"() => {{ void ({TYPING.replace('KEEP', keep)})(); }}")
                line.wait_for_keys(already + 5)
                time.sleep(draw.uniform(0.3, 0.8))  # the instant of the kill is what is drawn
                killed_at = time.monotonic()
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()
                with suppress(Exception):
                    opened.close()
    assert len(line.typed) > 5 * kills
    return lost


def test_a_killed_browser_loses_no_key_older_than_a_quarter_second(chromium: Browser, tmp_path: Path) -> None:
    assert keys_lost(chromium, tmp_path / "profile", 4, Random(SEED)) == 0


def test_the_harness_sees_a_twin_that_writes_a_second_later(chromium: Browser, tmp_path: Path) -> None:
    assert keys_lost(chromium, tmp_path / "profile", 2, Random(SEED), keep=LAZY) > 0


@pytest.mark.torture
def test_five_hundred_kills_lose_no_key(chromium: Browser, tmp_path: Path) -> None:
    assert keys_lost(chromium, tmp_path / "profile", 500, Random(SEED)) == 0
