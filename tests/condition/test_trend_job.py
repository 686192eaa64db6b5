"""The trend job: the right visits into the engine, its words and the standing into the state row."""

from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import func, select, update

from service.domain.words import Level, ReferenceKind, Trend
from service.storage.series_cuts import cut_series
from service.storage.tables.readings import (
    PointStateRow,
    SiteMonthRow,
    SiteStateRow,
    StandingChangeRow,
)
from service.storage.tables.register import PointRow
from service.storage.unit import Store
from service.trends.policy import policy_for
from service.usecases.condition import trend
from service.usecases.condition.trend import assess_trends
from tests.builders import build_plant
from tests.condition.histories import FIRST_VISIT, MONTH, read_monthly, state_of

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
RISING = [0.2, 1.1, 1.9, 3.2, 4.0, 5.1, 5.9, 7.2]
SLOWLY = [0.2, 0.3, 0.1, 0.3] + [round(0.3 + 0.2 * k, 1) for k in range(1, 19)]
FLAT = [0.3, 0.1, 0.4, 0.2, 0.3, 0.1, 0.2, 0.3]


def test_a_rise_is_told_and_lifts_the_standing_to_look_again(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, SLOWLY)
    told = assess_trends(any_store, point_ids=[point], now=NOW)
    state = state_of(any_store, point)
    assert (told.points, told.changed, told.words) == (1, 1, {Trend.RISING: 1})
    assert (state.trend, state.level, state.reading_level) == (Trend.RISING, Level.LOOK_AGAIN, 0)
    assert state.slope_k_month == pytest.approx(0.2 * (365.25 / 12) / 30, rel=0.1)
    assert state.slope_low is not None
    assert state.slope_high is not None
    assert state.slope_low <= state.slope_k_month <= state.slope_high
    assert state.trend_method == policy_for(ReferenceKind.LIKE_PARTS).method
    assert (state.trend_since, state.since, state.trend_visits) == (NOW.date(), NOW.date(), 22)
    assert not state.pending


def test_what_may_well_cross_within_a_year_is_at_least_plan_repair(any_store: Store) -> None:
    """The chance and its bar of one half: design of the standing; common practice, no source."""
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, RISING)
    assess_trends(any_store, point_ids=[point], now=NOW)
    state = state_of(any_store, point)
    assert state.chance_12 is not None
    assert state.chance_12 > 0.5
    assert state.chance_6 < state.chance_12
    assert state.level == Level.PLAN_REPAIR
    assert state.crossing_from < state.crossing_likeliest
    # of 7 K in all, those since the third visit: fewer make no level before it
    assert state.trend_risen_k == pytest.approx(6.0, abs=0.5)


def test_the_fan_is_kept_with_the_range_it_belongs_to(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, RISING)
    assess_trends(any_store, point_ids=[point], now=NOW)
    state = state_of(any_store, point)
    steps, begins = state.trend_fan, state.crossing_from
    assert steps is not None
    assert begins is not None
    days = [date.fromisoformat(step[0]) for step in steps]
    assert days[0] == (FIRST_VISIT + 7 * MONTH).date()
    over = next(day for day, step in zip(days, steps, strict=True) if step[-1] > 15)
    assert timedelta(0) <= over - begins <= timedelta(days=62)
    assert all(step[1:] == sorted(step[1:]) for step in steps)
    with any_store.begin() as unit:
        cut_series(unit, point, at=NOW, reason="repaired")
    assess_trends(any_store, point_ids=[point], now=NOW)
    assert state_of(any_store, point).trend_fan is None


def test_a_flat_history_lifts_nothing(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, FLAT)
    assert assess_trends(any_store, point_ids=[point], now=NOW).changed == 0
    state = state_of(any_store, point)
    assert (state.trend, state.level, state.pending) == (Trend.STEADY, 0, False)


def test_a_changed_standing_is_appended_and_rolled_up_and_the_site_bumped(any_store: Store) -> None:
    plant = build_plant(any_store)
    read_monthly(any_store, plant.point_ids[0], RISING)
    read_monthly(any_store, plant.point_ids[1], FLAT)
    assess_trends(any_store, point_ids=None, now=NOW)
    with any_store.look() as unit:
        changes = unit.session.scalars(select(StandingChangeRow)).all()
        month = unit.session.get_one(SiteMonthRow, (plant.site_ids[0], "2026-11"))
        version = unit.session.get_one(SiteStateRow, plant.site_ids[0]).data_version
    assert [(c.point_id, c.was, c.level, c.trend, c.cause) for c in changes] == [
        (plant.point_ids[0], 0, 2, "rising", "trend: rising")
    ]
    assert (month.level_0, month.level_2) == (1, 1)
    assert version == 1


def test_the_day_of_a_change_is_that_of_the_site(any_store: Store) -> None:
    """Half past eleven in the evening in London summer time is tomorrow there, not in UTC."""
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, RISING)
    assess_trends(any_store, point_ids=[point], now=datetime(2026, 7, 1, 23, 30, tzinfo=UTC))
    assert state_of(any_store, point).since == date(2026, 7, 2)


def test_run_twice_it_ends_the_same(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, RISING)
    assess_trends(any_store, point_ids=[point], now=NOW)
    first = state_of(any_store, point)
    assert assess_trends(any_store, point_ids=[point], now=NOW + timedelta(hours=3)).changed == 0
    again = state_of(any_store, point)
    for name in PointStateRow.__table__.columns.keys():  # noqa: SIM118
        if name != "data_version":
            assert getattr(again, name) == getattr(first, name), name
    with any_store.look() as unit:
        assert unit.session.scalar(select(func.count()).select_from(StandingChangeRow)) == 1


def test_when_the_rise_ends_the_lift_ends_with_it(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, RISING)
    assess_trends(any_store, point_ids=[point], now=NOW)
    with any_store.begin() as unit:
        cut_series(unit, point, at=FIRST_VISIT + 9 * MONTH, reason="repaired")
    assess_trends(any_store, point_ids=[point], now=NOW + timedelta(days=1))
    state = state_of(any_store, point)
    assert (state.trend, state.level, state.trend_visits) == (Trend.TOO_FEW_VISITS, 0, 0)
    assert state.slope_k_month is None
    assert (state.trend_since, state.since) == (date(2026, 11, 26), date(2026, 11, 26))


def test_no_trend_runs_across_a_repair(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, RISING)
    read_monthly(any_store, point, FLAT, first=FIRST_VISIT + 8 * MONTH)
    with any_store.begin() as unit:
        cut_series(unit, point, at=FIRST_VISIT + 7.5 * MONTH, reason="repaired")
    assess_trends(any_store, point_ids=[point], now=NOW)
    state = state_of(any_store, point)
    assert (state.trend, state.trend_visits) == (Trend.STEADY, 8)


@pytest.mark.parametrize(
    "left_out", [{"trended": False}, {"counts_trend": False}, {"current": False}], ids=lambda d: next(iter(d))
)
def test_visits_that_do_not_count_are_left_out(any_store: Store, left_out: dict[str, bool]) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, FLAT)
    read_monthly(any_store, point, [9.0] * 8, first=FIRST_VISIT + 8 * MONTH, **left_out)
    assess_trends(any_store, point_ids=[point], now=NOW)
    state = state_of(any_store, point)
    assert (state.trend, state.trend_visits) == (Trend.STEADY, 8)


def test_kinds_of_reference_never_mix(any_store: Store) -> None:
    """Twenty kelvin over air after nought over like parts is no rise."""
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, FLAT)
    read_monthly(
        any_store, point, [20.0] * 6, first=FIRST_VISIT + 8 * MONTH, reference=ReferenceKind.AIR.value
    )
    assess_trends(any_store, point_ids=[point], now=NOW)
    state = state_of(any_store, point)
    assert (state.trend, state.trend_visits) == (Trend.STEADY, 8)


def test_without_visits_of_its_habit_a_point_is_trended_by_the_kind_it_has(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, [10 + 2 * k for k in range(10)], reference=ReferenceKind.AIR.value)
    assess_trends(any_store, point_ids=[point], now=NOW)
    state = state_of(any_store, point)
    assert (state.trend, state.trend_visits) == (Trend.RISING, 10)
    assert state.trend_method == policy_for(ReferenceKind.AIR).method


def test_values_at_common_load_and_as_measured_never_mix(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, FLAT)
    read_monthly(any_store, point, [15.0] * 6, first=FIRST_VISIT + 8 * MONTH, common_k=None, load_ratio=None)
    assess_trends(any_store, point_ids=[point], now=NOW)
    state = state_of(any_store, point)
    assert (state.trend, state.trend_visits) == (Trend.STEADY, 8)


def test_where_nothing_is_scaled_the_values_as_measured_are_trended(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, FLAT, common_k=None)
    assess_trends(any_store, point_ids=[point], now=NOW)
    assert state_of(any_store, point).trend_visits == 8


def test_a_reading_level_above_the_lift_stays(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, RISING, level=Level.REPAIR_SOON)
    assert assess_trends(any_store, point_ids=[point], now=NOW).changed == 0
    assert state_of(any_store, point).level == Level.REPAIR_SOON


def test_a_rise_of_a_point_without_a_verdict_is_shown(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, SLOWLY, level=None)
    assess_trends(any_store, point_ids=[point], now=NOW)
    assert state_of(any_store, point).level == Level.LOOK_AGAIN


def test_points_never_read_are_left_alone(any_store: Store) -> None:
    plant = build_plant(any_store)
    assert assess_trends(any_store, point_ids=plant.point_ids, now=NOW).points == 0
    assert assess_trends(any_store, point_ids=None, now=NOW).points == 0


def test_every_point_is_reached_however_many_chunks_it_takes(
    any_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    plant = build_plant(any_store, boards=2)
    for point in plant.point_ids:
        read_monthly(any_store, point, FLAT)
    monkeypatch.setattr(trend, "CHUNK", 5)
    for chosen in (None, [*plant.point_ids, *plant.point_ids]):
        told = assess_trends(any_store, point_ids=chosen, now=NOW)
        assert told.points == len(plant.point_ids)


def test_a_point_changed_while_it_was_worked_on_is_worked_on_again(
    any_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An upload commits between the job's reading and its writing."""
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, RISING[:-1])
    tell, uploads = trend._tell, [1]

    def tell_while_an_upload_comes_in(*told: object, **how: object) -> object:
        if uploads.pop() if uploads else 0:
            read_monthly(any_store, point, RISING[-1:], first=FIRST_VISIT + 7 * MONTH)
            with any_store.begin() as unit:
                unit.session.execute(update(PointStateRow).values(data_version=2, pending=True))
        return tell(*told, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(trend, "_tell", tell_while_an_upload_comes_in)
    assess_trends(any_store, point_ids=[point], now=NOW)
    assert state_of(any_store, point).trend_visits == 8


def test_the_register_decides_the_habit(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, FLAT)
    read_monthly(any_store, point, [20.0] * 6, reference=ReferenceKind.AIR.value)
    with any_store.begin() as unit:
        unit.session.execute(
            update(PointRow).where(PointRow.id == point).values(reference_kind=ReferenceKind.AIR.value)
        )
    assess_trends(any_store, point_ids=[point], now=NOW)
    assert state_of(any_store, point).trend_visits == 6
