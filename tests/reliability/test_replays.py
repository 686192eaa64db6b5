"""R7: replays are harmless.

Each reading has its client's own id, each send an Idempotency-Key. Replies are dropped and sends
repeated 1 to 50 times, shuffled, split differently under new keys, weeks later. At the end there
are exactly as many rows as readings, each with the values first sent, and every repeated send got
its first reply byte for byte. The broken twin forgets who sent what; the harness must see it.
"""

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import partial
from random import Random
from time import perf_counter
from typing import Any

import pytest
from sqlalchemy import select
from starlette.testclient import TestClient

from service.domain.words import Role
from service.errors import KeyBusy
from service.storage import idempotency
from service.storage.tables.readings import ReadingRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from tests.builders import build_plant
from tests.doors import open_app, program, token_of
from tests.readings.builders import Issued, issue

Reply = tuple[int, bytes]
Send = Callable[[str, list[dict[str, Any]]], Reply]
#: sends between two words of a long storm on how far it is
TELL_EVERY = 2000


@dataclass
class Phone:
    """A program that sends readings, and a clock that may leap on by weeks."""

    issued: Issued
    client: TestClient
    now: list[datetime]
    headers: dict[str, str] = field(default_factory=dict)

    def send(self, key: str, rows: list[dict[str, Any]]) -> Reply:
        answer = self.client.post(
            f"/api/v1/rounds/{self.issued.round_id}/uploads",
            content=json.dumps({"rows": rows}),
            headers={"Idempotency-Key": key, "Content-Type": "application/json"},
        )
        return answer.status_code, answer.content


@contextmanager
def phone(store: Store, readings: int) -> Iterator[Phone]:
    boards = -(-readings // 60)
    plant = build_plant(store, boards=boards, views=20)
    issued = issue(store, plant=plant, day=date(2026, 11, 24))
    now = [issued.received_at]
    token = token_of(store, plant.people[Role.TECHNICIAN], now[0], expires_at=now[0] + timedelta(days=4000))
    with program(open_app(store, lambda: now[0]), token) as client:
        yield Phone(issued, client, now)


def forgetful(real: Phone, draw: Random) -> Send:
    """The broken twin: keys and ids mean nothing to it, so that each send is a new one."""
    senders = [0]

    def send(key: str, rows: list[dict[str, Any]]) -> Reply:
        senders[0] += 1
        with real.issued.store.begin() as unit:
            points = {uid: point for uid, _tag, point, _view in real.issued.rows}
            for row in rows:
                fresh = f"{senders[0]}-{draw.random()}"
                unit.session.add(
                    ReadingRow(
                        uid=fresh,
                        point_id=points[row["row_uid"]],
                        round_id=real.issued.round_id,
                        source=f"send {fresh}",
                        content_hash="",
                        received_at=real.now[0],
                        taken_at=real.now[0],
                        temperature_c=row["temperature_c"],
                    )
                )
        return 201, f"{senders[0]}".encode()

    return send


def storm(
    real: Phone,
    *,
    readings: int,
    sends: int,
    seed: int,
    send: Send,
    tell: Callable[[str], object] | None = None,
) -> list[str]:
    """Send and resend; what was not as promised, empty when all is well.

    ``tell`` hears how far a long storm is, every ``TELL_EVERY`` sends.
    """
    begun = perf_counter()
    draw = Random(seed)
    rows = [
        real.issued.record(n, round(40 + draw.gauss(0, 1), 1), uid=f"phone-{seed}-{n:05d}")
        for n in range(readings)
    ]
    order = list(range(readings))
    draw.shuffle(order)
    first: list[tuple[str, list[dict[str, Any]]]] = []
    while order:
        size = draw.randint(1, 12)
        batch, order = order[:size], order[size:]
        first.append((f"key-{len(first)}", [rows[n] for n in batch]))
    replies: dict[str, Reply] = {}
    known = list(first)
    found: list[str] = []
    done = 0
    while done < sends or len(replies) < len(known):
        unsent = len(replies) < len(first)
        if unsent and (draw.random() < 0.2 or not replies or done >= sends):
            key, body = first[len(replies)] if len(replies) < len(first) else draw.choice(known)
        elif replies and draw.random() < 0.1 and not unsent:
            key, body = f"split-{done}", draw.sample(rows, draw.randint(1, 12))
            known.append((key, body))
        else:
            key, body = draw.choice([pair for pair in known[-40:] if pair[0] in replies] or known[:1])
        for _ in range(draw.randint(1, 50) if draw.random() < 0.05 else 1):
            reply = send(key, body)
            done += 1
            found += _breach(key, reply, replies)
            replies.setdefault(key, reply)
            if tell is not None and done % TELL_EVERY == 0:
                spent = perf_counter() - begun
                tell(f"{done} of {sends} sends, {len(replies)} keys, {len(found)} breaches, {spent:.0f} s")
        if draw.random() < 0.01:
            real.now[0] += timedelta(days=draw.randint(1, 3))
    return found + left_wrong(real, rows)


def _breach(key: str, reply: Reply, replies: dict[str, Reply]) -> list[str]:
    if reply[0] != 201:
        return [f"{key} was answered {reply[0]}: {reply[1][:200]!r}"]
    if key in replies and replies[key] != reply:
        return [f"{key} was answered differently the second time"]
    return []


def left_wrong(real: Phone, rows: list[dict[str, Any]]) -> list[str]:
    """How what is stored differs from what was sent."""
    with real.issued.store.look() as unit:
        stored = unit.session.execute(select(ReadingRow.uid, ReadingRow.temperature_c)).all()
    found = [] if len(stored) == len(rows) else [f"{len(stored)} rows of {len(rows)} readings"]
    sent = {row["uid"]: row["temperature_c"] for row in rows}
    values = {str(uid): value for uid, value in stored}
    if values != sent:
        wrong = [uid for uid in sent if values.get(uid) != sent[uid]]
        found.append(f"{len(wrong)} readings are absent or have other values")
    return found


def test_resent_readings_are_stored_once(any_store: Store) -> None:
    with phone(any_store, 100) as real:
        assert storm(real, readings=60, sends=240, seed=7, send=real.send) == []


def test_the_harness_sees_a_twin_that_forgets(store: Store) -> None:
    with phone(store, 60) as real:
        found = storm(real, readings=60, sends=200, seed=7, send=forgetful(real, Random(1)))
    assert any("rows of" in breach for breach in found)
    assert any("differently" in breach for breach in found)


@pytest.mark.torture
def test_a_hundred_thousand_sends_of_five_thousand_readings(
    store: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    with phone(store, 5000) as real, capsys.disabled():
        tell = partial(print, flush=True)
        assert storm(real, readings=5000, sends=100_000, seed=20_267, send=real.send, tell=tell) == []


def test_a_key_with_another_body_is_refused_and_changes_nothing(store: Store) -> None:
    with phone(store, 60) as real:
        rows = [real.issued.record(n, uid=f"phone-1-{n:05d}") for n in range(4)]
        assert real.send("one", rows[:2])[0] == 201
        status, body = real.send("one", rows[2:])
        assert (status, json.loads(body)["title"]) == (422, "This Idempotency-Key was used with another body")
        assert left_wrong(real, rows[:2]) == []


def test_a_key_is_each_persons_own(store: Store) -> None:
    with phone(store, 60) as real:
        rows = [real.issued.record(n) for n in range(2)]
        assert real.send("one", rows)[0] == 201
        token = token_of(store, real.issued.plant.people[Role.ENGINEER], real.now[0])
        real.client.headers["Authorization"] = f"Bearer {token}"
        assert real.send("one", [real.issued.record(2)])[0] == 201


def test_a_send_that_still_runs_is_told_and_a_killed_one_is_free(any_store: Store) -> None:
    with phone(any_store, 60) as real:
        person = real.issued.technician.person_id
        assert person is not None
        with idempotency.running(any_store, person, "slow"):
            status, body = real.send("slow", [real.issued.record(0)])
            assert (status, json.loads(body)["type"]) == (409, "urn:riseline:problem:KeyBusy")
        assert real.send("slow", [real.issued.record(0)])[0] == 201


@pytest.mark.postgres
def test_another_process_is_told_that_a_send_still_runs(postgres_store: Store) -> None:
    """Two connections of one database stand for two processes: the lock lies in the database."""
    with phone(postgres_store, 60) as real:
        person = real.issued.technician.person_id
        assert person is not None
        began, go_on = threading.Event(), threading.Event()

        def hold() -> None:
            with postgres_store.begin() as unit:
                idempotency.claim(unit, person, key="slow", request="upload 1", body_hash="x")
                began.set()
                go_on.wait(20)

        holder = threading.Thread(target=hold)
        holder.start()
        began.wait(20)
        try:
            with pytest.raises(KeyBusy), postgres_store.begin() as unit:
                idempotency.claim(unit, person, key="slow", request="upload 1", body_hash="x")
        finally:
            go_on.set()
            holder.join()


def test_a_replay_after_sign_off_still_gets_its_reply(store: Store) -> None:
    with phone(store, 60) as real:
        rows = [real.issued.record(n) for n in range(3)]
        first = real.send("k", rows)
        with store.begin() as unit:
            row = unit.session.get(RoundRow, real.issued.round_id)
            assert row is not None
            row.state = "signed off"
        real.now[0] += timedelta(days=60)
        assert real.send("k", rows) == first
        assert real.send("new", [real.issued.record(4)])[0] == 409
