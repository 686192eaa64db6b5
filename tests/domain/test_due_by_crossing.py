"""A trend with a range of dates pulls the next reading forward, and never pushes one back."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from service.domain.due import due_of, interval_in_force
from service.domain.stop_facts import DuePoint
from service.domain.words import Trend

READ = datetime(2026, 11, 2, 9, 0, tzinfo=UTC)
POINT = DuePoint(
    point_id=1,
    site_id=1,
    equipment_id=1,
    kind="joint",
    criticality="medium",
    condition="average",
    interval_months=None,
    pf_interval_months=None,
    repair_lead_days=30,
    made_on=date(2021, 1, 4),
    last_full_at=READ,
    last_seen_at=READ,
    level=2,
    trend=Trend.RISING.value,
    repaired_at=None,
    retired=False,
    fresh_place=None,
    fresh_places=1,
    has_state=True,
    due_on=None,
    due_reason="",
)


@pytest.mark.parametrize(
    ("crossing", "months"),
    [
        # four months less one for the repair, halved (worked by hand)
        (date(2027, 3, 4), 1.5),
        # far away: half the yearly interval is sooner
        (date(2029, 1, 1), 6.0),
        (None, 6.0),
    ],
)
def test_the_sooner_of_half_the_interval_and_half_of_what_is_left(
    crossing: date | None, months: float
) -> None:
    found, _ = interval_in_force(replace(POINT, crossing_from=crossing))
    assert found == pytest.approx(months, abs=0.05)


def test_a_crossing_before_a_repair_can_be_arranged_asks_for_the_work_now() -> None:
    point = replace(POINT, crossing_from=date(2026, 11, 20))
    months, reason = interval_in_force(point)
    assert months == 1.0
    assert "ask for the work now" in reason


def test_the_reason_names_the_day_and_the_whole_interval() -> None:
    due = due_of(replace(POINT, crossing_from=date(2027, 3, 4)))
    assert "4 Mar 2027" in due.reason
    assert "the whole interval is" in due.reason


def test_a_steady_point_is_not_pulled_forward_by_an_old_range() -> None:
    point = replace(POINT, level=0, trend=Trend.STEADY.value, crossing_from=date(2026, 12, 1))
    assert interval_in_force(point)[0] == 12.0


def test_one_month_is_told_as_one_month() -> None:
    # a month for the repair and two are left: half of them is one (worked by hand)
    _, reason = interval_in_force(replace(POINT, crossing_from=date(2027, 1, 31)))
    assert reason.startswith("1 month, since its trend may reach Act now by 31 Jan 2027")
