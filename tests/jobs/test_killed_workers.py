"""Workers are killed in the middle of their work: every job is still done (real processes, SIGKILL)."""

import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import select

from service.storage import jobs
from service.storage.engine import open_engine
from service.storage.tables.record import JobRow
from service.storage.unit import Store
from tests.programs import Program

ENDS_BY_S = 60


class Workers:
    """Worker processes of one nursery (tests.jobs.counting), each with its number."""

    def __init__(self, url: str, ledger: Path, takes_s: float) -> None:
        self.nursery = Program("tests.jobs.counting", url, str(ledger), str(takes_s))

    def start(self) -> int:
        return int(self._ask("start"))

    def kill(self, worker: int) -> None:
        """End one at once, and wait until it is gone."""
        os.kill(worker, signal.SIGKILL)
        assert self._ask(f"ended {worker}") == str(worker)

    def close(self) -> None:
        with suppress(ProcessLookupError):
            os.killpg(self.nursery.pid, signal.SIGKILL)
        self.nursery.communicate()

    def _ask(self, line: str) -> str:
        self.nursery.stdin.write(f"{line}\n")
        self.nursery.stdin.flush()
        answer = self.nursery.stdout.readline().strip()
        assert answer, "the nursery has ended"
        return answer


def states(store: Store) -> Counter[str]:
    """Of the jobs put here; a worker adds those of its calendar."""
    with store.look() as unit:
        return Counter(unit.session.scalars(select(JobRow.state).where(JobRow.kind == "count")))


def lines(ledger: Path) -> Counter[int]:
    return Counter(int(line) for line in ledger.read_text().split()) if ledger.exists() else Counter()


def kill_while_working(url: str, ledger: Path, *, number: int, kills: int, workers: int) -> Counter[int]:
    """Put jobs, let workers loose, kill one after another; what the ledger says in the end."""
    chance = random.Random(20261125)
    store = Store(open_engine(url))
    with store.begin() as unit:
        for k in range(number):
            jobs.put(unit, "count", {"number": k}, now=datetime.now(UTC))
    nursery = Workers(url, ledger, 0.03)
    try:
        at_work = [nursery.start() for _ in range(workers)]
        for _ in range(kills):
            time.sleep(chance.uniform(0.05, 0.2))
            nursery.kill(at_work.pop(0))
            at_work.append(nursery.start())
        deadline = time.monotonic() + ENDS_BY_S
        while states(store)["done"] < number and time.monotonic() < deadline:
            time.sleep(0.05)
        assert states(store) == {"done": number}
    finally:
        nursery.close()
        store.engine.dispose()
    return lines(ledger)


@pytest.mark.parametrize("engine", ["sqlite", pytest.param("durable_postgres", marks=pytest.mark.postgres)])
def test_killed_workers_lose_nothing(request: pytest.FixtureRequest, engine: str, tmp_path: Path) -> None:
    url = request.getfixturevalue(f"{engine}_url")
    done = kill_while_working(url, tmp_path / "ledger", number=40, kills=3, workers=2)
    assert set(done) == set(range(40))
    assert sum(done.values()) <= 40 + 3, "only a killed worker's job may run twice"


@pytest.mark.torture
@pytest.mark.parametrize("engine", ["sqlite", pytest.param("durable_postgres", marks=pytest.mark.postgres)])
def test_fifty_kills_in_two_thousand_jobs(
    request: pytest.FixtureRequest, engine: str, tmp_path: Path
) -> None:
    url = request.getfixturevalue(f"{engine}_url")
    done = kill_while_working(url, tmp_path / "ledger", number=2000, kills=50, workers=3)
    assert set(done) == set(range(2000))
    assert sum(done.values()) <= 2000 + 50


def test_a_worker_told_to_stop_brings_its_job_to_an_end(sqlite_url: str, tmp_path: Path) -> None:
    """SIGTERM is what a deployment sends; the process of `riseline work` answers to it alike."""
    ledger = tmp_path / "ledger"
    store = Store(open_engine(sqlite_url))
    command = [sys.executable, "-c", STOPPABLE, sqlite_url, str(ledger)]
    with store.begin() as unit:
        jobs.put(unit, "count", {"number": 7}, now=datetime.now(UTC))
        jobs.put(unit, "count", {"number": 8}, now=datetime.now(UTC))
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert "waiting for jobs" in process.stdout.readline()
        assert process.stdout.readline() == "in hand\n"
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=20) == 0
    assert ledger.read_text() == "7\n"
    assert states(store) == {"ready": 1, "done": 1}
    store.engine.dispose()


STOPPABLE = """
import os, sys, time
from pathlib import Path
from service import cli
from service.jobs import worker

def handle(store, payload, *, now):
    print("in hand", flush=True)
    time.sleep(0.4)
    with Path(sys.argv[2]).open("a") as ledger:
        ledger.write(f"{payload['number']}\\n")

class Counting(worker.Worker):
    def __init__(self, store):
        super().__init__(store, handlers={"count": handle})

cli.Worker = Counting
os.environ["RISELINE_DATABASE_URL"] = sys.argv[1]
sys.exit(cli.main(["work"]))
"""
