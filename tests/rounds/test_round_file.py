"""The file to be filled in: one row a point, no formulas, last values far right."""

import csv
import io
import zipfile
from datetime import date

import pytest
from python_calamine import CalamineWorkbook

from service.domain.boxes import box_keys
from service.domain.cells import bared
from service.domain.round_columns import (
    BY_NAME,
    COLUMNS,
    EDITABLE,
    OF_BOXES,
    OFF_ROUND_ROWS,
    ON_OCCASION,
    SHEET_NAME,
    RoundFile,
    column_of,
    columns_for,
)
from service.domain.words import Access
from service.errors import Conflict
from service.reports.round_file import round_file_csv, round_file_xlsx
from service.storage.tables.register import EquipmentRow, PointRow, ViewRow
from service.storage.unit import Store
from service.usecases.rounds.round_file import read_round_file
from tests.rounds.builders import NOW, Walk, change, draft, issued, rows_of, stand

#: starts that spreadsheets run (OWASP ASVS 5.0 1.2.10: = + - @ TAB CR)
HOSTILE = ("=1+1", "+1", "-1+2", "@SUM(A1)", "\t=1", "\r=1", "'=1", '=HYPERLINK("http://x")')


def file_of(walk: Walk) -> RoundFile:
    return read_round_file(walk.store, walk.technician(), walk.round.id, now=NOW)


def csv_rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def xlsx_rows(content: bytes) -> list[list[object]]:
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    return book.get_sheet_by_name(SHEET_NAME).to_python()


def test_there_is_a_row_a_point_and_a_block_for_parts_off_the_round(any_store: Store) -> None:
    walk = issued(any_store, boards=2)
    rows = csv_rows(round_file_csv(file_of(walk)))
    made = rows_of(any_store, walk.round.id)
    assert [row["Row id"] for row in rows] == [row.uid for row in made] + [""] * OFF_ROUND_ROWS
    assert {row["Round"] for row in rows} == {walk.round.code}
    assert rows[6]["Stop"] == "stop 2.1"
    assert all(row["Temperature °C"] == "" for row in rows)


def test_both_kinds_of_file_say_the_same(store: Store) -> None:
    walk = issued(store)
    stand(store, walk.plant.point_ids[1], last_temperature_c=36.7, last_read_at=NOW, level=2)
    file = file_of(walk)
    from_csv = [list(row.values()) for row in csv_rows(round_file_csv(file))]
    _, *from_xlsx = xlsx_rows(round_file_xlsx(file))
    plain = [[cell.isoformat() if isinstance(cell, date) else str(cell) for cell in row] for row in from_xlsx]
    assert plain == from_csv
    assert "36.7" in from_csv[1]


def test_last_values_stand_far_right_and_are_not_to_be_filled_in() -> None:
    everything = columns_for(windows=True, distances=True, settling=True, bare_metal=True, boxes=box_keys())
    assert set(everything) == set(BY_NAME.values())
    for columns in (COLUMNS, everything):
        names = [column.name for column in columns]
        assert names[-3:] == ["last_on", "last_c", "last_level"]
        assert [column.editable for column in columns].index(True) == 10
        assert all(column.editable for column in columns[10:-3])
    assert not {"last_on", "last_c", "last_level"} & {column.name for column in EDITABLE}


@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_of_the_register_becomes_a_formula(store: Store, text: str) -> None:
    walk = issued(store)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], name=text, tag=text)
    change(store, ViewRow, walk.plant.view_ids[0], name=text)
    change(store, PointRow, walk.plant.point_ids[0], name=text, tag=text)
    file = file_of(walk)
    cell = csv_rows(round_file_csv(file))[0]["Point tag"]
    assert cell[0] == "'"
    assert bared(cell) == text
    content = round_file_xlsx(file)
    assert bared(str(xlsx_rows(content)[1][6])).replace("\r", "") == text.replace("\r", "")
    with zipfile.ZipFile(io.BytesIO(content)) as book:
        inside = b"".join(book.read(name) for name in book.namelist() if "sheet" in name)
    assert b"<f>" not in inside
    assert b"hyperlink" not in inside.lower()


def test_a_negative_number_stays_a_number(store: Store) -> None:
    walk = issued(store)
    stand(store, walk.plant.point_ids[0], last_temperature_c=-3.2, last_read_at=NOW)
    file = file_of(walk)
    assert csv_rows(round_file_csv(file))[0]["Last °C"] == "-3.2"
    assert xlsx_rows(round_file_xlsx(file))[1][-2] == -3.2


def test_every_header_is_found_again_however_it_is_spaced() -> None:
    for column in BY_NAME.values():
        assert column_of(f" {column.header.upper()} ") is column
    assert len({column.header for column in BY_NAME.values()}) == len(COLUMNS + ON_OCCASION + OF_BOXES)
    assert column_of("Temperature °F") is None


def headers_of(walk: Walk) -> list[str]:
    return list(csv_rows(round_file_csv(file_of(walk)))[0])


def test_a_plain_round_asks_for_no_more_than_it_needs(store: Store) -> None:
    asked = set(headers_of(issued(store)))
    assert not asked & {column.header for column in ON_OCCASION}
    assert asked & {column.header for column in OF_BOXES} == {"Heat pattern", "Discoloured or damaged"}


@pytest.mark.parametrize(
    ("table", "fields", "headers"),
    [
        (EquipmentRow, {"access": Access.WINDOW.value}, {"Through window", "Window transmission", "Window °C", "Transmission set"}),
        (EquipmentRow, {"settle_minutes": 90.0}, {"Minutes at load"}),
        (PointRow, {"target_mm": 12.0}, {"Distance m", "Humidity %", "Path transmission"}),
        (PointRow, {"distance_m": 8.0}, {"Distance m", "Humidity %", "Path transmission"}),
        (PointRow, {"distance_m": 2.0}, set()),
        (PointRow, {"emissivity": 0.62}, {"Emissivity of part", "Emissivity from", "Reflected from", "Reflected set °C"}),
        (PointRow, {"emissivity": 0.94}, set()),
        (PointRow, {"kind": "refractory or insulation"}, {"Inside, process side °C", "Area of the hot place m²"}),
    ],
    ids=["window", "slow to warm", "small", "far", "near", "bare", "painted", "refractory"],
)  # fmt: skip
def test_columns_come_with_the_points_that_ask_for_them(
    store: Store, table: type, fields: dict[str, object], headers: set[str]
) -> None:
    walk = issued(store)
    plain = set(headers_of(walk))
    row_id = walk.plant.equipment_ids[0] if table is EquipmentRow else walk.plant.point_ids[0]
    change(store, table, row_id, **fields)
    assert set(headers_of(walk)) - plain == headers
    assert xlsx_rows(round_file_xlsx(file_of(walk)))[0] == headers_of(walk)


def test_boxes_of_a_component_are_asked_of_it_alone(store: Store) -> None:
    walk = issued(store)
    change(store, PointRow, walk.plant.point_ids[0], kind="coupling or belt", component="jaw coupling")
    assert "Slip seen or heard" not in headers_of(walk)
    change(store, PointRow, walk.plant.point_ids[0], component="V-belt")
    assert "Slip seen or heard" in headers_of(walk)


def test_a_draft_has_no_file_since_rows_have_no_ids(store: Store) -> None:
    walk = draft(store)
    with pytest.raises(Conflict, match="draft"):
        file_of(walk)


def test_the_same_round_gives_the_same_bytes(store: Store) -> None:
    file = file_of(issued(store))
    assert round_file_csv(file) == round_file_csv(file)
    assert round_file_xlsx(file) == round_file_xlsx(file)
