"""`riseline serve` as a process of its own, beside a ground of rounds that are made before it starts."""

import hashlib
import http.client
import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from service.domain.words import Role
from service.storage.engine import open_engine
from service.storage.unit import Store
from tests.cli.test_serve import free_port
from tests.doors import session_of, token_of
from tests.programs import Program
from tests.reliability.killing import Rounds, Sent

#: seconds until a service that is traced must answer
PATIENCE_S = 120


@dataclass(frozen=True)
class Ground:
    """A migrated database with issued rounds, and what a technician will send of them."""

    url: str
    files: Path
    token: str
    session: str
    sends: tuple[Sent, ...]

    @property
    def database(self) -> Path:
        return Path(self.url.removeprefix("sqlite:///"))


def lay_ground(url: str, files: Path, *, sends: int, seed: int, most: int = 2) -> Ground:
    """Issue the rounds; nobody is connected afterwards, and no log lies beside the file."""
    engine = open_engine(url)
    store = Store(engine)
    rounds = Rounds(store, Random(seed), most=most)
    now = datetime.now(UTC)
    token = token_of(store, rounds.plant.people[Role.TECHNICIAN], now, expires_at=now + timedelta(days=7))
    session = session_of(store, rounds.plant.people[Role.ENGINEER], now)
    prepared = tuple(rounds.next() for _ in range(sends))
    engine.dispose()
    return Ground(url, files, token, session, prepared)


def grid_of_file(number: int) -> bytes:
    """A temperature raster of 12×16 pixels, no two alike."""
    rows = (",".join(f"{20 + (number * 7 + 3 * r + c) % 50:.1f}" for c in range(16)) for r in range(12))
    return ("\n".join(rows) + f"\n{','.join([f'{20 + number % 9}.{number:04d}'] * 16)}\n").encode()


@dataclass
class Phone:
    """One client over one connection, and its memory of what was acknowledged."""

    port: int
    ground: Ground
    #: per 2xx: the port it came to, what was sent, or the SHA-256 of the file
    acknowledged: list[tuple[int, Sent | str]] = field(default_factory=list)
    answers: dict[int, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)

    def send(self, sent: Sent) -> int:
        """Readings of one batch."""
        status = self._post(f"/api/v1/rounds/{sent.round_id}/uploads", sent.body, sent.key)
        if status == 201:
            self.acknowledged.append((self.own_port, sent))
        return status

    def send_file(self, reading_uid: str, content: bytes) -> int:
        """A raster of one reading."""
        status = self._post(f"/api/v1/readings/{reading_uid}/rasters?name=one.csv", content, "")
        if status == 201:
            self.acknowledged.append((self.own_port, hashlib.sha256(content).hexdigest()))
        return status

    def ask(self, address: str) -> int:
        """Read a page or an address of the API; the answer's status."""
        headers = {"Cookie": f"riseline={self.ground.session}"}
        if address.startswith("/api/"):
            headers = {"Authorization": f"Bearer {self.ground.token}"}
        self.connection.request("GET", address, headers=headers)
        answer = self.connection.getresponse()
        self.last = answer.read()
        return answer.status

    def close(self) -> None:
        self.connection.close()

    def _post(self, address: str, body: bytes, key: str) -> int:
        headers = {"Authorization": f"Bearer {self.ground.token}", "Content-Type": "application/json"}
        if key:
            headers["Idempotency-Key"] = key
        else:
            headers["Content-Type"] = "text/csv"
        self.connection.request("POST", address, body=body, headers=headers)
        self.own_port = int(self.connection.sock.getsockname()[1])
        answer = self.connection.getresponse()
        self.last = answer.read()
        self.answers[answer.status] = self.answers.get(answer.status, 0) + 1
        if answer.status >= 400:
            problem = json.loads(self.last)
            assert answer.headers["Content-Type"] == "application/problem+json", self.last
            assert problem["status"] == answer.status
        return answer.status


@dataclass
class Running:
    """The service, where it listens and which process it is."""

    port: int
    pid: int
    process: Program | subprocess.Popen[str]

    def stop(self) -> None:
        """As an operator would; its last connection takes the log into the file."""
        os.kill(self.pid, signal.SIGTERM)
        assert self.process.wait(timeout=PATIENCE_S) == 0


@contextmanager
def running_service(
    ground: Ground,
    *,
    before: Sequence[str] = (),
    altered: Sequence[str] = (),
    **environment: str,
) -> Iterator[Running]:
    """The command `serve`, ``before`` it a program that watches it, ``altered`` into a broken twin."""
    port, pid_file = free_port(), ground.database.with_name("service.pid")
    settings = {
        "RISELINE_DATABASE_URL": ground.url,
        "RISELINE_FILES": str(ground.files),
        "RISELINE_PORT": str(port),
        "RISELINE_PID_FILE": str(pid_file),
        "RISELINE_SECURE_COOKIES": "false",
    }
    module = ["tests.reliability.altered_service", *altered] if altered else ["service.cli"]
    log = ground.database.with_name("service.log")
    process: Program | subprocess.Popen[str]
    if before or "LD_PRELOAD" in environment:
        with log.open("w") as written:
            process = subprocess.Popen(
                [*before, sys.executable, "-m", *module, "serve"],
                env=os.environ | settings | environment,
                stdout=subprocess.PIPE,
                stderr=written,
                text=True,
                start_new_session=True,
            )
    else:
        process = Program(*module, "serve", environment=settings | environment, log=log)
    try:
        assert process.stdout is not None
        said = process.stdout.readline()
        assert f"http://127.0.0.1:{port}" in said, log.read_text()
        threading.Thread(target=process.stdout.read, daemon=True).start()  # or its access log fills the pipe
        yield Running(port, int(pid_file.read_text()), process)
    finally:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
