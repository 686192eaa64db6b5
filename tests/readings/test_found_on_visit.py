"""What was found on a visit about part, reflection, window and path: stored, corrected, equal again."""

from datetime import timedelta
from typing import Any

import pytest

from service.domain.readings import FOUND, Reading
from service.domain.words import SettingSource
from service.storage import readings
from service.storage.unit import Store
from service.usecases.rounds.correct import correct_reading
from tests.readings.builders import Issued, issue

FOUND_HERE: dict[str, Any] = {
    "emissivity": 0.82,
    "emissivity_standing": "measured",
    "reflected_c": 31.0,
    "reflected_standing": "table",
    "through_window": False,
    "window_transmission": 0.71,
    "window_c": 29.5,
    "path_transmission": 0.996,
}


def stored(store: Store, issued: Issued) -> list[Reading]:
    with store.look() as unit:
        return list(readings.readings_of_round(unit, issued.round_id, after=0, limit=100))


def test_what_was_found_is_stored_as_sent(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=1)
    issued.bring([issued.record(0, **FOUND_HERE), issued.record(1)])
    first, second = stored(any_store, issued)
    assert {name: getattr(first, name) for name in FOUND_HERE} == FOUND_HERE
    assert first.emissivity_standing is SettingSource.MEASURED
    assert {getattr(second, name) for name in FOUND} == {None}


def test_the_same_rows_again_are_equal_and_changed_ones_are_corrections(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=1)
    records = [issued.record(0, **FOUND_HERE), issued.record(1)]
    issued.bring(records)
    again = issued.bring(
        [dict(reversed(records[0].items())), records[1]], now=issued.received_at + timedelta(hours=1)
    )
    assert (again.rows_equal, again.rows_corrected) == (2, 0)
    changed = [records[0] | {"window_c": 30.0, "correction_reason": "window read again"}, records[1]]
    assert issued.bring(changed).rows_corrected == 1
    assert [one.window_c for one in stored(any_store, issued) if one.revision == 2] == [30.0]


@pytest.mark.parametrize("name", sorted(set(FOUND_HERE) - {"through_window"}))
def test_a_correction_empties_one_and_keeps_the_others(store: Store, name: str) -> None:
    issued = issue(store, boards=1, views=1)
    issued.bring([issued.record(0, **FOUND_HERE)])
    (first,) = stored(store, issued)
    corrected = correct_reading(
        store,
        issued.engineer,
        first.uid,
        revision=1,
        changes={name: None},
        reason="not found on this visit",
        key=None,
        now=issued.received_at,
    )
    assert corrected.revision == 2
    assert {key: getattr(corrected, key) for key in FOUND_HERE} == FOUND_HERE | {name: None}
