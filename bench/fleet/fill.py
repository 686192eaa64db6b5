"""Fill an empty database with a fleet, the same for the same size and seed."""

import hashlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
from sqlalchemy import select, text

from bench.fleet.lives import draw_lives
from bench.fleet.register import Size, build_register
from bench.fleet.standings import write_standings
from bench.fleet.visits import write_visits
from service.domain.presets import DEFAULT_CRITERIA
from service.domain.words import Role
from service.settings import ROOT
from service.storage.criteria import add_missing_presets
from service.storage.tables.base import Base
from service.storage.tables.register import CriteriaSetRow
from service.storage.unit import Store, Unit
from tests.builders import MADE, Plant, build_plant

SEED = 20_263
#: a million readings, and the same house a hundred times smaller
LARGE = Size(sites=40, boards=25, feeders=6, pumps=25, visits=49, logged=10, more=2000, findings=300)
SMALL = Size(sites=4, boards=2, feeders=6, pumps=7, visits=49, logged=1, more=200, findings=6, areas=2)


def fingerprint(size: Size) -> str:
    """Changes with the schema, the seed, the size and the way it is filled."""
    told = hashlib.sha256(repr((size, SEED)).encode())
    sources = [*(ROOT / "migrations" / "versions").glob("*.py"), *Path(__file__).parent.glob("*.py")]
    for path in sorted(sources):
        told.update(path.read_bytes())
    return told.hexdigest()[:12]


def fill(store: Store, size: Size, *, say: Callable[[str], None]) -> Plant:
    """People from the tests' builders, everything else by columns."""
    draw = np.random.default_rng(SEED)
    plant = build_plant(store, sites=0)
    name = CriteriaSetRow.name
    with store.begin() as unit:
        add_missing_presets(unit, now=MADE)
        ids = {
            "criteria": unit.session.scalars(
                select(CriteriaSetRow.id).where(name == DEFAULT_CRITERIA.id)
            ).one(),
            "instrument": plant.instrument_id,
            "walker": plant.people[Role.TECHNICIAN],
            "engineer": plant.people[Role.ENGINEER],
        }
        fleet = build_register(unit, size, client_id=plant.client_id)
        lives = draw_lives(fleet, draw)
        say(f"{size.points:,} points at {size.sites} sites; writing {size.readings:,} readings")
        write_visits(unit, fleet, lives, draw=draw, ids=ids)
        write_standings(unit, fleet, lives, draw=draw, ids=ids)
        if unit.dialect == "postgresql":
            _count_on(unit)
    return plant


def _count_on(unit: Unit) -> None:
    """Sequences go on after the ids that were written by hand."""
    for table in Base.metadata.sorted_tables:
        if "id" in table.columns:
            last = f"SELECT coalesce(max(id), 1) FROM {table.name}"
            unit.connection.execute(
                text(f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), ({last}))")
            )
