"""The end of a run says what could not be proven, in one process or several; with CI set it fails."""

import os
import re
import subprocess
import sys
from pathlib import Path

from service.settings import ROOT

SKIPPED = """
import pytest

@pytest.fixture
def chromium():
    pytest.skip("NO CHROMIUM HERE: told by a test")

def test_of_a_screen(chromium):
    raise AssertionError("not reached")

def test_of_nothing_special():
    pytest.skip("for another reason")

def test_that_holds():
    pass
"""
APART = ("-n", "1", "--dist", "loadscope", "--no-loadscope-reorder")


def run(folder: Path, *options: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """This house's rules over a folder of its own."""
    (folder / "test_skipped.py").write_text(SKIPPED)
    command = [sys.executable, "-m", "pytest", "-c", str(ROOT / "pyproject.toml"), "-p", "tests.conftest"]
    given = {name: value for name, value in os.environ.items() if name not in ("CI", "PYTEST_ADDOPTS")}
    given = {name: value for name, value in given.items() if not name.startswith("PYTEST_XDIST")}
    return subprocess.run(
        [*command, "--rootdir", str(folder), "-p", "no:cacheprovider", "-v", *options, str(folder)],
        cwd=ROOT, env=given | environment, capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_what_was_not_proven_is_told(tmp_path: Path) -> None:
    told = run(tmp_path)
    assert "NOT PROVEN HERE" in told.stdout, told.stdout + told.stderr
    assert "NO CHROMIUM HERE: told by a test" in told.stdout
    assert "\n1 tests were skipped\n" in told.stdout, "what was skipped for another reason is not counted"
    assert told.returncode == 0


def test_in_ci_it_fails_though_another_process_ran_the_tests(tmp_path: Path) -> None:
    told = run(tmp_path, *APART, CI="true")
    assert "NO CHROMIUM HERE: told by a test" in told.stdout, told.stdout + told.stderr
    assert "\n1 tests were skipped; in CI that is a failure\n" in told.stdout
    assert told.returncode == 1
    assert re.search(r"Using --randomly-seed=\d+", told.stdout), "the seed of the order is told"
