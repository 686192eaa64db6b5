"""Printed sheets: one stop a sheet, a row per view, boxes, last values, triggers, cautions."""

import pytest

from service.domain.cautions import stands_free
from service.domain.words import Access
from service.pages.sheet_paper import PAPER, Sheet, on_paper
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Store
from service.usecases.condition.criteria_sets import choose_class_criteria, see_criteria
from service.usecases.condition.edit_criteria import copy_set, edit_set
from service.usecases.condition.presets import ensure_presets
from service.usecases.rounds.sheets import StopSheet, read_sheets
from tests.rounds.builders import NOW, Walk, change, draft, issued, stand


def sheets(walk: Walk) -> tuple[StopSheet, ...]:
    return read_sheets(walk.store, walk.technician(), walk.round.id, now=NOW).stops


def paper(walk: Walk) -> tuple[Sheet, ...]:
    return on_paper(sheets(walk))


def test_a_stop_is_a_sheet_and_a_view_a_row(any_store: Store) -> None:
    walk = issued(any_store, boards=2, views=3)
    first, second = paper(walk)
    assert (first.number, first.count, second.number) == (1, 2, 2)
    assert [row.label for row in second.rows] == ["2.1", "2.2", "2.3"]
    assert [point.phase for point in first.rows[0].points] == ["L1", "L2", "L3"]
    assert first.of.stop.stop.sheet_code != second.of.stop.stop.sheet_code


def test_views_that_do_not_fit_go_on_on_the_next_sheet_of_the_stop(store: Store) -> None:
    walk = draft(store, views=16)
    found = paper(walk)
    assert [(s.number, s.count, s.part, s.parts) for s in found] == [(1, 3, 1, 3), (2, 3, 2, 3), (3, 3, 3, 3)]
    assert [s.first_row for s in found] == [1] + [s.last_row + 1 for s in found[:-1]]
    assert found[-1].last_row == 16
    assert [row for s in found for row in s.rows] == list(sheets(walk)[0].rows)


def test_long_words_of_the_site_leave_room_for_fewer_rows(store: Store) -> None:
    walk = draft(store, views=16)
    before = len(paper(walk)[0].rows)
    change(store, SiteRow, walk.plant.site_ids[0], safety_text="Mind the step. " * 150)
    assert 1 <= len(paper(walk)[0].rows) < before
    assert PAPER == 1016


def test_amps_are_asked_per_phase_and_for_the_neutral_where_the_view_says_so(store: Store) -> None:
    walk = draft(store, views=2, bearings=1)
    change(store, ViewRow, walk.plant.view_ids[0], asks_neutral=True)
    board, pump = sheets(walk)
    assert [row.amps for row in board.rows] == [("L1", "L2", "L3", "N"), ("L1", "L2", "L3")]
    assert [row.amps for row in pump.rows] == [()]


@pytest.mark.parametrize(
    ("share", "told"),
    [
        # standards.md §1a Trigger, by hand: 15 K x 0.71² = 7.56, x 0.40² = 2.4, rounded down
        (0.71, "Tell control above 7 K over its like parts (2 K at 40 % load). Below it nothing is cleared."),
        (1.0, "Tell control above 15 K over its like parts (2 K at 40 % load). Below it nothing is cleared."),
    ],
)
def test_each_row_prints_its_own_trigger_for_the_expected_load_and_for_40_percent(
    store: Store, share: float, told: str
) -> None:
    walk = draft(store)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], usual_load_share=share)
    printed = {row.triggers for row in sheets(walk)[0].rows}
    assert {line.replace("\u00a0", " ") for lines in printed for line in lines} == {told}


def test_the_trigger_is_that_of_the_set_chosen_for_the_class_of_equipment(store: Store) -> None:
    ensure_presets(store, now=NOW)
    walk = draft(store, boards=1, bearings=1)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], usual_load_share=1.0)
    page = see_criteria(store, walk.engineer, now=NOW)
    source = page.sites[0].in_force_id
    own = copy_set(store, walk.engineer, source, title="Own", client_id=walk.plant.client_id, now=NOW)
    body = own.criteria.to_dict()
    body["similar"]["edges"][2]["value"] = 11
    stricter = edit_set(store, walk.engineer, own.id, edits=own.edits, body=body, now=NOW)
    choose_class_criteria(
        store, walk.engineer, site_id=walk.plant.site_ids[0], equipment_class="switchboard",
        criteria_id=stricter.id, version=page.sites[0].version, now=NOW,
    )  # fmt: skip
    board, _pump = sheets(walk)
    assert all("above 11" in line for row in board.rows for line in row.triggers)
    assert any(row.triggers for row in board.rows)


def test_last_values_level_and_reason_stand_beside_the_boxes(store: Store) -> None:
    walk = draft(store)
    first, second, third, *_ = walk.plant.point_ids
    stand(store, first, last_temperature_c=30.1, last_read_at=NOW, level=0)
    stand(store, second, last_temperature_c=36.7, last_read_at=NOW, level=2, value_k=6.2)
    row = sheets(walk)[0].rows[0]
    assert [point.last_c for point in row.points] == [30.1, 36.7, None]
    assert (row.worst.point_id, row.worst.value_k, row.marked) == (second, 6.2, True)
    assert third


def test_cautions_come_first_and_fit_the_stop(store: Store) -> None:
    walk = draft(store, boards=1, bearings=1)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], access=Access.BOLTED_COVER.value)
    change(store, SiteRow, walk.plant.site_ids[0], contact_name="Control room", contact_phone="ext. 4410")
    board, pump = (sheet.cautions for sheet in sheets(walk))
    assert "Local codes and the site's own rules come first" in board.lines[0]
    assert any("Only the qualified person opens covers" in line for line in board.lines)
    assert not any("qualified person opens" in line for line in pump.lines)
    assert any("turning parts" in line for line in pump.lines)
    assert board.at_act_now.endswith("tell Control room, ext. 4410.")


def test_a_point_without_reference_prints_no_trigger_of_ours(store: Store) -> None:
    walk = draft(store)
    for point_id in walk.plant.point_ids:
        change(store, PointRow, point_id, kind="steam trap")
    assert all(row.triggers == () for row in sheets(walk)[0].rows)


def test_a_pump_has_no_front_to_scan_and_no_door_to_read_the_label_on(any_store: Store) -> None:
    walk = draft(any_store, boards=1, bearings=1)
    board, pump = sheets(walk)
    told = " ".join(pump.cautions.lines)
    assert "closed front" not in told
    assert "door" not in told
    assert "Scan it from a distance before you step closer" in told
    assert "labels on it" in told
    assert "Scan the closed front before anything else." in board.cautions.lines
    assert [sheet.stop.access_words for sheet in (board, pump)] == ["closed front", "stands free"]


@pytest.mark.parametrize(
    ("access", "kinds", "free"),
    [
        (Access.CLOSED_FRONT, {"bearing", "motor"}, True),
        (Access.CLOSED_FRONT, {"transformer"}, True),
        (Access.CLOSED_FRONT, {"motor", "cable end"}, False),
        (Access.CLOSED_FRONT, {"other"}, False),
        (Access.CLOSED_FRONT, set(), False),
        (Access.BOLTED_COVER, {"bearing"}, False),
        (Access.WINDOW, {"motor"}, False),
    ],
)
def test_a_front_is_supposed_wherever_there_may_be_one(access: Access, kinds: set[str], free: bool) -> None:
    assert stands_free(access, kinds) is free
