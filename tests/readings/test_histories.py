"""What visits add up to: baselines, repairs, greasing, month-ends, and what a preview says."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlalchemy import select

from service.domain.words import FindingState, Level
from service.intake.raw_rows import Ways, rows_of_records
from service.storage.tables.findings import FindingRow
from service.storage.tables.readings import SiteMonthRow
from service.storage.tables.register import InstrumentRow, PointRow
from service.storage.unit import Store
from service.usecases.findings.move_finding import record_repair, see_finding
from service.usecases.findings.repair_fields import RepairFields
from service.usecases.rounds.preview import preview_upload
from tests.builders import Plant, build_plant
from tests.readings.builders import Issued, issue
from tests.readings.test_upload import current, state_of


def walk(store: Store, plant: Plant, day: date, *temperatures: float, **more: Any) -> Issued:
    """A round over the plant on a day, read as given in sheet order."""
    issued = issue(store, plant=plant, day=day)
    issued.bring([issued.record(n, t, **more) for n, t in enumerate(temperatures)])
    return issued


def test_a_bearing_is_judged_by_its_own_first_three_clearing_visits(any_store: Store) -> None:
    plant = build_plant(any_store, boards=0, bearings=1)
    for month, temperature in ((1, 45.0), (2, 47.0), (3, 46.0)):
        walk(any_store, plant, date(2026, month, 12), temperature)
        state = state_of(any_store, plant.point_ids[0])
        assert (state.level, state.baseline_visits) == (None, month)
    assert state.baseline_k == 21.0
    walk(any_store, plant, date(2026, 4, 12), 60.0)
    hot = state_of(any_store, plant.point_ids[0])
    assert (hot.reference, hot.value_k, hot.level) == ("over its own baseline", 14.0, Level.PLAN_REPAIR)


def test_a_late_first_visit_moves_the_baseline(any_store: Store) -> None:
    plant = build_plant(any_store, boards=0, bearings=1)
    late = issue(any_store, plant=plant, day=date(2026, 1, 12))
    for month, temperature in ((2, 47.0), (3, 49.0), (4, 47.0), (5, 60.0)):
        issued = walk(any_store, plant, date(2026, month, 12), temperature)
    assert state_of(any_store, plant.point_ids[0]).baseline_k == 22.0
    late.bring([late.record(0, 41.0)], now=issued.received_at)
    state = state_of(any_store, plant.point_ids[0])
    assert (state.baseline_k, state.value_k) == (22.0, 13.0), "41, 47 and 49 °C: the median is 47 °C"
    assert [a.rule for a in current(any_store, plant.point_ids[0])][-1] == "1a.3 baseline"


def test_fresh_grease_is_not_a_fault(any_store: Store) -> None:
    """Fresh grease runs 14 to 17 K warm for about a day (common practice, standards.md §2)."""
    plant = build_plant(any_store, boards=0, bearings=1)
    for month in (1, 2, 3):
        walk(any_store, plant, date(2026, month, 12), 45.0)
    with any_store.begin() as unit:
        point = unit.session.get(PointRow, plant.point_ids[0])
        assert point is not None
        point.last_greased_on = date(2026, 4, 11)
    walk(any_store, plant, date(2026, 4, 12), 70.0)
    (*_, last) = current(any_store, plant.point_ids[0])
    assert (last.band, last.level, last.at_least) == (3, 2, True)
    assert "greased" in last.sentence


def test_a_reading_at_the_top_of_the_range_is_at_least(any_store: Store) -> None:
    plant = build_plant(any_store, boards=1, views=1)
    with any_store.begin() as unit:
        camera = unit.session.get(InstrumentRow, plant.instrument_id)
        assert camera is not None
        camera.range_high_c, camera.range_low_c = 60.0, 41.0
    issued = walk(any_store, plant, date(2026, 1, 12), 42.0, 60.0, 41.0)
    hot, bottom = (current(any_store, issued.rows[n][2])[0] for n in (1, 2))
    assert (hot.level, hot.at_least) == (Level.ACT_NOW, True)
    assert (bottom.level, bottom.rule) == (None, "1a.8 bottom of range")


def test_a_repair_is_proven_by_the_next_round_and_stays_so_when_told_anew(any_store: Store) -> None:
    """Act now, repaired, read again at full load, proven; a late correction does not undo that."""
    plant = build_plant(any_store, boards=1, views=1)
    first = issue(any_store, plant=plant, day=date(2026, 1, 12))
    result = first.bring([first.record(n, 75.0 if n == 1 else 40.0) for n in range(3)])
    finding_id, point = result.act_now[0].finding_id, first.rows[1][2]
    engineer = plant.actor()
    file = see_finding(any_store, engineer, finding_id=finding_id)
    repaired = datetime(2026, 1, 20, 9, 0, tzinfo=UTC)
    record_repair(
        any_store,
        engineer,
        finding_id=finding_id,
        version=file.finding.version,
        repair=RepairFields(repaired_at=repaired, as_found="loose", as_left="remade, 20 N m"),
        now=repaired + timedelta(hours=1),
    )
    second = walk(any_store, plant, date(2026, 2, 12), 40.0, 40.2, 40.0)
    with any_store.look() as unit:
        finding = unit.session.get(FindingRow, finding_id)
        assert finding is not None
        assert finding.state == FindingState.PROVEN.value
    state = state_of(any_store, point)
    assert (state.level, state.reading_level, state.episode, state.finding_id) == (0, 0, 1, None)
    assert [a.episode for a in current(any_store, point)] == [0, 1]
    corrected = [second.record(0, 40.4, correction_reason="read again from the picture")]
    second.bring(corrected)
    after = state_of(any_store, point)
    assert (after.level, after.reading_level, after.episode) == (0, 0, 1)


def test_month_ends_are_told_as_they_were(any_store: Store) -> None:
    plant = build_plant(any_store, boards=1, views=1)
    january = issue(any_store, plant=plant, day=date(2026, 1, 12))
    february = issue(any_store, plant=plant, day=date(2026, 2, 12))
    brought = datetime(2026, 3, 5, 9, 0, tzinfo=UTC)
    january.bring([january.record(n, 50.0 if n == 1 else 40.0) for n in range(3)], now=brought)
    assert months(any_store) == {"2026-01": (2, 1, 3), "2026-02": (2, 1, 0), "2026-03": (2, 1, 0)}
    february.bring([february.record(n, 90.0 if n == 1 else 40.0) for n in range(3)], now=brought)
    assert months(any_store) == {"2026-01": (2, 1, 3), "2026-02": (2, 0, 3), "2026-03": (2, 0, 0)}


def months(store: Store) -> dict[str, tuple[int, int, int]]:
    """By month the points at Nothing found, at Plan repair, and read."""
    with store.look() as unit:
        rows = unit.session.scalars(select(SiteMonthRow).order_by(SiteMonthRow.month))
        return {row.month: (row.level_0, row.level_2, row.points_read) for row in rows}


def test_a_preview_says_what_would_change_and_what_looks_odd(any_store: Store) -> None:
    plant = build_plant(any_store, boards=1, views=1)
    walk(any_store, plant, date(2026, 1, 12), 40.0, 40.1, 40.2)
    issued = issue(any_store, plant=plant, day=date(2026, 2, 12))
    issued.bring([issued.record(0, 36.0)])
    rows = [
        issued.record(0, 36.5, correction_reason="typed wrong"),
        issued.record(1, 401.0, taken_at="2026-07-01T08:00:00Z"),
        issued.record(2, None, reason="K"),
        {"place": "Tray over P2", "temperature_c": 88.0},
    ]
    seen = preview_upload(
        any_store,
        issued.technician,
        round_id=issued.round_id,
        rows=rows_of_records(rows, Ways()),
        content_hash="x",
        now=issued.received_at,
    )
    assert (seen.rows_new, seen.rows_corrected, seen.off_round, seen.still_not_read) == (2, 1, 1, 0)
    assert [(c.field, c.was, c.now) for c in seen.changes] == [("temperature_c", "36", "36.5")]
    said = " ".join(warning.message for warning in seen.warnings)
    assert "was it 40.1 °C?" in said
    assert "outside the round" in said
    assert "no picture number" in said
    assert len(current(any_store, issued.rows[1][2])) == 1, "nothing was stored"
