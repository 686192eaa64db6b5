"""A point that was set aside leaves the lists of decisions until its review, or until it rises."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from service.domain.desk import DeskItem, Waiting
from service.domain.findings import FindingFile
from service.domain.overview import WorstPoint
from service.domain.words import FindingState, Level, Role
from service.errors import Conflict
from service.storage.tables.findings import FindingRow
from service.storage.unit import Store
from service.usecases.condition.overview import see_overview
from service.usecases.condition.presets import ensure_presets
from service.usecases.findings import move_finding as moves
from service.usecases.findings.desk import see_desk
from service.usecases.findings.open_finding import FindingFields, open_on_point
from tests.builders import Plant, build_plant
from tests.pages.standing_builders import set_state
from tests.readings.builders import Issued, issue

JAN, REVIEW = datetime(2026, 1, 12, 8, 0, tzinfo=UTC), date(2026, 6, 1)


@pytest.fixture
def plant(any_store: Store) -> Plant:
    ensure_presets(any_store, now=JAN)
    return build_plant(any_store)


def walk(store: Store, plant: Plant, at: datetime, *, hot_k: float) -> Issued:
    made = issue(store, plant=plant, walked_at=at)
    made.bring([made.record(n, 40.0 + (hot_k if n == 0 else 0.0)) for n in range(len(made.rows))])
    return made


def mild(store: Store, plant: Plant) -> Issued:
    """A point that stands at Look again; the next reading 8 K over its like parts raises it."""
    made = walk(store, plant, JAN, hot_k=0.0)
    set_state(store, made.rows[0][2], level=1)
    return made


def put_aside(store: Store, made: Issued, *, now: datetime = JAN + timedelta(days=1)) -> FindingFile:
    file = open_on_point(
        store, made.engineer, point_id=made.rows[0][2], fields=FindingFields(), now=made.received_at
    )
    return moves.set_aside(
        store, made.engineer, finding_id=file.finding.id, version=file.finding.version,
        reason="Spare way, no load", review_on=REVIEW, now=now,
    )  # fmt: skip


def on_desk(store: Store, made: Issued, now: datetime) -> list[DeskItem]:
    desk = see_desk(store, made.engineer, now=now)
    return [item for item in desk.items if item.point_id == made.rows[0][2]]


def on_standing(store: Store, made: Issued, now: datetime) -> list[WorstPoint]:
    seen = see_overview(store, made.engineer, now=now)
    return [point for point in seen.worst if point.point_id == made.rows[0][2]]


def test_a_point_set_aside_still_stood_on_the_desk_as_undecided(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    assert [item.waiting for item in on_desk(any_store, made, JAN + timedelta(days=1))] == [Waiting.DECIDE]
    file = put_aside(any_store, made)
    assert file.finding.state is FindingState.SET_ASIDE
    assert on_desk(any_store, made, JAN + timedelta(days=2)) == []
    assert on_standing(any_store, made, JAN + timedelta(days=2)) == []
    assert see_desk(any_store, made.engineer, now=JAN + timedelta(days=2)).more == 0


def test_on_the_day_of_its_review_it_is_back_once_and_says_so(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    file = put_aside(any_store, made)
    before, day = (datetime(2026, *on, 9, tzinfo=UTC) for on in ((5, 31), (6, 1)))
    assert on_desk(any_store, made, before) == []
    assert on_standing(any_store, made, before) == []
    (item,) = on_desk(any_store, made, day)
    assert (item.waiting, item.finding_id) == (Waiting.REVIEW, file.finding.id)
    (point,) = on_standing(any_store, made, day)
    assert point.aside is not None
    assert point.aside.review_on == REVIEW


def test_a_point_that_rises_above_the_level_it_was_set_aside_at_returns_with_a_word_why(
    any_store: Store, plant: Plant
) -> None:
    made = mild(any_store, plant)
    file = put_aside(any_store, made)
    assert file.finding.level is Level.LOOK_AGAIN
    assert on_desk(any_store, made, JAN + timedelta(days=31)) == []
    walk(any_store, plant, JAN + timedelta(days=60), hot_k=8.0)
    now = JAN + timedelta(days=61)
    (item,) = on_desk(any_store, made, now)
    assert item.waiting is Waiting.DECIDE
    assert item.finding_id == file.finding.id, "it leads to what was decided before"
    assert "set aside at Look again and has risen since" in item.detail
    (point,) = on_standing(any_store, made, now)
    assert point.level is Level.PLAN_REPAIR
    assert point.aside is not None
    assert point.aside.level is Level.LOOK_AGAIN


def test_setting_aside_covers_the_level_the_point_has_reached_by_then(any_store: Store, plant: Plant) -> None:
    made = mild(any_store, plant)
    file = open_on_point(
        any_store, made.engineer, point_id=made.rows[0][2], fields=FindingFields(), now=made.received_at
    )
    walk(any_store, plant, JAN + timedelta(days=30), hot_k=8.0)
    file = moves.set_aside(
        any_store, made.engineer, finding_id=file.finding.id, version=file.finding.version,
        reason="Outage in May", review_on=REVIEW, now=JAN + timedelta(days=31),
    )  # fmt: skip
    assert file.finding.level is Level.PLAN_REPAIR
    assert on_desk(any_store, made, JAN + timedelta(days=32)) == []


def test_a_point_that_stands_at_act_now_is_not_set_aside_by_a_milder_finding(
    any_store: Store, plant: Plant
) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    file = open_on_point(
        any_store, made.engineer, point_id=made.rows[0][2], fields=FindingFields(), now=made.received_at
    )
    set_state(any_store, made.rows[0][2], level=4)
    with pytest.raises(Conflict, match="accepted its risk"):
        moves.set_aside(
            any_store, made.engineer, finding_id=file.finding.id, version=file.finding.version, reason="later",
            review_on=REVIEW, now=JAN,
        )  # fmt: skip
    moves.accept_risk(
        any_store, plant.actor(Role.MANAGER), finding_id=file.finding.id, version=file.finding.version,
        note="Until May", now=JAN,
    )  # fmt: skip


def test_taken_up_again_it_is_a_finding_of_the_level_it_stands_at(any_store: Store, plant: Plant) -> None:
    made = mild(any_store, plant)
    file = put_aside(any_store, made)
    walk(any_store, plant, JAN + timedelta(days=30), hot_k=8.0)
    file = moves.take_up_again(
        any_store, made.engineer, finding_id=file.finding.id, version=file.finding.version, now=JAN
    )
    assert (file.finding.state, file.finding.level) == (FindingState.OPEN, Level.PLAN_REPAIR)
    assert on_desk(any_store, made, JAN + timedelta(days=31)) == []
    assert [point.finding_id for point in on_standing(any_store, made, JAN + timedelta(days=31))] == [
        file.finding.id
    ]


def test_a_later_finding_of_the_point_undoes_what_was_set_aside_before(
    any_store: Store, plant: Plant
) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    first = put_aside(any_store, made)
    later = open_on_point(
        any_store,
        made.engineer,
        point_id=made.rows[0][2],
        fields=FindingFields(),
        now=JAN + timedelta(days=2),
    )
    with pytest.raises(Conflict, match="another finding"):
        moves.take_up_again(
            any_store, made.engineer, finding_id=first.finding.id, version=first.finding.version, now=JAN
        )
    with any_store.begin() as unit:
        row = unit.session.get(FindingRow, later.finding.id)
        assert row is not None
        row.state = FindingState.PROVEN.value
    set_state(any_store, made.rows[0][2], finding_id=None)
    (item,) = on_desk(any_store, made, JAN + timedelta(days=3))
    assert (item.waiting, item.finding_id) == (Waiting.DECIDE, None)


def test_technicians_see_set_aside_points_no_more_either(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    put_aside(any_store, made)
    desk = see_desk(any_store, replace(made.technician), now=JAN + timedelta(days=2))
    assert not desk.of(Waiting.DECIDE)
