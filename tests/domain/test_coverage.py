"""Where an equipment stands against its due dates, and why a late point is late."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from service.domain.coverage import Coverage, PointGroup, RegisteredEquipment, WhyLate, cover
from service.domain.words import Reason, RoundState
from service.storage.why_late import LastRow
from service.usecases.reports.year import why_word

BOARD = RegisteredEquipment(
    id=1,
    site_id=1,
    site="Site",
    time_zone="UTC",
    area="Switchroom",
    tag="MCC1",
    name="Board",
    equipment_class="switchboard",
    criticality="medium",
    condition="average",
    behind_cover=True,
    interval_months=None,
    pf_interval_months=None,
    repair_lead_days=None,
    walk=("site", 1, 0, 1, 0, 1),
)
READ = datetime(2025, 3, 10, 9, tzinfo=UTC)
#: 12 months after READ by Appendix B of ANSI/NETA MTS (medium need, average condition: factor 1.0 on 12 months)
DUE = date(2026, 3, 10)
#: worked by hand: a tenth of 12 months of 365.25 / 12 days, whole days: 36
LAST_DAY = date(2026, 4, 15)
JOINTS = PointGroup(
    equipment_id=1,
    kind="joint",
    level=None,
    trend="steady",
    points=3,
    made_at=datetime(2021, 1, 4, tzinfo=UTC),
    cleared_at=READ,
    seen_at=READ,
    repaired_at=None,
    due_on=None,
)


@pytest.mark.parametrize(
    ("on", "expected"),
    [
        (DUE, Coverage.WITHIN),
        (DUE + timedelta(days=1), Coverage.DUE),
        (LAST_DAY, Coverage.DUE),
        (LAST_DAY + timedelta(days=1), Coverage.LATE),
    ],
)
def test_late_begins_the_day_after_a_tenth_of_the_interval(on: date, expected: Coverage) -> None:
    """The tenth is our own rule, no source; the interval is that of ANSI/NETA MTS Appendix B."""
    stands = cover(BOARD, [JOINTS], on=on, fresh=None)
    assert (stands.coverage, stands.due_on, stands.late_after) == (expected, DUE, LAST_DAY)
    assert stands.rule == "12 months: medium need, average condition (ANSI/NETA MTS Appendix B)"


def test_an_equipment_stands_where_its_worst_point_stands() -> None:
    """Half the interval above Nothing found: due 10 Sep 2025, in time until 18 days later (by hand)."""
    worse = replace(JOINTS, level=2, points=1)
    stands = cover(BOARD, [JOINTS, worse], on=date(2025, 10, 1), fresh=None)
    assert (stands.coverage, stands.points) == (Coverage.LATE, 4)
    assert (stands.due_on, stands.late_after) == (date(2025, 9, 10), date(2025, 9, 28))
    assert stands.rule.startswith("half the interval, since the point stands at Plan repair")


def test_a_repair_without_its_proof_is_late_after_thirty_days() -> None:
    mended = replace(JOINTS, repaired_at=datetime(2025, 6, 1, tzinfo=UTC))
    assert cover(BOARD, [mended], on=date(2025, 7, 1), fresh=None).coverage is Coverage.DUE
    assert cover(BOARD, [mended], on=date(2025, 7, 2), fresh=None).coverage is Coverage.LATE


def test_a_reading_that_could_not_clear_is_a_reading_and_the_equipment_stays_late() -> None:
    low = replace(JOINTS, cleared_at=None)
    stands = cover(BOARD, [low], on=date(2025, 4, 1), fresh=None)
    assert (stands.coverage, stands.seen_on, stands.cleared_on) == (Coverage.LATE, READ.date(), None)


def test_one_point_that_never_cleared_leaves_the_day_of_all_open() -> None:
    stands = cover(BOARD, [JOINTS, replace(JOINTS, cleared_at=None, points=1)], on=DUE, fresh=None)
    assert (stands.seen_on, stands.cleared_on) == (READ.date(), None)


def test_without_a_reading_it_is_never_read_and_without_points_neither() -> None:
    unread = replace(JOINTS, cleared_at=None, seen_at=None)
    assert cover(BOARD, [unread], on=DUE, fresh=(0, 4)).coverage is Coverage.NEVER_READ
    empty = cover(BOARD, [], on=DUE, fresh=None)
    assert (empty.coverage, empty.points, empty.due_on, empty.rule) == (Coverage.NO_POINTS, 0, None, "")


def test_days_are_told_on_the_calendar_of_the_site() -> None:
    late_evening = datetime(2025, 3, 10, 23, 30, tzinfo=UTC)
    east = replace(BOARD, time_zone="Pacific/Auckland")
    group = replace(JOINTS, cleared_at=late_evening, seen_at=late_evening)
    assert cover(east, [group], on=DUE, fresh=None).seen_on == date(2025, 3, 11)


WALKED = date(2026, 5, 4)
CLEARED = LastRow(WALKED, back=True, reason="", read=True, could_clear=True)
ACCUSED = replace(CLEARED, could_clear=False)
SILENT = replace(ACCUSED, read=False)
BEFORE, AFTER = WALKED - timedelta(days=9), WALKED + timedelta(days=9)


@pytest.mark.parametrize("letter", list(Reason))
def test_each_of_the_ten_reasons_is_told_in_its_words(letter: Reason) -> None:
    assert why_word(replace(SILENT, reason=letter.value), {}, repaired_on=None) == letter.word


@pytest.mark.parametrize(
    ("row", "stops", "repaired_on", "expected"),
    [
        (None, {}, None, WhyLate.NEVER_ON_A_ROUND),
        (None, {RoundState.WITHDRAWN: WALKED}, None, WhyLate.WITHDRAWN),
        (None, {RoundState.WITHDRAWN: WALKED, RoundState.DRAFT: AFTER}, None, WhyLate.DRAFT),
        (replace(SILENT, back=False), {}, None, WhyLate.NOT_BACK),
        (SILENT, {}, None, WhyLate.NOT_READ),
        (ACCUSED, {}, None, WhyLate.COULD_NOT_CLEAR),
        (CLEARED, {RoundState.SIGNED_OFF: WALKED}, None, WhyLate.NOT_SINCE),
        (CLEARED, {RoundState.WITHDRAWN: BEFORE}, None, WhyLate.NOT_SINCE),
        (CLEARED, {RoundState.WITHDRAWN: AFTER}, None, WhyLate.WITHDRAWN),
        (CLEARED, {RoundState.ISSUED: AFTER, RoundState.DRAFT: AFTER}, None, WhyLate.TO_COME),
        (CLEARED, {}, AFTER, WhyLate.NOT_READ_AGAIN),
        (CLEARED, {}, BEFORE, WhyLate.NOT_PROVEN),
        (ACCUSED, {}, BEFORE, WhyLate.COULD_NOT_CLEAR),
    ],
)
def test_why_a_point_is_late_is_told_by_its_last_round(
    row: LastRow | None, stops: dict[RoundState, date], repaired_on: date | None, expected: WhyLate
) -> None:
    assert why_word(row, stops, repaired_on=repaired_on) == expected
