"""The file to be filled in: one row a point, no formulas, last values far right."""

import csv
import io
import zipfile
from datetime import date

import pytest
from python_calamine import CalamineWorkbook

from service.domain.cells import bared
from service.domain.round_columns import COLUMNS, EDITABLE, OFF_ROUND_ROWS, SHEET_NAME, RoundFile, column_of
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
    names = [column.name for column in COLUMNS]
    assert names[-3:] == ["last_on", "last_c", "last_level"]
    assert not {"last_on", "last_c", "last_level"} & {column.name for column in EDITABLE}
    assert max(names.index(column.name) for column in EDITABLE) == len(names) - 4


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
    for column in COLUMNS:
        assert column_of(f" {column.header.upper()} ") is column
    assert len({column.header for column in COLUMNS}) == len(COLUMNS)
    assert column_of("Temperature °F") is None


def test_a_draft_has_no_file_since_rows_have_no_ids(store: Store) -> None:
    walk = draft(store)
    with pytest.raises(Conflict, match="draft"):
        file_of(walk)


def test_the_same_round_gives_the_same_bytes(store: Store) -> None:
    file = file_of(issued(store))
    assert round_file_csv(file) == round_file_csv(file)
    assert round_file_xlsx(file) == round_file_xlsx(file)
