"""Bringing a register in: look first, all or nothing, twice is once, every bad row told."""

import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.register import Noun
from service.domain.words import Role
from service.errors import Forbidden, Invalid
from service.reports.register_workbook import register_csv, register_workbook
from service.storage.unit import Store
from service.usecases.register.create import create_thing
from service.usecases.register.export_register import filled_workbook
from service.usecases.register.import_register import commit_import, preview_import
from service.usecases.register.retire import retire_thing
from tests.builders import Plant, build_plant
from tests.intake.workbooks import workbook
from tests.register.builders import csv_of, flat_row, flat_rows, keeper, workbook_of
from tests.register.counting import ask, counts


def empty_plant(store: Store) -> Plant:
    """One client without sites, and its people."""
    return build_plant(store, sites=0)


def everywhere(plant: Plant) -> Any:
    """An engineer whose grants follow the sites that are added."""
    return keeper(plant, every_site=True)


def three_sites() -> bytes:
    """A workbook of three sites as somebody would make it: a sheet per kind of thing."""
    codes = ("WEN", "SAL", "RAV")
    return workbook_of(
        {
            "Sites": [
                {"Site code": c, "Site name": f"{c} works", "Time zone": "Europe/London", "Latitude": 54.5}
                for c in codes
            ],
            "Areas": [
                {"Site code": c, "Area code": "SWR", "Area name": "Switchroom", "East of the gate m": 40}
                for c in codes
            ],
            "Equipment": [
                {
                    "Site code": c, "Area code": "SWR", "Equipment tag": f"{c}-MCC1", "Equipment name": "MCC 1",
                    "Access": "hinged cover", "Rated current A": 400, "Load hours": "mon-fri 07:00-11:30",
                }
                for c in codes
            ],
            "Views": [
                {"Site code": c, "Equipment tag": f"{c}-MCC1", "View tag": f"{c}-F1", "View name": "Feeder 1"}
                for c in codes
            ],
            "Points": [
                {
                    "Site code": c, "View tag": f"{c}-F1", "Point tag": f"{c}-F1-{p}", "Point name": f"Terminal {p}",
                    "Kind": "joint", "Phase": p, "Emissivity": 0.95, "Common load A": 100,
                    "Last greased": date(2026, 5, 4),
                }
                for c in codes
                for p in ("L1", "L2", "L3")
            ],
            "Instruments": [{"Instrument serial": "TC-7", "Instrument name": "Camera 2", "Accuracy K": 2}],
        }
    )  # fmt: skip


def test_three_sites_come_in_from_a_workbook(any_store: Store, now: datetime) -> None:
    plant = empty_plant(any_store)
    before = counts(any_store)
    looked = preview_import(any_store, keeper(plant), three_sites())
    assert (looked.problem_count, looked.new, looked.stored) == (0, 3 + 3 + 3 + 3 + 9 + 1, False)
    assert counts(any_store) == before
    report = commit_import(any_store, keeper(plant), three_sites(), now=now)
    assert report.stored
    after = counts(any_store)
    assert {table: after[table] - before[table] for table in ("sites", "areas", "equipment", "views", "points")} == {
        "sites": 3, "areas": 3, "equipment": 3, "views": 3, "points": 9,
    }  # fmt: skip
    assert after["point_state"] == after["view_members"] == after["common_loads"] == 9
    assert after["site_state"] == 3
    row = ask(
        any_store,
        "SELECT p.name, p.phase, p.emissivity, p.last_greased_on, p.walking_order, e.access, a.x_m, s.latitude"
        " FROM points p JOIN views v ON v.id = p.view_id JOIN equipment e ON e.id = v.equipment_id"
        " JOIN areas a ON a.id = e.area_id JOIN sites s ON s.id = a.site_id WHERE p.tag = 'SAL-F1-L2'",
    )
    assert [(*rest[:3], str(rest[3]), *rest[4:]) for rest in row] == [
        ("Terminal L2", "L2", 0.95, "2026-05-04", 20, "hinged cover", 40.0, 54.5)
    ]


def test_a_flat_csv_says_the_same_as_a_sheet_for_each(any_store: Store, now: datetime) -> None:
    plant = empty_plant(any_store)
    commit_import(any_store, keeper(plant), csv_of(flat_rows(7)), now=now)
    after = counts(any_store)
    assert [after[t] for t in ("sites", "areas", "equipment", "views", "points")] == [1, 1, 1, 3, 7]


def test_the_same_file_twice_changes_nothing(any_store: Store, now: datetime) -> None:
    plant = empty_plant(any_store)
    commit_import(any_store, keeper(plant), three_sites(), now=now)
    once = counts(any_store)
    versions = ask(any_store, "SELECT id, version, changed_at FROM points ORDER BY id")
    again = commit_import(any_store, everywhere(plant), three_sites(), now=now)
    assert (again.new, again.changed, again.unchanged) == (0, 0, 22)
    assert counts(any_store) == once
    assert ask(any_store, "SELECT id, version, changed_at FROM points ORDER BY id") == versions


def test_what_is_sent_out_comes_back_without_a_change(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store, sites=2, bearings=1)
    create_thing(
        any_store, keeper(plant), Noun.AREA, parent_id=plant.site_ids[0],
        fields={"code": "=1+1", "name": "'quoted' and @home", "walking_order": "-"}, now=now,
    )  # fmt: skip
    report = preview_import(any_store, keeper(plant), filled_workbook(any_store, keeper(plant)))
    assert (report.problem_count, report.new, report.changed) == (0, 0, 0)
    assert report.unchanged == 2 + 3 + 4 + 6 + 14 + 1


@pytest.mark.parametrize("template", [register_workbook, register_csv])
def test_the_template_is_understood_and_holds_nothing(store: Store, template: Any) -> None:
    plant = empty_plant(store)
    report = preview_import(store, keeper(plant), template())
    assert [problem.message for problem in report.problems] == ["There is no row in it."]


def test_a_change_is_shown_field_by_field_and_kept_with_its_history(any_store: Store, now: datetime) -> None:
    plant = empty_plant(any_store)
    commit_import(any_store, keeper(plant), csv_of(flat_rows(2)), now=now)
    changed = csv_of(
        [
            flat_row(1),
            flat_row(2, Common_load_A=120, Like_part="no", Point_name="-") | {"Point name": "New name"},
        ]
    )
    report = commit_import(any_store, everywhere(plant), changed, now=now)
    assert {(c.key[-1], c.field, c.was, c.becomes) for c in report.changes} == {
        ("MCC1-P002", "common_load_a", 100.0, 120.0),
        ("MCC1-P002", "like_part", True, False),
        ("MCC1-P002", "name", "Line terminal 2", "New name"),
    }
    assert ask(any_store, "SELECT version, common_load_version FROM points WHERE tag = 'MCC1-P002'") == [
        (2, 2)
    ]
    assert ask(any_store, "SELECT count(*) FROM common_loads") == [(3,)]
    assert ask(any_store, "SELECT count(*) FROM view_members WHERE to_at IS NULL") == [(1,)]
    assert ask(any_store, "SELECT count(*) FROM audit WHERE verb = 'edit' AND noun = 'point'") == [(1,)]


def test_an_empty_cell_leaves_and_a_dash_empties(store: Store, now: datetime) -> None:
    plant = empty_plant(store)
    commit_import(store, keeper(plant), csv_of([flat_row(1, Coating="tin")]), now=now)
    commit_import(store, everywhere(plant), csv_of([flat_row(1, Coating="", Emissivity="-")]), now=now)
    assert ask(store, "SELECT coating, emissivity FROM points") == [("tin", None)]


def test_equipment_moves_to_the_area_the_file_says(any_store: Store, now: datetime) -> None:
    plant = empty_plant(any_store)
    commit_import(any_store, keeper(plant), csv_of([flat_row(1)]), now=now)
    report = commit_import(
        any_store, everywhere(plant), csv_of([flat_row(1, Area_code="YARD", Area_name="Yard")]), now=now
    )
    assert (report.new, report.changed) == (1, 1)
    query = "SELECT a.code FROM equipment e JOIN areas a ON a.id = e.area_id"
    assert ask(any_store, query) == [("YARD",)]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_a_decimal_comma_holds_for_the_whole_file(
    store: Store, now: datetime, separator: str, encoding: str
) -> None:
    plant = empty_plant(store)
    rows = [
        flat_row(1, Emissivity="0,95", Common_load_A="1.250,5", Point_name="Käfig"),
        flat_row(2, Emissivity="0,9"),
    ]
    report = commit_import(
        store, keeper(plant), csv_of(rows, separator=separator, encoding=encoding), now=now
    )
    assert (report.decimal, report.decimal_by) == (",", "seen")
    assert ask(store, "SELECT name, emissivity, common_load_a FROM points WHERE id = 1") == [
        ("Käfig", 0.95, 1250.5)
    ]


def test_mixed_decimal_signs_are_asked_about_never_guessed(store: Store, now: datetime) -> None:
    plant = empty_plant(store)
    mixed = csv_of([flat_row(1, Emissivity="0,95"), flat_row(2, Emissivity="0.9")], separator=";")
    looked = preview_import(store, keeper(plant), mixed)
    assert [problem.field for problem in looked.problems] == ["decimal"]
    unsure = csv_of([flat_row(1, Emissivity="", Common_load_A="1,250")], separator=";")
    assert preview_import(store, keeper(plant), unsure).problem_count == 1
    commit_import(store, keeper(plant), unsure, decimal=",", now=now)
    assert ask(store, "SELECT common_load_a FROM points") == [(1.25,)]


# ---- refusals ----------------------------------------------------------------------------------

#: what is wrong → the change to a row, and the column that is told
BAD_ROWS: dict[str, tuple[dict[str, Any], str]] = {
    "no site": ({"Site code": ""}, "Site code"),
    "a name without its tag": ({"Point tag": ""}, "Point tag"),
    "no name": ({"Point name": ""}, "Point name"),
    "no kind": ({"Kind": ""}, "Kind"),
    "a kind that is none": ({"Kind": "joynt"}, "Kind"),
    "an emissivity over one": ({"Emissivity": "1.95"}, "Emissivity"),
    "a number with its unit": ({"Common load A": "100 A"}, "Common load A"),
    "a negative current": ({"Common load A": "-5"}, "Common load A"),
    "a tag of a hundred letters": ({"Point tag": "T" * 100}, "Point tag"),
}
#: told only once the cells of the whole file are sound to compare with the register
CELLWISE = {"no name", "no kind"}
MOMENT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


@pytest.mark.parametrize("name", BAD_ROWS)
def test_a_bad_row_is_told_with_row_column_found_and_remedy(store: Store, now: datetime, name: str) -> None:
    plant = empty_plant(store)
    change, column = BAD_ROWS[name]
    rows = [flat_row(1), flat_row(2) | change, flat_row(3)]
    before = counts(store)
    with pytest.raises(Invalid) as invalid:
        commit_import(store, keeper(plant), csv_of(rows), now=now)
    assert ("row 3", column) in {(problem.where, problem.field) for problem in invalid.value.problems}
    assert all(problem.message and problem.remedy for problem in invalid.value.problems)
    assert counts(store) == before


Importer = Callable[[Store, Plant, list[dict[str, Any]]], None]


def all_or_nothing(store: Store, plant: Plant, rows: list[dict[str, Any]]) -> None:
    commit_import(store, keeper(plant), csv_of(rows), now=MOMENT)


def from_a_workbook(store: Store, plant: Plant, rows: list[dict[str, Any]]) -> None:
    commit_import(store, keeper(plant), workbook_of({"Points": rows}), now=MOMENT)


def row_by_row(store: Store, plant: Plant, rows: list[dict[str, Any]]) -> None:
    """Broken twin: stores what it can before it meets the bad row."""
    for number, row in enumerate(rows, start=1):
        try:
            commit_import(store, everywhere(plant), csv_of([row]), now=MOMENT)
        except Invalid as invalid:
            raise Invalid(replace(p, where=f"row {number + 1}") for p in invalid.problems) from invalid


def first_problem_only(store: Store, plant: Plant, rows: list[dict[str, Any]]) -> None:
    """Broken twin: stops at the first problem."""
    try:
        all_or_nothing(store, plant, rows)
    except Invalid as invalid:
        raise Invalid(invalid.problems[:1]) from invalid


def faults_of(importer: Importer, store: Store, plant: Plant, bad: Mapping[int, str]) -> list[str]:
    """What an importer does wrong with thirty rows, some of them bad (reliability R4)."""
    rows = [flat_row(n) | (BAD_ROWS[bad[n]][0] if n in bad else {}) for n in range(1, 31)]
    before = counts(store)
    told: set[tuple[str, str]] = set()
    try:
        importer(store, plant, rows)
    except Invalid as invalid:
        told = {(problem.where.rsplit(", ", 1)[-1], problem.field) for problem in invalid.problems}
    missing = {(f"row {n + 1}", BAD_ROWS[name][1]) for n, name in bad.items()} - told
    stored = {table for table, count in counts(store).items() if count != before[table]}
    return [f"not told: {where}" for where in sorted(missing)] + [
        f"stored in {table}" for table in sorted(stored)
    ]


@settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    bad=st.dictionaries(st.integers(1, 30), st.sampled_from(sorted(set(BAD_ROWS) - CELLWISE)), min_size=1),
    importer=st.sampled_from([all_or_nothing, from_a_workbook]),
)
def test_bad_rows_anywhere_store_nothing_and_are_all_told(
    store: Store, bad: dict[int, str], importer: Importer
) -> None:
    """R4: a file with a bad row anywhere; every bad row is reported, none is stored."""
    assert faults_of(importer, store, _plant_of(store), bad) == []


@pytest.mark.parametrize("twin", [row_by_row, first_problem_only])
def test_the_harness_catches_a_broken_importer(store: Store, twin: Importer) -> None:
    bad = {5: "a kind that is none", 17: "no site"}
    assert faults_of(twin, store, empty_plant(store), bad)


_PLANTS: dict[int, Plant] = {}


def _plant_of(store: Store) -> Plant:
    """One client for all examples on one database."""
    if id(store) not in _PLANTS:
        _PLANTS.clear()
        _PLANTS[id(store)] = empty_plant(store)
    return _PLANTS[id(store)]


def problems_of(store: Store, plant: Plant, content: bytes) -> list[tuple[str, str]]:
    report = preview_import(store, keeper(plant), content)
    return [(problem.where, problem.field) for problem in report.problems]


def test_rows_that_disagree_about_one_thing_are_told(store: Store) -> None:
    plant = empty_plant(store)
    rows = [
        flat_row(1),
        flat_row(2, Equipment_name="MCC one"),
        flat_row(3, Area_code="YARD", Area_name="Yard"),
    ]
    assert problems_of(store, plant, csv_of(rows)) == [("row 3", "Equipment name"), ("row 4", "Area code")]


def test_tags_that_differ_in_capitals_only_are_told(store: Store) -> None:
    plant = empty_plant(store)
    rows = [flat_row(1), flat_row(2, Equipment_tag="mcc1")]
    assert ("row 3", "Equipment tag") in problems_of(store, plant, csv_of(rows))


def test_a_point_whose_view_is_nowhere_is_told(store: Store) -> None:
    plant = build_plant(store)
    row = {"Site code": "S1", "View tag": "F77", "Point tag": "F77-L1", "Point name": "L1", "Kind": "joint"}
    (problem,) = problems_of(store, plant, csv_of([row]))
    assert problem == ("row 2", "View tag")


def test_a_new_point_says_its_view(store: Store) -> None:
    plant = build_plant(store)
    row = {"Site code": "S1", "Point tag": "F77-L1", "Point name": "L1", "Kind": "joint"}
    assert problems_of(store, plant, csv_of([row])) == [("row 2", "View tag")]


def test_a_point_is_not_moved_to_another_view_by_a_slip(store: Store) -> None:
    plant = build_plant(store)
    row = {"Site code": "S1", "View tag": "S1-MCC1-F02", "Point tag": "S1-MCC1-F01-L1", "Phase": "L1"}
    assert problems_of(store, plant, csv_of([row])) == [("row 2", "View tag")]


def test_a_retired_thing_is_told(store: Store, now: datetime) -> None:
    plant = build_plant(store)
    retire_thing(store, keeper(plant), Noun.POINT, plant.point_ids[0], version=1, now=now)
    row = {"Site code": "S1", "View tag": "S1-MCC1-F01", "Point tag": "S1-MCC1-F01-L1", "Phase": "L1"}
    report = preview_import(store, keeper(plant), csv_of([row]))
    assert [problem.message for problem in report.problems] == ["This point is retired."]


def test_unknown_columns_and_sheets_are_told_notes_are_not(store: Store) -> None:
    plant = empty_plant(store)
    content = workbook(
        {
            "Points": [["Site code", "Pointtag", "Point nmae"], ["WEN", "P1", "x"]],
            "Costs": [["Euro"], [5]],
            "Notes of mine": [["anything", "at all"], [1, 2, 3]],
        }
    )
    assert ("sheet Points, row 1", "Point nmae") in problems_of(store, plant, content)
    assert ("sheet Costs, row 1", "") in problems_of(store, plant, content)
    assert not any("Notes" in where for where, _ in problems_of(store, plant, content))


def test_a_site_outside_the_grants_is_told_whether_it_exists_or_not(store: Store) -> None:
    plant = build_plant(store, sites=2)
    narrow = replace(keeper(plant), sites=frozenset({plant.site_ids[0]}), whole_clients=frozenset())
    row = {"Area code": "Y", "Area name": "Yard"}
    for code in ("S2", "S9"):
        report = preview_import(store, narrow, csv_of([row | {"Site code": code, "Site name": "x"}]))
        assert [problem.message for problem in report.problems] == ["This code is not among your sites."]
    assert preview_import(store, narrow, csv_of([row | {"Site code": "S1"}])).problem_count == 0


def test_another_client_is_not_written_to(store: Store, now: datetime) -> None:
    plant = build_plant(store)
    stranger = replace(keeper(plant), clients=frozenset(), whole_clients=frozenset(), sites=frozenset())
    row = {"Client code": "MW", "Site code": "S1", "Site name": "Mine now"}
    with pytest.raises(Invalid):
        commit_import(store, stranger, csv_of([row]), now=now)
    assert ask(store, "SELECT name FROM sites") == [("Site 1",)]


def test_a_new_client_in_the_file_belongs_to_its_maker(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    row = flat_row(1) | {"Client code": "BRK", "Client name": "Brackwater Estates"}
    commit_import(any_store, keeper(plant), csv_of([row]), now=now)
    query = "SELECT g.person_id FROM grants g JOIN clients c ON c.id = g.client_id WHERE c.code = 'BRK'"
    assert ask(any_store, query) == [(plant.people[Role.ENGINEER],)]


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER, Role.ADMINISTRATOR])
def test_only_an_engineer_brings_a_register_in(store: Store, now: datetime, role: Role) -> None:
    plant = build_plant(store)
    with pytest.raises(Forbidden):
        preview_import(store, plant.actor(role), b"")
    with pytest.raises(Forbidden):
        commit_import(store, plant.actor(role), b"", now=now)


def test_an_unreadable_file_is_told_by_the_look_and_refused_by_the_store(store: Store, now: datetime) -> None:
    plant = empty_plant(store)
    assert preview_import(store, keeper(plant), b"a\x00b").problem_count == 1
    with pytest.raises(Invalid):
        commit_import(store, keeper(plant), b"a\x00b", now=now)


def test_twenty_thousand_points_come_in_at_one_go(any_store: Store, now: datetime) -> None:
    plant = empty_plant(any_store)
    content = csv_of(
        [
            flat_row(
                n,
                View_tag=f"F{n // 3}",
                View_name="Feeder",
                Equipment_tag=f"E{n // 60}",
                Equipment_name="Board",
            )
            for n in range(1, 20_001)
        ]
    )
    began = time.monotonic()
    report = commit_import(any_store, keeper(plant), content, now=now)
    assert time.monotonic() - began < 30
    assert (
        report.counts[Noun.POINT].new
        == counts(any_store)["points"]
        == counts(any_store)["point_state"]
        == 20_000
    )
