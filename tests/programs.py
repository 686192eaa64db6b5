"""Our programs as processes of their own, forked from one that has loaded the service already.

Loading the service takes seconds, and the harnesses that kill it start dozens. What is forked is a
process like any other: it has its own connections and memory, and dies of SIGKILL at once.
"""

import multiprocessing
import os
import runpy
import signal
import subprocess
import sys
import warnings
from collections.abc import Mapping, Sequence
from multiprocessing.connection import Connection
from pathlib import Path

_loaded = multiprocessing.get_context("forkserver")
_loaded.set_forkserver_preload(["tests.reliability.killable_server", "tests.jobs.counting", "service.cli"])


class Program:
    """A module that runs as ``python -m`` would run it, in a session of its own, to be asked by its pipes."""

    def __init__(
        self,
        module: str,
        *arguments: str,
        environment: Mapping[str, str] | None = None,
        log: Path | None = None,
    ) -> None:
        asked, ask = _loaded.Pipe(duplex=False)
        hear, told = _loaded.Pipe(duplex=False)
        self._process = _loaded.Process(
            target=_run, args=(module, arguments, dict(environment or {}), asked, told, log), daemon=True
        )
        self._process.start()
        self.stdin = os.fdopen(os.dup(ask.fileno()), "w")
        self.stdout = os.fdopen(os.dup(hear.fileno()), "r")
        for end in (asked, ask, hear, told):
            end.close()

    @property
    def pid(self) -> int:
        assert self._process.pid is not None
        return self._process.pid

    def send_signal(self, number: signal.Signals) -> None:
        os.kill(self.pid, number)

    def wait(self, timeout: float | None = None) -> int:
        """What it ended with; the number of a signal is negative, as for a subprocess."""
        self._process.join(timeout)
        if self._process.exitcode is None:
            raise subprocess.TimeoutExpired(self._process.name, timeout or 0)
        return self._process.exitcode

    def communicate(self) -> None:
        """Wait for its end; nothing more is said."""
        self.stdin.close()
        self.wait()
        self.stdout.close()


def _run(
    module: str,
    arguments: Sequence[str],
    environment: Mapping[str, str],
    asked: Connection,
    told: Connection,
    log: Path | None,
) -> None:
    os.setsid()
    os.environ.update(environment)
    os.dup2(asked.fileno(), 0)
    os.dup2(told.fileno(), 1)
    if log is not None:
        os.dup2(os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
    asked.close()
    told.close()
    sys.argv = [module, *arguments]
    warnings.simplefilter("ignore", RuntimeWarning)  # that the module is loaded already is the point
    with (
        open(0, encoding="utf-8", closefd=False) as sys.stdin,
        open(1, "w", encoding="utf-8", closefd=False) as sys.stdout,
    ):
        runpy.run_module(module, run_name="__main__", alter_sys=True)
