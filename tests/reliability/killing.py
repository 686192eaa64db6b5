"""R1's harness: send, kill, look what is stored, start again, send again; the ledger is kept here."""

import http.client
import json
import os
import signal
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import timedelta
from random import Random
from typing import Any

from sqlalchemy import Engine, text

from service.domain.words import Role
from service.errors import Unavailable
from service.storage.engine import open_engine
from service.storage.unit import Store
from tests.builders import build_plant
from tests.doors import token_of
from tests.programs import Program
from tests.readings.builders import START, Issued, issue
from tests.reliability.killable_server import AT

PHONES = 2
#: points at which a life ends by itself, beside being killed at a random instant
POINTS = ("", "", "", "", "commit", "reply")


@dataclass
class Sent:
    """One send as this side knows it: acknowledged is what got a 2xx."""

    key: str
    round_id: int
    body: bytes
    uids: tuple[str, ...]
    reply: bytes | None = None


@dataclass
class Tally:
    """What went wrong, and how much was tried."""

    kills: int = 0
    sends: int = 0
    acknowledged: int = 0
    lost: int = 0
    half: int = 0
    breaches: list[str] = field(default_factory=list)


class Rounds:
    """Batches of whole views, ``most`` of them in one, out of one issued round after another."""

    def __init__(self, store: Store, draw: Random, *, most: int = 8) -> None:
        self.store, self.draw, self.most = store, draw, most
        self.plant = build_plant(store, boards=6, views=10)
        self.days = 0
        self.views: list[tuple[Issued, list[int]]] = []
        self.made = 0
        self.lock = threading.Lock()

    def stock(self) -> None:
        """Issue ahead, so that no phone waits for a round while it is timed."""
        while len(self.views) < 60:
            self._issue()

    def next(self) -> Sent:
        with self.lock:
            if not self.views:
                self._issue()
            size = self.draw.randint(1, self.most)
            issued = self.views[0][0]
            batch = []
            while self.views and self.views[0][0] is issued and len(batch) < size:
                batch.append(self.views.pop(0)[1])
            self.made += 1
            rows = [
                issued.record(place, round(40 + self.draw.gauss(0, 0.5), 1), uid=f"{issued.code}.{place:04d}")
                for places in batch
                for place in places
            ]
            body = json.dumps({"rows": rows}).encode()
            return Sent(f"key-{self.made}", issued.round_id, body, tuple(row["uid"] for row in rows))

    def _issue(self) -> None:
        self.days += 1
        morning = START - timedelta(days=3000) + timedelta(days=self.days)
        issued = issue(self.store, plant=self.plant, walked_at=morning)
        by_view: dict[int, list[int]] = {}
        for place, row in enumerate(issued.rows):
            by_view.setdefault(row[3], []).append(place)
        self.views += [(issued, places) for places in by_view.values()]


class Server:
    """The process of killable_server, and its present life."""

    def __init__(self, url: str, *, twin: bool) -> None:
        self.process = Program(
            "tests.reliability.killable_server", url, *(["--acknowledge-first"] if twin else [])
        )
        self.port = int(self._line())
        self.life = 0

    def _line(self) -> str:
        line = self.process.stdout.readline()
        assert line, "the server could not start"
        return line.strip()

    def start(self, point: str = "", passes: int = 0) -> None:
        self.process.stdin.write(f"{point} {passes}\n")
        self.process.stdin.flush()
        self.life = int(self._line())
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        connection.request("GET", "/api/v1/rounds")  # who asks is not told, so nothing is opened for it
        assert connection.getresponse().status == 401
        connection.close()

    def kill(self) -> None:
        """End the life, unless it has ended by itself, and wait until it is gone."""
        with suppress(ProcessLookupError):
            os.kill(self.life, signal.SIGKILL)
        assert self._line() == "ended"

    def close(self) -> None:
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.communicate()


@dataclass
class Bench:
    """A database, a server on it, and the ledger of what was sent."""

    url: str
    engine: Engine
    rounds: Rounds
    server: Server
    token: str
    draw: Random
    tally: Tally = field(default_factory=Tally)
    ledger: list[Sent] = field(default_factory=list)

    def send(self, sent: Sent, connection: http.client.HTTPConnection) -> int:
        headers = {
            "Authorization": f"Bearer {self.token}",
            "Idempotency-Key": sent.key,
            "Content-Type": "application/json",
        }
        address = f"/api/v1/rounds/{sent.round_id}/uploads"
        connection.request("POST", address, body=sent.body, headers=headers)
        answer = connection.getresponse()
        reply = answer.read()
        if answer.status == 201:
            if sent.reply is not None and sent.reply != reply:
                self.tally.breaches.append(f"{sent.key}: another reply the second time")
            sent.reply = sent.reply if sent.reply is not None else reply
        return answer.status


@contextmanager
def bench(url: str, *, seed: int, twin: bool = False) -> Iterator[Bench]:
    draw = Random(seed)
    engine = open_engine(url)
    store = Store(engine)
    rounds = Rounds(store, draw)
    token = token_of(store, rounds.plant.people[Role.TECHNICIAN], AT, expires_at=AT + timedelta(days=4000))
    server = Server(url, twin=twin)
    try:
        yield Bench(url, engine, rounds, server, token, draw)
    finally:
        server.close()
        engine.dispose()


def kill_and_look(made: Bench, kills: int, *, kill: Callable[[Bench], None] | None = None) -> Tally:
    """Kill so many times; after each, what was acknowledged must be there, and nothing half."""
    for _ in range(kills):
        one_life(made, kill=kill)
    made.server.start()
    settle(made, [sent for sent in made.ledger if sent.reply is None])
    made.server.kill()
    look_at_everything(made)
    return made.tally


def one_life(made: Bench, *, kill: Callable[[Bench], None] | None = None) -> None:
    """Serve, send, die, look, and send again what was not acknowledged."""
    point = made.draw.choice(POINTS)
    made.rounds.stock()
    made.server.start(point, made.draw.randint(1, 6))
    here: list[Sent] = []
    done, answered = threading.Event(), threading.Event()
    phones = [threading.Thread(target=_phone, args=(made, here, done, answered)) for _ in range(PHONES)]
    for phone in phones:
        phone.start()
    if made.draw.random() < 0.5:
        answered.wait(5)  # so that there is something acknowledged to be lost
    time.sleep(made.draw.uniform(0.001, 0.5))  # the instant at which it dies is what is drawn here
    if kill is not None:
        kill(made)
    else:
        made.server.kill()
        made.tally.kills += 1
    done.set()
    for phone in phones:
        phone.join()
    if kill is not None:
        made.server.kill()
    made.ledger += here
    _look(made, here)
    made.server.start()
    pending = [sent for sent in here if sent.reply is None]
    repeated = made.draw.sample(here, min(2, len(here)))
    settle(made, pending + [sent for sent in repeated if sent.reply is not None])
    made.server.kill()


def _phone(made: Bench, here: list[Sent], done: threading.Event, answered: threading.Event) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", made.server.port, timeout=20)
    try:
        while not done.is_set():
            sent = made.rounds.next()
            here.append(sent)
            made.tally.sends += 1
            status = made.send(sent, connection)
            answered.set()
            if status not in (201, 503):
                made.tally.breaches.append(f"{sent.key}: answered {status}")
    except (OSError, http.client.HTTPException):
        return  # it died under this request: nothing was acknowledged
    except Unavailable:
        return  # no new round can be issued just now
    finally:
        connection.close()


def settle(made: Bench, pending: list[Sent]) -> None:
    """Send again until each is acknowledged."""
    connection = http.client.HTTPConnection("127.0.0.1", made.server.port, timeout=20)
    for sent in pending:
        for _ in range(40):
            status = made.send(sent, connection)
            if status == 201:
                break
            if status != 503:
                made.tally.breaches.append(f"{sent.key}: answered {status} when sent again")
                break
            time.sleep(0.25)  # the database is coming back
        else:
            made.tally.breaches.append(f"{sent.key}: no answer when sent again")
    connection.close()


def _look(made: Bench, here: list[Sent]) -> None:
    """Before anything is sent again: acknowledged sends are whole, the others whole or absent."""
    with made.engine.connect() as connection:
        for sent in here:
            marks = ", ".join(f"'{uid}'" for uid in sent.uids)
            stored = connection.execute(
                text(
                    f"SELECT count(DISTINCT r.id), count(DISTINCT a.id), count(DISTINCT s.point_id) "
                    f"FROM readings r LEFT JOIN assessments a ON a.reading_id = r.id AND a.current "
                    f"LEFT JOIN point_state s ON s.point_id = r.point_id AND s.last_read_at >= r.taken_at "
                    f"WHERE r.uid IN ({marks})"
                )
            ).one()
            made.tally.acknowledged += sent.reply is not None
            made.tally.lost += sent.reply is not None and stored[0] == 0
            made.tally.half += set(stored) not in ({0}, {len(sent.uids)})


def look_at_everything(made: Bench) -> None:
    """Every reading once, with its verdict, upload, reply and follow-up job; the file is sound."""
    tell = made.tally.breaches.append
    with made.engine.connect() as connection:

        def one(statement: str) -> Any:
            return connection.execute(text(statement)).scalar_one()

        uids = Counter(connection.execute(text("SELECT uid FROM readings")).scalars())
        sent = {uid for each in made.ledger for uid in each.uids}
        if set(uids) != sent or len(uids) != uids.total():
            tell(f"{uids.total()} readings stored, {len(sent)} sent")
        checks = {
            "readings without their one verdict": "SELECT count(*) FROM readings r WHERE 1 <> (SELECT count(*) "
            "FROM assessments a WHERE a.reading_id = r.id AND a.current)",
            "uploads without readings": "SELECT count(*) FROM uploads u WHERE NOT EXISTS "
            "(SELECT 1 FROM readings r WHERE r.upload_id = u.id)",
            "uploads without the reply under their key": "SELECT abs((SELECT count(*) FROM uploads) - "
            "(SELECT count(*) FROM idempotency_keys))",
            "uploads without their follow-up": "SELECT abs((SELECT count(*) FROM uploads) - (SELECT count(*) "
            "FROM audit WHERE verb = 'bring readings'))",
        }
        for words, statement in checks.items():
            if found := one(statement):
                tell(f"{found} {words}")
        if made.engine.dialect.name == "sqlite":
            if one("PRAGMA integrity_check") != "ok":
                tell("integrity_check")
            if connection.execute(text("PRAGMA foreign_key_check")).all():
                tell("foreign_key_check")
