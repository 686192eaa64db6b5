"""A plan tells its hours week by week, and its weeks can be levelled without dropping anything."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from service.domain.plan_weeks import fullest, weeks_of
from service.domain.plans import PlanBody, Walk, walk_key
from service.domain.words import Role
from service.storage.unit import Store
from service.usecases.plans.candidates import Ground
from service.usecases.plans.draw_up import Wish, drawn_up
from service.usecases.plans.level_weeks import levelling_weeks
from service.usecases.plans.planned import planned_days_of
from service.usecases.plans.work import work_of
from tests.doors import browser_as, open_app, program_as
from tests.planning.day_checker import broken_rules
from tests.plans.builders import NOW, drawn, planning_plant
from tests.plans.worlds import MONTH, facts_of, ground_of, random_month, visit_of


def lopsided(due_on: date = date(2026, 11, 2)) -> tuple[PlanBody, Ground]:
    """Three sites of two stops, three walks in the first week and three in the third."""
    visits = tuple(visit_of(facts_of(key, 1 + key % 3), due_on=due_on) for key in range(1, 7))
    days = [MONTH + timedelta(days=ago) for ago in (0, 1, 2, 14, 15, 16)]
    walks = tuple(
        Walk(
            key=walk_key(day, 1), day=day, person_id=1, start_min=480, end_min=600, qualified=True, category=1
        )
        for day in days
    )
    ground = ground_of(visits)
    shut = tuple(replace(walk, lost="shut") for walk in walks[3:])
    first = drawn_up(PlanBody(MONTH, (1, 2, 3), (*walks[:3], *shut)), ground, Wish("first", steps=20))
    return first.with_walks(walks[3:]), ground


def test_a_week_counts_what_is_walked_of_what_is_offered() -> None:
    monday = date(2026, 12, 7)
    body = PlanBody(
        MONTH,
        (1,),
        tuple(
            Walk(
                key=f"{ago}",
                day=monday + timedelta(days=ago),
                person_id=1,
                start_min=480,
                end_min=600,
                **more,
            )  # type: ignore[arg-type]
            for ago, more in ((0, {}), (2, {"lost": "ill"}), (4, {"reserve": "planned"}), (7, {}))
        ),
    )
    first, second = weeks_of(body)
    assert (first.monday, first.offered_min, first.kept_min, first.planned_min) == (monday, 240.0, 120.0, 0.0)
    assert (second.monday, second.offered_min, second.share) == (monday + timedelta(days=7), 120.0, 0.0)


def test_levelling_moves_work_into_the_empty_week_and_drops_nothing() -> None:
    body, ground = lopsided()
    before = weeks_of(body)
    assert before[1].planned_min == 0.0
    level, said = levelling_weeks()(body, ground)
    assert level.on_walks == body.on_walks
    assert fullest(weeks_of(level)) < fullest(before)
    assert weeks_of(level)[1].planned_min > 0.0
    assert "weeks levelled" in said
    assert levelling_weeks()(level, ground)[0] == level, "twice is once"


def test_a_stop_on_time_is_not_moved_past_its_day() -> None:
    body, ground = lopsided(due_on=date(2026, 12, 10))
    assert levelling_weeks()(body, ground)[0].walks == body.walks


def test_what_is_held_or_frozen_stays() -> None:
    body, ground = lopsided()
    held = replace(
        body,
        walks=tuple(
            replace(walk, stops=tuple(replace(stop, held=True) for stop in walk.stops))
            if at
            else replace(walk, frozen=True)
            for at, walk in enumerate(body.walks)
        ),
    )
    assert levelling_weeks()(held, ground)[0].walks == held.walks


@pytest.mark.parametrize("seed", range(25))
def test_levelled_weeks_break_no_rule_and_are_never_fuller(seed: int) -> None:
    body, ground = random_month(seed)
    plan = drawn_up(body, ground, Wish("drawn", steps=20))
    level, _ = levelling_weeks()(plan, ground)
    assert level.on_walks == plan.on_walks
    assert broken_rules(work_of(level, ground), planned_days_of(level)) == []
    assert fullest(weeks_of(level)) <= fullest(weeks_of(plan)) + 1e-9


def test_the_page_shows_bars_with_figures_and_levels_at_a_button(store: Store) -> None:
    plant = planning_plant(store, sites=2, boards=3)
    page = drawn(store, plant)
    app = open_app(store, lambda: NOW)
    engineer = browser_as(app, store, plant, Role.ENGINEER, NOW)
    at = f"/rounds/plans/{page.plan.id}"
    told = engineer.get(at).text
    assert "week-bar" in told
    assert "Level the weeks" in told
    program = program_as(app, store, plant, Role.ENGINEER, NOW)
    weeks = program.get(f"/api/v1/plans/{page.plan.id}").json()["weeks"]
    assert sum(week["planned_min"] for week in weeks) == pytest.approx(page.body.minutes)
    assert engineer.post(f"{at}/level", data={"version": str(page.plan.version)}).status_code == 303
    after = program.get(f"/api/v1/plans/{page.plan.id}").json()
    assert max(week["planned_min"] for week in after["weeks"]) <= max(week["planned_min"] for week in weeks)
    assert after["versions"][0]["what"].startswith("weeks levelled")
