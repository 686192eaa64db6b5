"""Sends the rows of the table as every persona and compares with what the design expects."""

import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from starlette.testclient import TestClient

from service.storage.engine import open_engine
from service.storage.unit import Store
from tests.access.rows import Bound, Outcome, Row, expected, fit_for
from tests.access.world import (
    ANONYMOUS,
    APART,
    CLIENT,
    CLOSED,
    EXPIRED,
    FAR,
    HERE,
    OTHER_TECHNICIAN,
    PERSONAS,
    PLAIN_ENGINEER,
    REVOKED,
    SITE,
    TECHNICIAN,
    WALKED,
    Persona,
    World,
    build_world,
)
from tests.doors import COOKIE, OWN_PAGE, open_app
from tests.statements import knowing_the_statements


def routes_of(app: FastAPI) -> set[str]:
    """Every route of the app as "METHOD path"; HEAD goes with GET."""
    return {
        f"{method} {context.path}"
        for context in iter_route_contexts(app.routes)
        for method in (context.methods or set()) - {"HEAD"}
    }


@dataclass
class Ground:
    """The app, opened once, on copies of one filled database."""

    template: Path
    scratch: Path
    world: World
    app: FastAPI
    client: TestClient
    copies: int = 0
    copy: "Copy | None" = None

    @contextmanager
    def fresh(self) -> Iterator[TestClient]:
        """A client of the app on an untouched copy: the last one, if nobody has written to it."""
        if self.copy is None or self.copy.written():
            self.leave()
            self.copies += 1
            self.copy = Copy(self.template, self.scratch / f"copy-{self.copies}.db")
            state = self.app.state
            state.surroundings = replace(state.surroundings, store=Store(self.copy.engine))
        yield self.client

    def leave(self) -> None:
        """Take the last copy away."""
        if self.copy is not None:
            self.copy.remove()
            self.copy = None


class Copy:
    """A copy of a filled database that can tell whether anything was written to it."""

    def __init__(self, template: Path, path: Path) -> None:
        self._path = path
        shutil.copy(template, path)
        self._as_copied = path.stat()
        self.engine = knowing_the_statements(open_engine(f"sqlite:///{path}"))

    def written(self) -> bool:
        """Whether a commit lies in the write-ahead log, or has gone from there into the file."""
        log, now = self._path.with_name(f"{self._path.name}-wal"), self._path.stat()
        in_log = log.exists() and log.stat().st_size > 0
        return in_log or (now.st_mtime_ns, now.st_size) != (
            self._as_copied.st_mtime_ns,
            self._as_copied.st_size,
        )

    def remove(self) -> None:
        self.engine.dispose()
        for file in self._path.parent.glob(f"{self._path.name}*"):
            file.unlink()


@contextmanager
def lay_ground(empty: Path, scratch: Path, clock: Callable[[], datetime]) -> Iterator[Ground]:
    """Fill a copy of the empty database and open the app on it."""
    template = scratch / "world.db"
    shutil.copy(empty, template)
    engine = open_engine(f"sqlite:///{template}")
    world = build_world(Store(engine), clock())
    app = open_app(Store(engine), clock)
    engine.dispose()  # the last connection to close moves the write-ahead log into the file
    with TestClient(app, follow_redirects=False, raise_server_exceptions=False) as client:
        ground = Ground(template, scratch, world, app, client)
        yield ground
        ground.leave()


def ask(client: TestClient, row: Row, persona: Persona, world: World, **more: Any) -> Any:
    """Send one row's request as somebody."""
    client.cookies.clear()
    headers = {"If-Match": '"1"', "Idempotency-Key": f"key-of-{persona.secret}"}
    if persona.role is not None:
        if row.api and not row.session:
            headers["Authorization"] = f"Bearer {persona.secret}"
        else:
            headers["Cookie"] = f"{COOKIE}={persona.secret}"
    headers |= OWN_PAGE | dict(row.headers)
    body: dict[str, Any] = {}
    if row.json is not None:
        body["json"] = row.json(world) | more if isinstance(row.json(world), dict) else row.json(world)
    if row.form is not None:
        body["data"] = {"version": "1"} | row.form(world)
    elif row.method == "POST" and not row.api and row.files is None:
        body["data"] = {"version": "1"}
    if row.files is not None:
        body["files"] = row.files(world)
    return client.request(row.method, row.address(world), headers=headers, **body)


def outcome_of(answer: Any) -> Outcome | str:
    """What an answer amounts to; a string when it is none of the four."""
    status = answer.status_code
    if status == 401 or (status == 303 and answer.headers["location"].startswith("/sign-in?")):
        return Outcome.SIGN_IN
    if status == 303 and answer.headers["location"] == "/sign-in" and "set-cookie" not in answer.headers:
        return Outcome.SIGN_IN
    if status == 403:
        return Outcome.NOT_THIS_ROLE
    if status == 404:
        return Outcome.ABSENT
    if status == 405 or status >= 500:
        return f"status {status}: {answer.text[:200]}"
    return Outcome.PASSES


def sample(turn: int) -> tuple[Persona, ...]:
    """Everybody at home, and by turns one of those elsewhere or whose secret has ended."""
    elsewhere = (*FAR, REVOKED, EXPIRED, CLOSED)
    return (ANONYMOUS, elsewhere[turn % len(elsewhere)], *HERE)


def surprises(ground: Ground, row: Row, asking: Sequence[Persona] = PERSONAS) -> list[str]:
    """Every persona whose answer differs from the design, and every leak; empty when all is well."""
    found: list[str] = []
    personas = [persona for persona in asking if fit_for(row, persona)]
    refused = [persona for persona in personas if expected(row, persona) is not Outcome.PASSES]
    with ground.fresh() as client:
        for persona in refused:
            found += _refusal(client, row, persona, ground.world)
    done = []
    for persona in personas:
        if persona in refused:
            continue
        with ground.fresh() as client:
            answer = ask(client, row, persona, ground.world)
            if row.certified and persona is PLAIN_ENGINEER:
                found += (
                    [] if answer.status_code in (403, 409) else [_said(row, persona, answer, "a refusal")]
                )
                continue
            done.append(answer.status_code)
            found += _passage(row, persona, answer)
    if row.method != "GET" and done and not any(s < 400 or s in row.through for s in done):
        found.append(f"{row.route}: nobody gets through ({done}); give the row a body that is accepted")
    return found


def _refusal(client: TestClient, row: Row, persona: Persona, world: World) -> list[str]:
    answer = ask(client, row, persona, world)
    wanted, got = expected(row, persona), outcome_of(answer)
    found = _leaks(row, persona, answer)
    if got is wanted:
        return found
    may_be_role = wanted is Outcome.ABSENT and got is Outcome.NOT_THIS_ROLE and persona.role not in row.who
    if may_be_role or (wanted is Outcome.ABSENT and answer.status_code == 422):
        # the same refusal as for something that is not there gives no hint that it is
        absent = ask(client, row, persona, world.absent())
        if _shape(absent) == _shape(answer):
            return found
        return [*found, f"{row.route}: {persona.name} can tell a hidden thing from an absent one"]
    return [*found, _said(row, persona, answer, wanted.value)]


def _shape(answer: Any) -> tuple[int, str]:
    return answer.status_code, re.sub(r"[a-z-]*uid-[\d-]+|[2-9A-Z]{3}-[2-9A-Z]{3}|\d+", "#", answer.text)


def _passage(row: Row, persona: Persona, answer: Any) -> list[str]:
    got = outcome_of(answer)
    if got is not Outcome.PASSES:
        return [_said(row, persona, answer, "to pass")]
    if row.method == "GET" and answer.status_code not in (200, 303):
        return [_said(row, persona, answer, "to see it")]
    return _leaks(row, persona, answer)


#: what somebody may never read, by the place they are from
UNREADABLE = {"away": (SITE, WALKED, APART), "abroad": (CLIENT, SITE, WALKED, APART)}


def _leaks(row: Row, persona: Persona, answer: Any) -> list[str]:
    if row.bound is Bound.OPEN or persona.role is None:
        return []
    marks = UNREADABLE.get(persona.place, ())
    if persona in (TECHNICIAN, OTHER_TECHNICIAN):
        marks = (APART,) if persona.walks else (WALKED,)
    text = answer.text.casefold()
    return [f"{row.route}: {persona.name} reads of {mark}" for mark in marks if mark.casefold() in text]


def _said(row: Row, persona: Persona, answer: Any, wanted: str) -> str:
    return f"{row.route}: {persona.name} was to get {wanted}, got {answer.status_code} {answer.text[:300]!r}"


def lax_schemas(document: dict[str, Any]) -> list[str]:
    """Names of the objects in JSON bodies, at any depth, that would take fields they do not know."""
    found: list[str] = []
    seen: set[str] = set()

    def look(schema: Any) -> None:
        parts = schema.values() if isinstance(schema, dict) else schema if isinstance(schema, list) else ()
        if isinstance(schema, dict):
            if "properties" in schema and schema.get("additionalProperties") is not False:
                found.append(str(schema.get("title", "")))
            name = str(schema.get("$ref", "")).rsplit("/", 1)[-1]
            if name and name not in seen:
                seen.add(name)
                look(document["components"]["schemas"][name])
        for part in parts:
            look(part)

    for path in document["paths"].values():
        for operation in path.values():
            bodies = operation.get("requestBody", {}).get("content", {})
            look([body for kind, body in bodies.items() if "json" in kind])
    return found
