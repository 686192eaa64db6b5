"""R7 from the device's side: schedules of faults against the real modules and a real server that is killed."""

import hashlib
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from random import Random
from typing import Any

from playwright.sync_api import Browser, Page
from sqlalchemy import Engine, text

from service.domain.words import Role
from service.storage.engine import open_engine
from service.storage.files import FileShelf
from service.storage.unit import Store
from tests.builders import build_plant
from tests.doors import COOKIE, files_of, session_of
from tests.field.faulty_line import Line, listening
from tests.readings.builders import Issued, issue
from tests.reliability.killable_server import AT
from tests.reliability.killing import Server

READINGS_EACH = 4


@dataclass
class Tally:
    """What was tried and what went wrong."""

    schedules: int = 0
    sends: int = 0
    acknowledged: int = 0
    lost: int = 0
    doubled: int = 0
    pages_killed: int = 0
    breaches: list[str] = field(default_factory=list)


@dataclass
class Expected:
    """What one schedule typed last, by row; and its visits, tellings and spoken notes by a word that nobody else has."""

    readings: dict[str, float]
    visits: dict[str, str]
    tellings: dict[str, str]
    spoken: dict[str, str]


class Rows:
    """Rows of issued rounds, each given out once."""

    def __init__(self, store: Store) -> None:
        self.store, self.plant, self.days = store, build_plant(store, boards=4, views=10), 0
        self.left: list[tuple[Issued, int, int]] = []

    def take(self, count: int) -> list[tuple[Issued, int, int]]:
        while len(self.left) < count:
            self.days += 1
            issued = issue(self.store, plant=self.plant, walked_at=AT - timedelta(days=2000 - self.days))
            with self.store.look() as unit:
                stops = unit.session.execute(
                    text("SELECT id FROM stops WHERE round_id = :r ORDER BY position"), {"r": issued.round_id}
                ).scalars()
                stop = next(iter(stops))
            self.left = [(issued, place, stop) for place in range(len(issued.rows))]
        taken, self.left = self.left[:count], self.left[count:]
        return taken


@dataclass
class Ground:
    """A server that can be killed, the line before it, rows to read, and a signed-in browser."""

    engine: Engine
    shelf: FileShelf
    rows: Rows
    line: Line
    address: str
    browser: Browser
    person_id: int
    secret: str
    draw: Random
    tally: Tally = field(default_factory=Tally)

    def open(self) -> Page:
        context = self.browser.new_context(base_url=self.address)
        context.add_cookies([{"name": COOKIE, "value": self.secret, "url": self.address}])
        page = context.new_page()
        page.set_default_timeout(60_000)
        self.load(page)
        return page

    def load(self, page: Page) -> None:
        """Opened anew: whatever ran in it has ended in the middle."""
        page.goto("/harness")
        page.wait_for_function("window.ready === true")


@contextmanager
def ground(url: str, browser: Browser, *, seed: int) -> Iterator[Ground]:
    draw = Random(seed)
    engine = open_engine(url)
    store = Store(engine)
    rows = Rows(store)
    person_id = rows.plant.people[Role.TECHNICIAN]
    secret = session_of(store, person_id, AT)
    server = Server(url, twin=False)
    server.start()

    def kill() -> None:
        server.kill()
        server.start()

    line = Line(server.port, draw, kill)
    try:
        with listening(line) as address:
            yield Ground(
                engine, FileShelf(files_of(store)), rows, line, address, browser, person_id, secret, draw
            )
    finally:
        server.close()
        engine.dispose()


def run(made: Ground, schedules: int, *, twin: bool = False) -> Tally:
    """So many schedules, each on a database of the device's own; what was typed is then looked for."""
    page = made.open()
    for _ in range(schedules):
        _one(made, page, twin=twin)
    page.context.close()
    return made.tally


def _one(made: Ground, page: Page, *, twin: bool) -> None:
    sends, edits, expected = _plan(made)
    begun = {
        "name": str(uuid.uuid4()),
        "personId": made.person_id,
        "seed": made.draw.randrange(2**31),
        "twin": twin,
    }
    made.line.calm = False
    page.evaluate("(begun) => begin(begun)", begun)
    half = len(sends) // 2
    page.evaluate(
        "([sends, edits, seed]) => type(sends, edits, seed)", [sends[:half], edits[:1], begun["seed"]]
    )
    if made.draw.random() < 0.5:
        page.wait_for_function("window.asked > 0")
        made.load(page)  # killed with requests on their way
        made.tally.pages_killed += 1
        page.evaluate("(begun) => begin(begun)", begun)
    page.evaluate(
        "([sends, edits, seed]) => type(sends, edits, seed)", [sends[half:], edits[1:], begun["seed"] + 1]
    )
    page.wait_for_function("window.asked > 16 || running.sync.state().waiting === 0")
    made.line.calm = True
    made.line.settle()
    ended = page.evaluate("(begun) => finish(begun)", begun)
    made.line.settle()
    _compare(made, sends, ended, expected)


def _plan(made: Ground) -> tuple[list[dict[str, Any]], list[dict[str, Any]], Expected]:
    """Readings of some rows, a visit, a telling and a spoken note; two of the readings are typed again."""
    draw, taken = made.draw, made.rows.take(READINGS_EACH)
    expected = Expected({}, {}, {}, {})
    sends = []
    for issued, place, _stop in taken:
        row = issued.rows[place][0]
        value = round(35 + 20 * draw.random(), 2)
        expected.readings[row] = value
        sends.append(
            _send(made, "reading", issued, {"row_uid": row, "temperature_c": value, "current_a": 90.0})
        )
    issued, place, stop = taken[0]
    word = str(uuid.uuid4())
    sends.insert(2, _send(made, "stop visit", issued, {"stop_id": stop, "seen": word}))
    expected.visits[sends[2]["uid"]] = word
    told = str(uuid.uuid4())
    sends.append(_send(made, "telling", issued, {"row_uid": issued.rows[place][0], "told_whom": told}))
    expected.tellings[sends[-1]["uid"]] = told
    sound = f"OggS{uuid.uuid4()}"
    note = _send(made, "spoken", issued, {})
    note |= {"path": f"{note['path']}?row_uid={issued.rows[place][0]}", "sound": sound}
    del note["body"]
    sends.insert(3, note)
    expected.spoken[note["uid"]] = sound
    edits = []
    for of, after in ((0, 1), (4, 5)):
        value = round(60 + 20 * draw.random(), 2)
        expected.readings[sends[of]["body"]["row_uid"]] = value
        body = sends[of]["body"] | {"temperature_c": value}
        edits.append({"of": sends[of]["uid"], "after": sends[after]["uid"], "body": body})
    return sends, edits, expected


_PATHS = {
    "reading": "readings",
    "stop visit": "stop-visits",
    "telling": "field-tellings",
    "spoken": "spoken-notes",
}


def _send(made: Ground, kind: str, issued: Issued, body: dict[str, Any]) -> dict[str, Any]:
    uid = str(uuid.uuid4())
    at = (issued.walked_at + timedelta(minutes=5)).isoformat()
    return {
        "uid": uid, "kind": kind, "roundId": issued.round_id, "personId": made.person_id, "label": kind,
        "path": f"/api/v1/rounds/{issued.round_id}/{_PATHS[kind]}/{uid}", "body": body, "madeAt": at, "deviceTime": at,
    }  # fmt: skip


def _compare(made: Ground, sends: list[dict[str, Any]], ended: dict[str, Any], expected: Expected) -> None:
    tally = made.tally
    tally.schedules += 1
    tally.sends += len(sends)
    tally.acknowledged += len(ended["acknowledged"])
    if ended["left"]:
        tally.breaches.append(f"still waiting: {ended['left']}")
    with made.engine.connect() as connection:
        known = set(
            connection.execute(
                text(
                    "SELECT uid FROM readings UNION SELECT uid FROM field_sends UNION SELECT uid FROM spoken_notes"
                )
            ).scalars()
        )
        for row, value in expected.readings.items():
            stored = connection.execute(
                text(
                    "SELECT r.temperature_c FROM readings r JOIN round_rows w ON w.id = r.row_id WHERE w.uid = :row "
                    "AND NOT EXISTS (SELECT 1 FROM readings l WHERE l.supersedes_id = r.id)"
                ),
                {"row": row},
            ).scalars()
            _count(tally, list(stored), [value], f"reading of {row}")
        for uid, word in expected.visits.items():
            seen = connection.execute(text("SELECT seen FROM stop_visits WHERE seen = :w"), {"w": word})
            _count(tally, list(seen.scalars()), [word], f"visit {uid}")
        for uid, whom in expected.tellings.items():
            told = connection.execute(
                text("SELECT told_whom FROM tellings WHERE told_whom = :w"), {"w": whom}
            )
            _count(tally, list(told.scalars()), [whom], f"telling {uid}")
        for uid, sound in expected.spoken.items():
            kept = connection.execute(
                text("SELECT stored_as FROM spoken_notes WHERE uid = :u OR content_hash = :h"),
                {"u": uid, "h": hashlib.sha256(sound.encode()).hexdigest()},
            ).scalars()
            _count(tally, [made.shelf.read(name).decode() for name in kept], [sound], f"spoken note {uid}")
    tally.lost += len(set(ended["acknowledged"]) - known)


def _count(tally: Tally, stored: list[Any], wanted: list[Any], what: str) -> None:
    if len(stored) > len(wanted):
        tally.doubled += 1
    if stored != wanted:
        tally.breaches.append(f"{what}: typed {wanted}, stored {stored}")
