"""One upload of 2,000 readings against raw inserts of the very rows that it left behind.

Parsed, judged and committed through the JSON door, as JSON and as CSV. The yardstick writes the
same final rows (readings, assessments, states, changes, upload, key, audit, job) into a copy of
the database as it was before: by ``executemany`` with ``synchronous=FULL`` on SQLite, by COPY on
PostgreSQL (states by COPY aside and one upsert, since they are there already). Each upload is
followed at once by its own yardstick; the ratio is the median over the pairs.
"""

import csv
import gc
import io
import json
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from statistics import median
from time import perf_counter
from typing import Any

import psycopg
from sqlalchemy import text
from starlette.testclient import TestClient

from service.domain.round_columns import COLUMNS
from service.domain.words import Role
from service.settings import ROOT
from service.storage.engine import open_engine
from service.storage.schema import upgrade
from service.storage.unit import Store
from tests.builders import Plant, build_plant
from tests.doors import open_app, program, token_of
from tests.readings.builders import Issued, issue
from tests.servers import administer, running_server

READINGS, HISTORY, PAIRS, SEED = 2000, 12, 7, 20_262
FIRST, LAST = date(2025, 1, 12), datetime(2030, 1, 1, tzinfo=UTC)
OUT = ROOT / "var" / "bench" / "upload.json"
#: tables in the order in which rows may be written; rows of one upload have ids above the last
TABLES = ("uploads", "readings", "assessments", "standing_changes", "idempotency_keys", "audit", "jobs")


@dataclass
class Ground:
    """A database with a plant and a year of visits, and a client of the service on it."""

    name: str
    url: str
    copy: Callable[[], str]
    store: Store
    plant: Plant
    client: TestClient
    clock: list[datetime]
    draw: Random = field(default_factory=lambda: Random(SEED))
    rounds: int = 0

    def issue(self) -> Issued:
        self.rounds += 1
        issued = issue(self.store, plant=self.plant, day=FIRST + timedelta(days=30 * self.rounds))
        self.clock[0] = issued.received_at
        return issued

    def records(self, issued: Issued) -> list[dict[str, Any]]:
        """Healthy readings of a month: scatter 0.5 K, amps and settings as on a sheet."""
        return [
            issued.record(
                place,
                round(42 + self.draw.gauss(0, 0.5), 1),
                current_a=round(70 + self.draw.gauss(0, 1), 1),
                emissivity_set=0.95,
                point_tag=issued.rows[place][1],
                round_code=issued.code,
            )
            for place in range(READINGS)
        ]


def as_csv(records: list[dict[str, Any]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([column.header for column in COLUMNS])
    writer.writerows([[record.get(column.name, "") for column in COLUMNS] for record in records])
    return out.getvalue().encode()


def timed(work: Callable[[], object]) -> float:
    """Milliseconds; what earlier runs left over is cleared away before."""
    gc.collect()
    begun = perf_counter()
    work()
    return 1000 * (perf_counter() - begun)


def send(ground: Ground, issued: Issued, body: bytes, kind: str) -> None:
    headers = {"Idempotency-Key": f"{issued.code}-{kind}", "Content-Type": kind}
    answer = ground.client.post(f"/api/v1/rounds/{issued.round_id}/uploads", content=body, headers=headers)
    assert answer.status_code == 201, answer.text
    assert answer.json()["rows_new"] == READINGS


def highest(ground: Ground) -> dict[str, int]:
    with ground.store.engine.connect() as connection:
        return {
            table: connection.execute(text(f"SELECT coalesce(max(id), 0) FROM {table}")).scalar_one()
            for table in TABLES
        }


def left_behind(ground: Ground, before: dict[str, int]) -> dict[str, tuple[list[str], list[Any]]]:
    """The rows that one upload wrote, as the driver hands them out, with their columns."""
    found: dict[str, tuple[list[str], list[Any]]] = {}
    raw: Any = ground.store.engine.raw_connection()
    try:
        cursor = raw.cursor()
        for table in TABLES:
            cursor.execute(f"SELECT * FROM {table} WHERE id > {before[table]} ORDER BY id")
            found[table] = ([c[0] for c in cursor.description], [tuple(r) for r in cursor.fetchall()])
        touched = f"SELECT point_id FROM assessments WHERE id > {before['assessments']}"
        cursor.execute(f"SELECT * FROM point_state WHERE point_id IN ({touched})")
        found["point_state"] = ([c[0] for c in cursor.description], [tuple(r) for r in cursor.fetchall()])
    finally:
        raw.close()
    return found


def yardstick_sqlite(url: str, rows: dict[str, tuple[list[str], list[Any]]]) -> float:
    connection = sqlite3.connect(url.removeprefix("sqlite:///"), isolation_level=None)
    for pragma in ("journal_mode=wal", "foreign_keys=on", "synchronous=full"):
        connection.execute(f"PRAGMA {pragma}")

    def write() -> None:
        connection.execute("BEGIN IMMEDIATE")
        for table, (names, values) in rows.items():
            connection.executemany(_insert(table, names, "?"), values)
        connection.execute("COMMIT")

    try:
        return timed(write)
    finally:
        connection.close()


def _insert(table: str, names: list[str], mark: str, source: str = "") -> str:
    columns = ", ".join(f'"{name}"' for name in names)
    values = source or f"VALUES ({', '.join([mark] * len(names))})"
    statement = f"INSERT INTO {table} ({columns}) {values}"
    if table != "point_state":
        return statement
    setting = ", ".join(f'"{name}" = excluded."{name}"' for name in names if name != "point_id")
    return f"{statement} ON CONFLICT (point_id) DO UPDATE SET {setting}"


def yardstick_postgres(url: str, rows: dict[str, tuple[list[str], list[Any]]]) -> float:
    from psycopg.types.json import Json

    prepared = {
        table: (names, [[Json(v) if isinstance(v, dict) else v for v in row] for row in values])
        for table, (names, values) in rows.items()
    }
    with psycopg.connect(url.replace("postgresql+psycopg://", "postgresql://")) as connection:

        def write() -> None:
            cursor = connection.cursor()
            for table, (names, values) in prepared.items():
                columns = ", ".join(f'"{name}"' for name in names)
                into = "aside" if table == "point_state" else table
                if into == "aside":
                    cursor.execute("CREATE TEMP TABLE aside (LIKE point_state) ON COMMIT DROP")
                with cursor.copy(f"COPY {into} ({columns}) FROM STDIN") as copy:
                    for row in values:
                        copy.write_row(row)
                if into == "aside":
                    cursor.execute(_insert(table, names, "", f"SELECT {columns} FROM aside"))
            connection.commit()

        return timed(write)


@contextmanager
def on_sqlite(folder: Path) -> Iterator[Ground]:
    path = folder / "riseline.db"

    def copy() -> str:
        with sqlite3.connect(path) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.close()
        shutil.copy(path, folder / "copy.db")
        for suffix in ("-wal", "-shm"):
            (folder / f"copy.db{suffix}").unlink(missing_ok=True)
        return f"sqlite:///{folder / 'copy.db'}"

    with _ground("SQLite", f"sqlite:///{path}", copy) as ground:
        yield ground


@contextmanager
def on_postgres() -> Iterator[Ground]:
    with running_server(durable=True) as server:
        base, _, tail = server.partition("?")
        stem = base.rsplit("/", 1)[0]
        address = "postgresql+psycopg://" + stem.removeprefix("postgresql://")

        def url(name: str) -> str:
            return f"{address}/{name}?{tail}"

        administer(server, "CREATE DATABASE bench")
        held: list[Ground] = []

        def copy() -> str:
            held[0].store.engine.dispose()
            administer(server, "DROP DATABASE IF EXISTS bench_copy")
            administer(server, "CREATE DATABASE bench_copy TEMPLATE bench")
            administer(server, "CHECKPOINT")
            return url("bench_copy")

        with _ground("PostgreSQL", url("bench"), copy) as ground:
            held.append(ground)
            yield ground


@contextmanager
def _ground(name: str, url: str, copy: Callable[[], str]) -> Iterator[Ground]:
    upgrade(url, migrations=ROOT / "migrations")
    store = Store(open_engine(url))
    plant = build_plant(store, boards=29, views=23)
    clock = [issue(store, plant=plant, day=FIRST).received_at]
    app = open_app(store, lambda: clock[0])
    token = token_of(store, plant.people[Role.TECHNICIAN], clock[0], expires_at=LAST)
    with program(app, token) as client:
        ground = Ground(name, url, copy, store, plant, client, clock)
        for _ in range(HISTORY):
            issued = ground.issue()
            issued.bring(ground.records(issued), key=issued.code)
        yield ground
    store.engine.dispose()


def pairs(ground: Ground, kind: str) -> list[tuple[float, float]]:
    """Milliseconds of each upload and of its own yardstick."""
    yardstick = yardstick_sqlite if ground.name == "SQLite" else yardstick_postgres
    found = []
    for _ in range(PAIRS + 1):
        issued = ground.issue()
        records = ground.records(issued)
        for record in records:
            record.pop("round_code" if kind == "application/json" else "", None)
        body = json.dumps({"rows": records}).encode() if kind == "application/json" else as_csv(records)
        before, copied = highest(ground), ground.copy()
        spent = timed(lambda: send(ground, issued, body, kind))  # noqa: B023
        found.append((spent, yardstick(copied, left_behind(ground, before))))
    return found[1:]


def main() -> None:
    told: dict[str, Any] = {"readings": READINGS, "earlier_visits": HISTORY, "pairs": PAIRS}
    print(f"{'database':<12}{'body':<6}{'upload ms':>11}{'raw ms':>9}{'ratio':>8}{'goal':>7}")
    with tempfile.TemporaryDirectory() as folder:
        for ground_of, short, goal in (
            (lambda: on_sqlite(Path(folder)), "sqlite", 4),
            (on_postgres, "pg", 3),
        ):
            with ground_of() as ground:
                for kind, word in (("application/json", "json"), ("text/csv", "csv")):
                    both = pairs(ground, kind)
                    uploads, raws = zip(*both, strict=True)
                    ratio = median(upload / raw for upload, raw in both)
                    told[f"ratio_{short}" + ("" if word == "json" else "_csv")] = round(ratio, 2)
                    told[f"ms_{short}_{word}"] = round(median(uploads), 1)
                    told[f"raw_ms_{short}_{word}"] = round(median(raws), 1)
                    print(
                        f"{ground.name:<12}{word:<6}{median(uploads):>11.1f}{median(raws):>9.1f}"
                        f"{ratio:>8.2f}{'≤ ' + str(goal):>7}",
                        flush=True,
                    )
    OUT.parent.mkdir(parents=True, exist_ok=True)
    OUT.write_text(json.dumps(told, indent=1) + "\n")


if __name__ == "__main__":
    main()
