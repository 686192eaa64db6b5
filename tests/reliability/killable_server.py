"""A real server process that may be killed at any instant and stands again at once.

``python -m tests.reliability.killable_server URL [--acknowledge-first]`` opens a port of the
loopback, tells it, and then reads a line for each life: the point at which to die ("" for none)
and how often that point is passed before. A life is a forked process that serves with its own
connections; what it has in its memory dies with it. What is the same for every life, statements
and tables of physics, is worked out before the first one, on a database that is thrown away.
"""

import os
import signal
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from tempfile import TemporaryDirectory
from typing import Any

import uvicorn
from fastapi import FastAPI
from sqlalchemy import Engine, event
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.domain.words import Role
from service.storage.engine import open_engine
from service.storage.tables import metadata
from service.storage.unit import Store
from tests.builders import build_plant
from tests.doors import open_app, program, token_of
from tests.readings.builders import issue
from tests.statements import knowing_the_statements

AT = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)


class Countdown:
    """Dies when a point has been passed so many times."""

    def __init__(self, point: str, passes: int) -> None:
        self.point, self.left = point, passes

    def passing(self, point: str) -> None:
        if point == self.point:
            self.left -= 1
            if self.left <= 0:
                os.kill(os.getpid(), signal.SIGKILL)


class DyingBeforeReply:
    """Passes the point "reply" when an upload's answer is about to leave: it is committed by then."""

    def __init__(self, app: ASGIApp, service: "Service") -> None:
        self.app, self.service = app, service

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def told(message: Message) -> None:
            if message["type"] == "http.response.start" and scope["method"] == "POST":
                self.service.countdown.passing("reply")
            await send(message)

        await self.app(scope, receive, told)


class AcknowledgingFirst:
    """The broken twin: says 201 at once and stores afterwards."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] != "POST":
            await self.app(scope, receive, send)
            return
        body, more = b"", True
        while more:
            message = await receive()
            body += message.get("body", b"")
            more = message.get("more_body", False)
        await send({"type": "http.response.start", "status": 201, "headers": [(b"content-length", b"2")]})
        await send({"type": "http.response.body", "body": b"{}"})

        async def again() -> Message:
            return {"type": "http.request", "body": body, "more_body": False}

        async def unheard(_: Message) -> None:
            return None

        await self.app(scope, again, unheard)


@contextmanager
def scratch() -> Iterator[Engine]:
    """An empty SQLite database of this schema that is gone after the block."""
    with TemporaryDirectory() as folder:
        engine = open_engine(f"sqlite:///{folder}/scratch.db")
        metadata.create_all(engine)
        yield engine
        engine.dispose()


def rehearse(app: FastAPI, store: Store) -> None:
    """One upload into another store, so that no life spends its first second on working things out."""
    issued = issue(store, plant=build_plant(store), walked_at=AT - timedelta(hours=9))
    token = token_of(store, issued.plant.people[Role.TECHNICIAN], AT)
    kept = app.state.surroundings
    app.state.surroundings = replace(kept, store=store)
    answer = program(app, token).post(
        f"/api/v1/rounds/{issued.round_id}/uploads",
        json={"rows": issued.all_records()},
        headers={"Idempotency-Key": "rehearsal"},
    )
    assert answer.status_code == 201, answer.text
    app.state.surroundings = kept


class Service:
    """The app, built once; it opens no connection before a life begins to serve."""

    def __init__(self, url: str, *, twin: bool) -> None:
        self.countdown = Countdown("", 0)
        engine = open_engine(url)
        with scratch() as aside:
            knowing_the_statements(aside)
            if engine.dialect.name == "sqlite":
                knowing_the_statements(engine)
            app: Any = open_app(Store(engine), lambda: AT)
            rehearse(app, Store(aside))
        event.listen(engine, "commit", lambda _connection: self.countdown.passing("commit"))
        if engine.dialect.name == "sqlite":
            # so that the write-ahead log is moved into the file all the time: kills hit that too
            event.listen(engine, "connect", lambda raw, _record: raw.execute("PRAGMA wal_autocheckpoint=8"))
        self.app = AcknowledgingFirst(app) if twin else DyingBeforeReply(app, self)

    def live(self, listening: socket.socket, *, point: str, passes: int) -> None:
        """One life, until it is killed."""
        self.countdown = Countdown(point, passes)
        config = uvicorn.Config(self.app, log_level="critical", lifespan="off", access_log=False)
        uvicorn.Server(config).run(sockets=[listening])


def main() -> None:
    url, twin = sys.argv[1], "--acknowledge-first" in sys.argv
    listening = socket.socket()
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listening.bind(("127.0.0.1", 0))
    listening.listen(128)
    service = Service(url, twin=twin)
    print(listening.getsockname()[1], flush=True)
    for line in sys.stdin:
        point, _, passes = line.strip().partition(" ")
        child = os.fork()
        if child == 0:
            service.live(listening, point=point, passes=int(passes or 0))
            os._exit(0)
        print(child, flush=True)
        os.waitpid(child, 0)
        print("ended", flush=True)


if __name__ == "__main__":
    main()
