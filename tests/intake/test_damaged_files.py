"""Two hundred damaged upload files: each gets a clear list of problems, or is stored whole.

A sound file of a round (CSV in several ways of writing it, and XLSX) is damaged at random: bytes,
columns, encodings, a hundred thousand rows, an archive that unpacks to a flood. Never a 5xx, and
never a part of it stored.
"""

import csv
import io
import json
import shutil
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from random import Random

import pytest
import xlsxwriter
from fastapi import FastAPI
from sqlalchemy import text
from starlette.testclient import TestClient

from service.domain.round_columns import COLUMNS, SHEET_NAME
from service.domain.words import Role
from service.storage.engine import open_engine
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from tests.conftest import NOW
from tests.doors import open_app, program, token_of
from tests.readings.builders import Issued, issue

FILES = 200
SEED = 20_261_125
CSV, XLSX = "text/csv", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
Grid = list[list[str]]


def sound(issued: Issued) -> Grid:
    """The cells of a filled file, titles first."""
    rows: Grid = [[column.header for column in COLUMNS]]
    for place, (uid, tag, _point, _view) in enumerate(issued.rows):
        typed = {"round_code": issued.code, "row_uid": uid, "point_tag": tag, "taken_at": "2026-11-24 08:30"}
        typed |= {
            "temperature_c": f"{40 + place % 7 / 10}",
            "ambient_c": "21.5",
            "current_a": "90.5",
            "note": "é, ü; Ω",
        }
        rows.append([typed.get(column.name, "") for column in COLUMNS])
    return rows


def as_csv(grid: Grid, separator: str = ";", encoding: str = "utf-8") -> bytes:
    out = io.StringIO()
    csv.writer(out, delimiter=separator).writerows(grid)
    return out.getvalue().encode(encoding, "replace")


def as_workbook(grid: Grid) -> bytes:
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_numbers": True}) as book:
        sheet = book.add_worksheet(SHEET_NAME)
        for place, row in enumerate(grid):
            sheet.write_row(place, 0, row)
    return out.getvalue()


# ---- damage --------------------------------------------------------------------------------


def flip_bytes(draw: Random, content: bytes) -> bytes:
    damaged = bytearray(content)
    for _ in range(draw.choice((1, 3, 30, 300))):
        damaged[draw.randrange(len(damaged))] = draw.randrange(256)
    return bytes(damaged)


def cut_off(draw: Random, content: bytes) -> bytes:
    return content[: draw.randrange(len(content))]


def cut_out(draw: Random, content: bytes) -> bytes:
    begin = draw.randrange(len(content))
    return content[:begin] + content[begin + draw.randrange(1, 400) :]


def repeat_a_part(draw: Random, content: bytes) -> bytes:
    begin = draw.randrange(len(content))
    part = content[begin : begin + draw.randrange(1, 2000)]
    return content[:begin] + part * draw.randint(2, 20) + content[begin:]


def sow_zeros(draw: Random, content: bytes) -> bytes:
    place = draw.randrange(len(content))
    return content[:place] + b"\x00" * draw.randint(1, 50) + content[place:]


def drop_columns(draw: Random, grid: Grid) -> Grid:
    gone = set(draw.sample(range(len(grid[0])), draw.randint(1, 12)))
    return [[cell for place, cell in enumerate(row) if place not in gone] for row in grid]


def shuffle_columns(draw: Random, grid: Grid) -> Grid:
    order = draw.sample(range(len(grid[0])), len(grid[0]))
    return [[row[place] for place in order] for row in grid]


def rename_columns(draw: Random, grid: Grid) -> Grid:
    titles = [
        t if draw.random() > 0.2 else draw.choice(("", t.upper(), t + "?", "Temp", t * 40)) for t in grid[0]
    ]
    return [titles, *grid[1:]]


def double_a_column(draw: Random, grid: Grid) -> Grid:
    place = draw.randrange(len(grid[0]))
    return [[*row, row[place]] for row in grid]


def ragged(draw: Random, grid: Grid) -> Grid:
    return [
        row[: draw.randint(0, len(row))] + ["x"] * draw.randint(0, 9) if draw.random() < 0.3 else row
        for row in grid
    ]


ODD = (
    "−40",
    "1e309",
    "nan",
    "#N/A",
    "=1+1",
    "'=1+1",
    "40,5",
    "4 0",
    "\u202e40",
    "💥",
    "\ufffd",
    "y" * 1500,
    "0x28",
    "١٢",
)


def odd_cells(draw: Random, grid: Grid) -> Grid:
    damaged = [list(row) for row in grid]
    for _ in range(draw.randint(1, 60)):
        row = damaged[draw.randrange(1, len(damaged))]
        row[draw.randrange(len(row))] = draw.choice(ODD)
    return damaged


def shift_rows(draw: Random, grid: Grid) -> Grid:
    """As a spreadsheet does when one column is sorted and the others are not."""
    place = draw.randrange(len(grid[0]))
    column = [row[place] for row in grid[1:]]
    draw.shuffle(column)
    return [
        grid[0],
        *[[*row[:place], cell, *row[place + 1 :]] for row, cell in zip(grid[1:], column, strict=True)],
    ]


BYTES: tuple[Callable[[Random, bytes], bytes], ...] = (flip_bytes, cut_off, cut_out, repeat_a_part, sow_zeros)
CELLS: tuple[Callable[[Random, Grid], Grid], ...] = (
    drop_columns,
    shuffle_columns,
    rename_columns,
    double_a_column,
    odd_cells,
    shift_rows,
    ragged,
)
ENCODINGS = ("utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le", "utf-7", "latin-1", "utf-32", "cp500")


@dataclass(frozen=True)
class Damaged:
    name: str
    kind: str
    content: bytes


def hundred_thousand_rows(grid: Grid) -> bytes:
    return as_csv([grid[0]]) + as_csv(grid[1:2]) * 100_000


def bomb(grid: Grid) -> bytes:
    """A workbook whose sheet is 300 MiB of spaces, packed a thousand to one."""
    sound_one = io.BytesIO(as_workbook(grid))
    out = io.BytesIO()
    with zipfile.ZipFile(sound_one) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            new.writestr(entry.filename, old.read(entry))
        new.writestr("xl/worksheets/sheet2.xml", b" " * (300 * 1024 * 1024))
    return out.getvalue()


def files(grid: Grid, count: int) -> Iterator[Damaged]:
    """So many damaged files, drawn with a fixed seed; the two great ones come first."""
    yield Damaged("a hundred thousand rows", CSV, hundred_thousand_rows(grid))
    yield Damaged("a bomb", XLSX, bomb(grid))
    draw = Random(SEED)
    for number in range(count - 2):
        damaged, names = grid, []
        harms = draw.sample(CELLS, draw.choice((0, 1, 1, 2)))
        for harm in sorted(harms, key=CELLS.index):  # ragged rows last: the others want whole ones
            damaged = harm(draw, damaged)
            names.append(harm.__name__)
        kind = XLSX if number % 6 == 0 else CSV
        if kind == XLSX:
            content = as_workbook(damaged)
        else:
            encoding = draw.choice(ENCODINGS)
            names.append(encoding)
            content = as_csv(damaged, draw.choice(";,\t|:"), encoding)
        if draw.random() < 0.6 or not names:
            injury = draw.choice(BYTES)
            content = injury(draw, content)
            names.append(injury.__name__)
        yield Damaged(f"{number}: {' + '.join(names)}", kind, content)


# ---- what happens to them ------------------------------------------------------------------


@dataclass
class Ground:
    """An issued round in a database that is copied afresh after every file that was stored."""

    template: Path
    path: Path
    issued: Issued
    token: str

    def app(self) -> tuple[FastAPI, Store]:
        for suffix in ("-wal", "-shm"):
            Path(f"{self.path}{suffix}").unlink(missing_ok=True)
        shutil.copy(self.template, self.path)
        store = Store(open_engine(f"sqlite:///{self.path}"))
        return open_app(store, lambda: NOW), store


@pytest.fixture
def ground(sqlite_template: Path, tmp_path: Path) -> Ground:
    template = tmp_path / "round.db"
    shutil.copy(sqlite_template, template)
    engine = open_engine(f"sqlite:///{template}")
    store = Store(engine)
    ensure_presets(store, now=NOW)
    issued = issue(store, boards=2, views=4, day=date(2026, 11, 24))
    token = token_of(store, issued.plant.people[Role.TECHNICIAN], NOW)
    engine.dispose()
    return Ground(template, tmp_path / "copy.db", issued, token)


def rows_in(store: Store) -> dict[str, int]:
    with store.look() as unit:
        return {
            table: unit.session.execute(text(f"SELECT count(*) FROM {table}")).scalar_one()
            for table in (
                "readings",
                "assessments",
                "uploads",
                "idempotency_keys",
                "findings",
                "jobs",
                "audit",
            )
        }


def wrong_with(client: TestClient, store: Store, damaged: Damaged, issued: Issued) -> tuple[str, str]:
    """(how it ended, what was wrong with that; empty when all is well)."""
    before = rows_in(store)
    answer = client.post(
        f"/api/v1/rounds/{issued.round_id}/uploads",
        content=damaged.content,
        headers={"Idempotency-Key": "k", "Content-Type": damaged.kind},
    )
    after = rows_in(store)
    if answer.status_code == 201:
        stored, told = after["readings"] - before["readings"], answer.json()["rows_new"]
        whole = stored == told == after["assessments"] - before["assessments"] and after["uploads"] == 1
        return "stored", "" if whole else f"{damaged.name}: {stored} stored, {told} told"
    if answer.status_code not in (413, 422):
        return "refused", f"{damaged.name}: answered {answer.status_code}"
    if after != before:
        return "refused", f"{damaged.name}: refused, and yet {after} instead of {before}"
    problems = answer.json().get("problems") or []
    clear = answer.status_code == 413 or (problems and all(p["message"] and p["remedy"] for p in problems))
    return (
        "refused",
        "" if clear else f"{damaged.name}: refused without saying why: {json.dumps(answer.json())[:300]}",
    )


def test_damaged_files_are_told_or_stored_whole(ground: Ground) -> None:
    grid = sound(ground.issued)
    ends: Counter[str] = Counter()
    wrong: list[str] = []
    app, store = ground.app()
    client = program(app, ground.token)
    for damaged in files(grid, FILES):
        end, fault = wrong_with(client, store, damaged, ground.issued)
        ends[end] += 1
        wrong += [fault] if fault else []
        if end == "stored":
            store.engine.dispose()
            app, store = ground.app()
            client = program(app, ground.token)
    store.engine.dispose()
    assert wrong == []
    assert sum(ends.values()) == FILES
    assert ends["stored"] >= 5, f"the damage leaves nothing to store, so this proves little: {ends}"
    assert ends["refused"] >= 100, ends


def test_the_sound_file_is_stored_in_every_way_of_writing_it(ground: Ground) -> None:
    grid = sound(ground.issued)
    ways = [
        Damaged(f"{s!r} {e}", CSV, as_csv(grid, s, e))
        for s in ";,\t"
        for e in ("utf-8", "utf-8-sig", "cp1252")
    ]
    ways.append(Damaged("workbook", XLSX, as_workbook(grid)))
    comma = [
        [cell.replace(".", ",") if cell.replace(".", "").isdigit() else cell for cell in row] for row in grid
    ]
    ways.append(Damaged("decimal comma", CSV, as_csv(comma, ";")))
    for way in ways:
        app, store = ground.app()
        end, fault = wrong_with(program(app, ground.token), store, way, ground.issued)
        assert (way.name, end, fault) == (way.name, "stored", "")
        assert rows_in(store)["readings"] == len(ground.issued.rows)
        store.engine.dispose()
