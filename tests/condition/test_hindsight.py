"""What became of flags: by the finding that followed, by its repair, or by the readings alone."""

from datetime import UTC, date, datetime, timedelta

import pytest

from service.domain.hindsight import Came, Ending, Passing, PastFlag, what_came
from service.domain.words import ReferenceKind, Role
from service.errors import Forbidden, NotFound
from service.storage.series_cuts import cut_series
from service.storage.tables.findings import FindingRow, RepairRow
from service.storage.unit import Store
from service.usecases.condition.hindsight import see_hindsight
from tests.builders import add, build_plant
from tests.condition.histories import FIRST_VISIT, MONTH, read_monthly

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
RISING = [0.2, 0.1, 0.3, 0.1, 0.2, 0.3, 2.2, 4.1, 6.0, 8.2]
FLAT = [0.3, 0.1, 0.4, 0.2, 0.3, 0.1, 0.2, 0.3, 0.2, 0.3]
FIRST = date(2025, 7, 14)


def ending(**change) -> Ending:
    usual = {
        "finding_id": 7, "point_id": 1, "opened_on": FIRST + timedelta(days=20), "live": False,
        "repaired_on": FIRST + timedelta(days=60), "proven": False, "found": None,
    }  # fmt: skip
    return Ending(**(usual | change))


@pytest.mark.parametrize(
    ("endings", "ended", "came"),
    [
        ((ending(found="fault found"),), None, Came.FAULT),
        ((ending(found="no fault found"),), None, Came.NO_FAULT),
        ((ending(found="the load was wrong", proven=True),), None, Came.WRONG_LOAD),
        ((ending(proven=True),), None, Came.MENDED),
        ((ending(live=True, repaired_on=None),), None, Came.WAITS),
        ((), None, Came.STANDS),
        ((), FIRST + timedelta(days=90), Came.WENT),
        # opened after the flag had gone, and repaired before it came: neither is its end
        ((ending(opened_on=FIRST + timedelta(days=99), found="fault found"),), FIRST + timedelta(days=90), Came.WENT),
        ((ending(repaired_on=FIRST - timedelta(days=9), found="fault found"),), None, Came.STANDS),
    ],
)  # fmt: skip
def test_what_came_of_a_flag_is_told_by_its_finding(endings, ended, came) -> None:
    assert what_came(FIRST, ended, endings, ())[0] is came


def test_without_a_finding_a_reading_past_its_line_proves_the_flag_right() -> None:
    passed = (Passing(1, FIRST + timedelta(days=70), 3),)
    assert what_came(FIRST, None, (), passed) == (Came.PASSED, None)
    assert what_came(FIRST, FIRST + timedelta(days=90), (), (), cut=True)[0] is Came.CUT


@pytest.mark.parametrize(
    ("reached", "ended", "held"),
    [
        (date(2026, 3, 1), None, True),
        (date(2025, 12, 1), None, False),
        (date(2027, 3, 1), None, False),
        (None, None, None),
        (None, date(2027, 1, 1), False),
    ],
)
def test_a_range_is_checked_by_the_day_on_which_the_line_was_passed(reached, ended, held) -> None:
    flag = PastFlag(
        1, "", ReferenceKind.LIKE_PARTS, FIRST, FIRST, ended, Came.STANDS, None, None,
        forecast_from=date(2026, 1, 1), forecast_to=date(2026, 12, 31), reached_on=reached,
    )  # fmt: skip
    assert flag.held(date(2026, 11, 25)) is held


def test_past_visits_are_looked_back_over_and_tied_to_what_the_repair_found(any_store: Store) -> None:
    plant = build_plant(any_store)
    rising, flat = plant.point_ids[:2]
    read_monthly(any_store, rising, RISING)
    read_monthly(any_store, flat, FLAT)
    mended = FIRST_VISIT + 10 * MONTH
    with any_store.begin() as unit:
        cut_series(unit, rising, at=mended, reason="repaired")
        finding = add(
            unit,
            FindingRow(
                client_id=plant.client_id, site_id=plant.site_ids[0], point_id=rising, title="rises", state="proven",
                level=2, opened_at=mended - MONTH, created_at=mended, changed_at=mended,
            ),
        )  # fmt: skip
        unit.session.flush()
        finding_id = finding.id
        add(
            unit,
            RepairRow(
                finding_id=finding.id, attempt=1, repaired_at=mended, found="fault found", outcome="proven"
            ),
        )
    read_monthly(any_store, rising, FLAT, first=mended + MONTH, episode=1)
    found = see_hindsight(any_store, plant.actor(), site_id=None, now=NOW)
    (flag,) = found.flags
    assert (flag.point_id, flag.came, flag.finding_id) == (rising, Came.FAULT, finding_id)
    assert flag.first_on <= flag.confirmed_on < flag.ended_on
    assert (found.points, found.right, found.wrong) == (2, 1, 0)
    assert [choice.shift for choice in found.choices] == sorted(choice.shift for choice in found.choices)
    assert next(choice for choice in found.choices if choice.shift == 0).right == 1


def test_only_sites_in_sight_are_looked_back_over(any_store: Store) -> None:
    plant = build_plant(any_store)
    with pytest.raises(NotFound):
        see_hindsight(any_store, plant.actor(), site_id=99_999, now=NOW)
    with pytest.raises(Forbidden):
        see_hindsight(any_store, plant.actor(Role.TECHNICIAN), site_id=None, now=NOW)


def test_a_programme_without_readings_has_nothing_to_look_back_on(any_store: Store) -> None:
    found = see_hindsight(any_store, build_plant(any_store).actor(), site_id=None, now=NOW)
    assert (found.flags, found.years, found.wrong_per_100_years) == ((), 0, None)
