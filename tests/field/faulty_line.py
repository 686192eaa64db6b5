"""A line between browser and service that breaks in every way, and the page that the field modules run in.

The browser opens this line's address: it hands out ``HARNESS`` and the real modules of web/field,
and carries everything else on to the service, with the fault that is drawn for each send.
"""

import http.client
import select
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from random import Random
from typing import Any

from service.settings import ROOT

MODULES = ROOT / "web" / "field"
HARNESS = (Path(__file__).parent / "harness.html").read_bytes()
FAULTS = (
    "none",
    "lost before the server",
    "lost after it stored",
    "cut in the middle of the request",
    "cut in the middle of the answer",
    "twice",
    "again later",
    "late",
    "no answer",
    "page of the network",
    "busy",
    "server killed before",
    "server killed while it stores",
    "server killed after",
)
#: How often each is drawn; the killing ones take a second each.
WEIGHTS = (4, 2, 3, 2, 2, 2, 2, 1, 0.3, 1, 1, 0.2, 0.2, 0.2)
#: Longer than the app waits for an answer, and than a request takes to overtake another [s].
GIVES_UP_WITHIN_S, OVERTAKEN_WITHIN_S = 10.0, 0.05
SIGNED_IN_AT = "/api/v1/field/signed-in"
Answer = tuple[int, list[tuple[str, str]], bytes]


class Line:
    """Where the service is, how to kill it, and what is drawn; ``calm`` lets everything through."""

    def __init__(self, port: int, draw: Random, kill: Callable[[], None] | None = None) -> None:
        self.port, self.draw, self.kill = port, draw, kill
        self.calm = True
        self.met: Counter[str] = Counter()
        self.later: list[tuple[str, bytes, dict[str, str]]] = []
        self.typed: list[tuple[int, float]] = []
        self._lock = threading.Lock()
        self._moved = threading.Condition()
        self._dying = threading.Lock()

    def fault(self) -> str:
        with self._lock:
            weights = [
                w if self.kill is not None or "killed" not in f else 0
                for f, w in zip(FAULTS, WEIGHTS, strict=True)
            ]
            drawn = "none" if self.calm else self.draw.choices(FAULTS, weights)[0]
            self.met[drawn] += 1
        with self._moved:
            self._moved.notify_all()
        return drawn

    def let_others_go(self) -> None:
        """Wait until another request has overtaken this one, or none is on its way."""
        with self._moved:
            self._moved.wait(OVERTAKEN_WITHIN_S)

    def key(self, number: int) -> None:
        with self._moved:
            self.typed.append((number, time.monotonic()))
            self._moved.notify_all()

    def wait_for_keys(self, wanted: int) -> None:
        """Until so many keys have been told of."""
        with self._moved:
            assert self._moved.wait_for(lambda: len(self.typed) >= wanted, timeout=60), "nothing was typed"

    def die(self) -> None:
        """Kill the service and start it again; one at a time."""
        with self._dying:
            if self.kill is not None:
                self.kill()

    def forward(self, method: str, path: str, body: bytes, headers: dict[str, str]) -> Answer:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        try:
            connection.request(method, path, body=body, headers=headers)
            answer = connection.getresponse()
            return answer.status, answer.getheaders(), answer.read()
        finally:
            connection.close()

    def settle(self) -> None:
        """What went astray arrives after all, out of order."""
        while self.later:
            path, body, headers = self.later.pop(self.draw.randrange(len(self.later)))
            with suppress(OSError, http.client.HTTPException):
                self.forward("PUT", path, body, headers)


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    line: Line

    def log_message(self, *_args: object) -> None:
        return

    def do_GET(self) -> None:
        path = self.path.partition("?")[0]
        if path == "/harness":
            self._answer((200, [("Content-Type", "text/html; charset=utf-8")], HARNESS))
        elif path.startswith("/modules/"):
            source = (MODULES / path.removeprefix("/modules/")).read_bytes()
            self._answer((200, [("Content-Type", "text/javascript")], source))
        elif path.startswith("/typed/"):
            self.line.key(int(path.rsplit("/", 1)[1]))
            self._answer((204, [], b""))
        elif path == SIGNED_IN_AT:
            self._through(b"")
        else:
            self._answer((404, [], b""))

    def do_PUT(self) -> None:
        self._through(self.rfile.read(int(self.headers.get("Content-Length", "0"))))

    def _through(self, body: bytes) -> None:
        try:
            self._faulty(body, self.line.fault())
        except (OSError, http.client.HTTPException):
            self._hang_up()

    def _faulty(self, body: bytes, fault: str) -> None:
        line, asked = self.line, (self.command, self.path, body, self._headers())
        if fault in ("lost before the server", "server killed before"):
            if "killed" in fault:
                line.die()
            return self._hang_up()
        if fault == "cut in the middle of the request":
            self._half_request(body)
            return self._hang_up()
        if fault == "again later":
            line.later.append((self.path, body, asked[3]))
            return self._hang_up()
        if fault == "page of the network":
            return self._answer((200, [("Content-Type", "text/html")], b"<h1>Sign in to this network</h1>"))
        if fault == "busy":
            return self._answer((503, [("Content-Type", "application/problem+json")], b"{}"))
        if fault == "server killed while it stores":
            threading.Thread(target=self._quietly, args=asked).start()
            time.sleep(line.draw.uniform(0.001, 0.03))  # the instant at which it dies is what is drawn
            line.die()
            return self._hang_up()
        answer = line.forward(*asked)
        if fault == "twice":
            answer = line.forward(*asked)
        if fault == "server killed after":
            line.die()
        if fault in ("lost after it stored", "server killed after"):
            return self._hang_up()
        if fault == "late":
            line.let_others_go()
        if fault == "no answer":
            return self._until_given_up()
        if fault == "cut in the middle of the answer":
            return self._half_answer(answer)
        return self._answer(answer)

    def _headers(self) -> dict[str, str]:
        left_out = {"host", "connection", "accept-encoding", "origin", "content-length"}
        return {name: value for name, value in self.headers.items() if name.lower() not in left_out}

    def _quietly(self, *asked: Any) -> None:
        with suppress(OSError, http.client.HTTPException):
            self.line.forward(*asked)

    def _half_request(self, body: bytes) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", self.line.port, timeout=20)
        connection.putrequest(self.command, self.path)
        for name, value in self._headers().items():
            connection.putheader(name, value)
        connection.putheader("Content-Length", str(len(body)))
        connection.endheaders(body[: len(body) // 2])
        connection.close()

    def _answer(self, answer: Answer) -> None:
        status, headers, body = answer
        self.send_response_only(status)
        kept = {"content-type", "date", "retry-after"}
        for name, value in headers:
            if name.lower() in kept:
                self.send_header(name, value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def _half_answer(self, answer: Answer) -> None:
        status, _headers, body = answer
        self.send_response_only(status)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body[: len(body) // 2])
        self._hang_up()

    def _until_given_up(self) -> None:
        """Say nothing until the app has waited long enough: then its end of the line is closed."""
        select.select([self.connection], [], [], GIVES_UP_WITHIN_S)
        self._hang_up()

    def _hang_up(self) -> None:
        self.close_connection = True
        with suppress(OSError):
            self.connection.shutdown(2)


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, *_args: object) -> None:
        return  # the browser hung up


@contextmanager
def listening(line: Line, port: int = 0) -> Iterator[str]:
    """The address of the line while the block lasts."""
    handler = type("Handler", (_Handler,), {"line": line})
    with _Server(("127.0.0.1", port), handler) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_address[1]}"
        finally:
            server.shutdown()
            thread.join()
