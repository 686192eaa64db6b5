"""`riseline serve`: refuses what is only right on one's own machine, and ends when told to."""

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from service import cli
from service.cli import is_loopback, refuse_known_passwords, refuse_unsafe_exposure
from service.errors import Conflict
from service.settings import Settings
from service.storage.tables.people import PersonRow
from service.storage.unit import Store
from tests.builders import STAMPS


@pytest.mark.parametrize(
    ("host", "own"),
    [
        ("127.0.0.1", True),
        ("127.8.8.8", True),
        ("::1", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("::", False),
        ("192.168.0.7", False),
        ("riseline.example", False),
        ("", False),
    ],
)
def test_only_addresses_of_this_machine_are_loopback(host: str, own: bool) -> None:
    assert is_loopback(host) is own


def test_demo_mode_on_another_address_is_refused() -> None:
    refuse_unsafe_exposure(Settings(demo=True, secure_cookies=False, host="127.0.0.1"))
    with pytest.raises(Conflict, match="this machine only"):
        refuse_unsafe_exposure(Settings(demo=True, host="0.0.0.0"))


def test_a_database_that_may_lose_things_on_another_address_is_refused() -> None:
    refuse_unsafe_exposure(Settings(unsafe_database=True, host="127.0.0.1"))
    with pytest.raises(Conflict, match="tests only"):
        refuse_unsafe_exposure(Settings(unsafe_database=True, host="0.0.0.0"))


def test_plain_cookies_on_another_address_are_refused() -> None:
    refuse_unsafe_exposure(Settings(secure_cookies=True, host="0.0.0.0"))
    with pytest.raises(Conflict, match="SECURE_COOKIES"):
        refuse_unsafe_exposure(Settings(secure_cookies=False, host="0.0.0.0"))


def test_accounts_with_public_passwords_are_not_served_outside_the_demo(store: Store) -> None:
    someone = PersonRow(login="e", name="E", role="engineer", password_hash="!", demo=True, **STAMPS)
    with store.begin() as unit:
        unit.session.add(someone)
    refuse_known_passwords(Settings(demo=True), store)
    with pytest.raises(Conflict, match="passwords are public"):
        refuse_known_passwords(Settings(demo=False), store)
    with store.begin() as unit:
        unit.session.get_one(PersonRow, 1).active = False
    refuse_known_passwords(Settings(demo=False), store)


@contextmanager
def served(url: str, pid_file: Path, port: int) -> Iterator[subprocess.Popen[str]]:
    """The command as a process of its own, once it says that it answers."""
    settings = {"DATABASE_URL": url, "PID_FILE": str(pid_file), "PORT": str(port), "WORKER_THREAD": "true"}
    process = subprocess.Popen(
        [sys.executable, "-m", "service.cli", "serve"],
        env=os.environ | {f"RISELINE_{name}": value for name, value in settings.items()},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    try:
        assert f"http://127.0.0.1:{port}" in process.stdout.readline()
        yield process
    finally:
        process.kill()
        process.communicate()


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return int(listening.getsockname()[1])


def test_it_answers_leaves_its_number_and_ends_cleanly_when_told_to(sqlite_url: str, tmp_path: Path) -> None:
    pid_file, port = tmp_path / "pid", free_port()
    with served(sqlite_url, pid_file, port) as process:
        assert int(pid_file.read_text()) == process.pid
        assert httpx.get(f"http://127.0.0.1:{port}/sign-in", timeout=60).status_code == 200
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=20) == 0
    assert not pid_file.exists()


def test_a_port_in_use_is_told_with_what_to_do(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        monkeypatch.setenv("RISELINE_DATABASE_URL", sqlite_url)
        monkeypatch.setenv("RISELINE_PORT", str(taken.getsockname()[1]))
        assert cli.main(["serve"]) == 1
    assert "make stop" in capsys.readouterr().err


def test_a_database_that_was_never_migrated_is_not_served(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("RISELINE_DATABASE_URL", f"sqlite:///{tmp_path / 'none.db'}")
    assert cli.main(["serve"]) == 1
    assert "riseline migrate" in capsys.readouterr().err
