"""What reaches the server from the field app through a line that breaks in every way, and the server killed.

The figures are counts, not times: of everything typed and acknowledged on the device, how much is
lost and how much is there twice. The full size is the thousand schedules of ``make torture``.
"""

import json
import sys
import tempfile
from dataclasses import asdict
from pathlib import Path

from playwright.sync_api import sync_playwright

from bench.field_screens import measure
from service.settings import ROOT
from service.storage.schema import upgrade
from tests.browser.conftest import ARGUMENTS, MISSING, chromium_path
from tests.field.schedules import Tally, ground, run

SCHEDULES, SEED = 40, 20_261_129
OUT = ROOT / "var" / "bench" / "field.json"


def faults(schedules: int = SCHEDULES, *, seed: int = SEED) -> tuple[Tally, dict[str, int]]:
    """Run schedules of faults in Chromium; the tally, and how often each fault was met."""
    path = chromium_path()
    if path is None:
        raise RuntimeError(MISSING)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        url = f"sqlite:///{folder}/riseline.db"
        upgrade(url, migrations=ROOT / "migrations")
        browser = playwright.chromium.launch(executable_path=path, args=list(ARGUMENTS))
        with ground(url, browser, seed=seed) as made:
            return run(made, schedules), dict(made.line.met)


def keep(figures: dict[str, object], out: Path = OUT) -> None:
    """Write the figures beside those that other parts of the bench have written there."""
    before = json.loads(out.read_text()) if out.exists() else {}
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(json.dumps(before | figures, indent=1) + "\n")


def main() -> None:
    tally, met = faults()
    keep(asdict(tally) | {"faults": met})
    print(
        f"{tally.schedules} schedules, {tally.sends} sends, {tally.acknowledged} acknowledged: "
        f"{tally.lost} lost, {tally.doubled} doubled, {len(tally.breaches)} otherwise wrong"
    )
    screens = measure()
    keep(asdict(screens))
    print(
        f"pack of {screens.pack_points} points {screens.pack_kb} kB; no signal, processor four times slower: "
        f"first screen {screens.first_screen_ms} ms, key {screens.key_ms} ms (slowest {screens.key_ms_slowest})"
    )
    if tally.lost or tally.doubled or tally.breaches:
        print("\n".join(tally.breaches), file=sys.stderr)
        raise SystemExit(1)


if __name__ == "__main__":
    main()
