"""Old verdicts: appended by the trend's job when they change, never by an upload, never twice."""

from datetime import UTC, datetime, timedelta

from sqlalchemy import func, select, update

from service.domain.trend_verdicts import Cause, causes
from service.domain.words import Trend
from service.storage.series_cuts import cut_series
from service.storage.tables.readings import PointStateRow, TrendVerdictRow
from service.storage.tables.register import CriteriaSetRow
from service.storage.trend_verdicts import verdicts_of
from service.storage.unit import Store
from service.usecases.condition.trend import assess_trends
from tests.builders import build_plant
from tests.condition.histories import FIRST_VISIT, MONTH, read_monthly

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
LEVEL = [0.2, 0.1, 0.3, 0.2, 0.1, 0.3]
CLIMB = [1.9, 3.2, 4.0, 5.1, 6.2]


def kept(store: Store, point: int):
    with store.look() as unit:
        return verdicts_of(unit, point, most=50)


def test_a_trend_that_changes_leaves_what_was_said_before_and_why(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, LEVEL)
    assess_trends(any_store, point_ids=[point], now=NOW)
    read_monthly(any_store, point, CLIMB, first=FIRST_VISIT + 6 * MONTH)
    assess_trends(any_store, point_ids=[point], now=NOW + timedelta(days=2))
    now, before = kept(any_store, point)
    assert (before.trend, before.told_at) == (Trend.STEADY, NOW)
    assert now.trend.worsening
    assert now.chance_12 is not None
    assert causes(before, now) == (Cause.VISIT,)
    assert now.criteria.endswith("version 1")


def test_run_twice_it_keeps_nothing_twice(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, [*LEVEL, *CLIMB])
    for hours in range(3):
        assess_trends(any_store, point_ids=[point], now=NOW + timedelta(hours=hours))
    assert len(kept(any_store, point)) == 1


def test_a_repair_ends_what_was_said_and_is_named_as_the_cause(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, [*LEVEL, *CLIMB])
    assess_trends(any_store, point_ids=[point], now=NOW)
    with any_store.begin() as unit:
        cut_series(unit, point, at=NOW, reason="repaired")
    assess_trends(any_store, point_ids=[point], now=NOW + timedelta(days=1))
    now, before = kept(any_store, point)
    assert now.trend is Trend.TOO_FEW_VISITS
    assert before.trend.worsening
    assert Cause.CUT in causes(before, now)


def test_other_criteria_and_another_rule_are_kept_though_the_words_stay(any_store: Store) -> None:
    point = build_plant(any_store).point_ids[0]
    read_monthly(any_store, point, LEVEL)
    assess_trends(any_store, point_ids=[point], now=NOW)
    with any_store.begin() as unit:
        ids = list(unit.session.scalars(select(CriteriaSetRow.id).order_by(CriteriaSetRow.id)))
        unit.session.execute(
            update(PointStateRow).where(PointStateRow.point_id == point).values(criteria_id=ids[1])
        )
        unit.session.execute(update(TrendVerdictRow).values(method="robust-slope/1"))
    assess_trends(any_store, point_ids=[point], now=NOW + timedelta(days=1))
    now, before = kept(any_store, point)
    assert now.trend is before.trend
    assert causes(before, now) == (Cause.METHOD, Cause.CRITERIA)


def test_points_of_which_nothing_can_be_said_take_no_rows(any_store: Store) -> None:
    plant = build_plant(any_store)
    for point in plant.point_ids[:3]:
        read_monthly(any_store, point, [0.2, 0.1])
    assess_trends(any_store, point_ids=None, now=NOW)
    with any_store.look() as unit:
        assert unit.session.scalar(select(func.count()).select_from(TrendVerdictRow)) == 0
