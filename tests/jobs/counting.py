"""Worker processes for the tests: their jobs take a while and leave a line each time they are done.

``python -m tests.jobs.counting URL LEDGER SECONDS`` forks a worker for each line "start" and tells
its number, so that not each of them spends seconds on loading the service; to "ended NUMBER" it
answers when that one is gone. A worker opens its own connections.
"""

import os
import sys
import time
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from service.jobs.handlers import HANDLERS
from service.jobs.worker import Worker
from service.storage.engine import open_engine
from service.storage.unit import Store

LEASE = timedelta(seconds=1)


def work(url: str, ledger: Path, *, takes_s: float) -> None:
    """Work off everything that is or becomes due; every finished job is one line of the ledger."""

    def handle(_store: Store, payload: Mapping[str, Any], *, now: datetime) -> None:
        time.sleep(takes_s)
        line = os.open(ledger, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        os.write(line, f"{payload['number']}\n".encode())
        os.close(line)

    store = Store(open_engine(url))
    Worker(store, handlers={**HANDLERS, "count": handle}, lease=LEASE, poll_s=0.05).run()


def main(url: str, ledger: Path, *, takes_s: float) -> None:
    """Start workers and bury them, until nobody asks any more."""
    for line in sys.stdin:
        asked, _, number = line.strip().partition(" ")
        if asked == "ended":
            os.waitpid(int(number), 0)
            print(number, flush=True)
            continue
        child = os.fork()
        if child == 0:
            work(url, ledger, takes_s=takes_s)
            os._exit(0)
        print(child, flush=True)


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), takes_s=float(sys.argv[3]))
