"""Print how calm the demonstration is: `python -m seed_data.report [address of a loaded database]`.

Without an address the demonstration is loaded into a file that is thrown away.
"""

import sys
import tempfile
from datetime import datetime
from pathlib import Path

from seed_data.calm import Calm, found_faults, level_counts, measure_calm
from seed_data.flagged import flagged_faults
from seed_data.load import load_world
from seed_data.world import World, build_world
from service.domain.words import NO_VERDICT, Level
from service.settings import ROOT
from service.storage.engine import open_engine
from service.storage.unit import Store
from service.usecases.record.migrate import migrate
from service.usecases.surroundings import system_clock


def main() -> None:
    """Measure and print."""
    now = system_clock()
    world = build_world(now.date())
    if len(sys.argv) > 1:
        _print(Store(open_engine(sys.argv[1])), world, now)
        return
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'demo.db'}"
        migrate(url, migrations=ROOT / "migrations", now=now)
        store = Store(open_engine(url))
        load_world(store, world, now=now)
        _print(store, world, now)
        store.engine.dispose()


def _print(store: Store, world: World, now: datetime) -> None:
    print(*lines_of(measure_calm(store, world, now=now)), sep="\n")
    counts = level_counts(store, now=now)
    print("\nStandings now: " + ", ".join(f"{word} {count}" for word, count in counts.items()))
    told = {tag: NO_VERDICT if level is None else Level(level).word for tag, level in
            found_faults(store, world, now=now).items()}  # fmt: skip
    print("\nPlanted faults, and when today's rules would have flagged them:")
    print(*flagged_faults(store, world, now=now), sep="\n")
    print("\nLive faults: " + ", ".join(f"{tag} {word}" for tag, word in told.items()))


def lines_of(calm: Calm) -> list[str]:
    """Two tables: healthy readings by year, healthy standings by day; one column a kind of reference."""
    kinds = sorted({kind for _, kind in calm.readings} | {kind for _, kind in calm.standings})
    head = "".join(f"{kind:>28}" for kind in kinds)
    lines = [f"{'Healthy readings above 0':<26}{head}"]
    for year in sorted({year for year, _ in calm.readings}):
        row = "".join(f"{calm.readings.get((year, kind), '')!s:>28}" for kind in kinds)
        lines.append(f"{year:<26}{row}")
    row = "".join(f"{calm.readings_of(kind)!s:>28}" for kind in kinds)
    lines += [f"{'all':<26}{row}", "", f"{'Healthy standings above 0':<26}{head}{'all kinds':>28}"]
    for day in sorted({day for day, _ in calm.standings}):
        row = "".join(f"{calm.standings.get((day, kind), '')!s:>28}" for kind in kinds)
        lines.append(f"{day!s:<26}{row}{calm.standings_on(day)!s:>28}")
    return lines + (calm.complaints() or ["Calm enough: within 2 % of readings and 4 % of standings."])


if __name__ == "__main__":
    main()
