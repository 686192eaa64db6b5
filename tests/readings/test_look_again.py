"""What the preview asks about: settings, windows, spots, ranges and calibration, in the trade's words."""

from datetime import date
from typing import Any

import pytest

from service.domain.words import Access
from service.errors import Problem
from service.intake.raw_rows import Ways, rows_of_records
from service.storage.tables.register import EquipmentRow, InstrumentRow, PointRow
from service.storage.unit import Store
from service.usecases.rounds.preview import preview_upload
from tests.readings.builders import Issued, issue
from tests.rounds.builders import change


def asked(issued: Issued, *records: dict[str, Any]) -> list[Problem]:
    seen = preview_upload(
        issued.store,
        issued.technician,
        round_id=issued.round_id,
        rows=rows_of_records(records, Ways()),
        content_hash=repr(records),
        now=issued.received_at,
    )
    assert seen.storable, seen.problems
    return list(seen.warnings)


def test_an_ordinary_round_is_not_asked_about(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=1)
    change(any_store, InstrumentRow, issued.plant.instrument_id, calibration_due=date(2026, 1, 12))
    assert asked(issued, *issued.all_records()) == []


@pytest.mark.parametrize(
    ("table", "fields", "typed", "told"),
    [
        (None, {}, {"emissivity_set": 0.1}, ("row 2, S1-MCC1-F01-L2", "emissivity_set")),
        (None, {}, {"reflected_c": 60.0}, ("row 2, S1-MCC1-F01-L2", "reflected_c")),
        (InstrumentRow, {"range_high_c": 40.0}, {}, ("row 2, S1-MCC1-F01-L2", "temperature_c")),
        (EquipmentRow, {"access": Access.WINDOW.value}, {}, ("row 2, S1-MCC1-F01-L2", "window_transmission")),
        (InstrumentRow, {"calibration_due": date(2026, 1, 11)}, {}, ("file", "instrument_serial")),
    ],
    ids=["emissivity", "reflected", "range", "window", "calibration"],
)
def test_it_is_asked_about_with_its_row_and_box_and_can_still_be_stored(
    any_store: Store, table: type | None, fields: dict[str, Any], typed: dict[str, Any], told: tuple[str, str]
) -> None:
    issued = issue(any_store, boards=1, views=1)
    ids: dict[type, int] = {
        InstrumentRow: issued.plant.instrument_id,
        EquipmentRow: issued.plant.equipment_ids[0],
    }
    if table is not None:
        change(any_store, table, ids[table], **fields)
    records = issued.all_records(39.0)
    records[1] |= {"temperature_c": 40.0} | typed
    warnings = asked(issued, *records)
    assert told in {(warning.where, warning.field) for warning in warnings}
    assert issued.bring(records).rows_new == 3


def test_a_calibration_is_asked_about_once_whatever_the_rows(store: Store) -> None:
    issued = issue(store, boards=1, views=2)
    change(store, InstrumentRow, issued.plant.instrument_id, calibration_due=date(2025, 12, 31))
    told = [one for one in asked(issued, *issued.all_records()) if one.field == "instrument_serial"]
    assert [one.message for one in told] == [
        "Camera 1 (IR-1) was due for calibration on 31 Dec 2025; 6 readings were taken after that day."
    ]


def test_a_spot_that_is_not_filled_names_the_distance_that_would_do(store: Store) -> None:
    """24° over 320 pixels is 1.309 mrad: a 12 mm bolt fills three pixels up to 3.05 m (worked by hand)."""
    issued = issue(store, boards=1, views=1)
    change(store, InstrumentRow, issued.plant.instrument_id, field_of_view_deg=24.0, pixels=320)
    for point in issued.plant.point_ids:
        change(store, PointRow, point, target_mm=12.0)
    near = [issued.record(0, distance_m=3.0), issued.record(1, distance_m=3.5)]
    (told,) = [one for one in asked(issued, *near) if one.field == "distance_m"]
    assert told.where == "row 2, S1-MCC1-F01-L2"
    assert "Come closer than 3 m" in told.remedy


def test_per_cent_typed_for_a_share_is_refused_with_the_figure_that_was_meant(store: Store) -> None:
    issued = issue(store, boards=1, views=1)
    records = [issued.record(0, emissivity_set=95, window_transmission=80, transmission_set=1.2)]
    seen = preview_upload(
        store,
        issued.technician,
        round_id=issued.round_id,
        rows=rows_of_records(records, Ways()),
        content_hash="x",
        now=issued.received_at,
    )
    assert {(one.where, one.field, one.remedy) for one in seen.problems} == {
        ("row 1", "emissivity_set", "For 95 % type 0.95."),
        ("row 1", "window_transmission", "For 80 % type 0.8."),
        ("row 1", "transmission_set", "A share lies between 0.01 and 1: check it."),
    }


def test_what_a_correction_changes_is_told_in_words(store: Store) -> None:
    issued = issue(store, boards=1, views=1)
    issued.bring([issued.record(0, through_window=False, boxes={"discoloured": False})])
    changed = issued.record(
        0,
        fan_on_part=True,
        window_c=27.5,
        emissivity_standing="table",
        boxes={"discoloured": True},
        correction_reason="looked again",
    )
    seen = preview_upload(
        store,
        issued.technician,
        round_id=issued.round_id,
        rows=rows_of_records([changed], Ways()),
        content_hash="x",
        now=issued.received_at,
    )
    assert {(one.field, one.was, one.now) for one in seen.changes} == {
        ("fan_on_part", "no", "yes"),
        ("emissivity_standing", "", "table"),
        ("through_window", "no", ""),
        ("window_c", "", "27.5"),
        ("boxes", "Discoloured or damaged: no", "Discoloured or damaged: yes"),
    }
