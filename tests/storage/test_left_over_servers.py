"""A test session that is killed leaves no PostgreSQL behind: the next one stops it."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.servers import HOME, stop_leftovers

HOLD_A_SERVER = """
import sys
from tests.servers import running_server
with running_server(durable=False) as address:
    print(address, flush=True)
    sys.stdin.read()
"""


def _running(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.postgres
def test_the_server_of_a_killed_session_is_stopped_and_its_folder_removed(postgres_server: str) -> None:
    with subprocess.Popen(
        [sys.executable, "-W", "ignore", "-c", HOLD_A_SERVER],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as session:
        assert session.stdout is not None
        assert "postgresql" in session.stdout.readline()
        (folder,) = HOME.glob(f"{session.pid}-*")
        postmaster = int((folder / "postmaster.pid").read_text().split()[0])
        stop_leftovers()
        assert _running(postmaster), "a session that lives keeps its server"
        session.send_signal(signal.SIGKILL)
    assert _running(postmaster), "else there would be nothing to stop"
    stop_leftovers()
    assert not _running(postmaster)
    assert not Path(folder).exists()
