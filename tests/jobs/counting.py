"""A worker process for the tests: its jobs take a while and leave a line each time they are done."""

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


def main(url: str, ledger: Path, *, takes_s: float) -> None:
    """Work off everything that is or becomes due; every finished job is one line of the ledger."""

    def handle(_store: Store, payload: Mapping[str, Any], *, now: datetime) -> None:
        time.sleep(takes_s)
        line = os.open(ledger, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        os.write(line, f"{payload['number']}\n".encode())
        os.close(line)

    store = Store(open_engine(url))
    print("at work", flush=True)
    Worker(store, handlers={**HANDLERS, "count": handle}, lease=LEASE, poll_s=0.05).run()


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), takes_s=float(sys.argv[3]))
