"""Of what runs in turn a plan reads the one seen under load longest ago, and asks the site to run it."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from service.domain.duty_groups import in_turn
from service.domain.judgement import judge_view
from service.domain.plan_visits import Visit
from service.domain.presets import TWO_COLUMN
from service.domain.register import Noun
from service.domain.register_columns import column_of
from service.domain.seen import SeenPoint, SeenView
from service.domain.stop_facts import EquipmentFacts
from service.domain.words import Level, PointKind, ReferenceKind, Role
from service.storage import round_facts
from service.storage.unit import Store
from service.usecases.plans.change import Placing, change_plan, ordering, placing
from service.usecases.plans.make_rounds import make_rounds
from service.usecases.plans.see import read_plan
from service.usecases.rounds.permit_requests import list_permit_requests
from tests.builders import Plant
from tests.doors import browser_as, open_app, program_as
from tests.plans.builders import NOW, drawn, planning_plant, set_equipment
from tests.rounds.builders import judged

GROUP = "high-lift pumps"


def pumps(store: Store, count: int = 2, **fields: Any) -> tuple[Plant, list[int]]:
    """Boards of one site that run in turn, and one board beside them that does not."""
    plant = planning_plant(store, sites=1, boards=count + 1)
    here = plant.equipment_ids[:count]
    for key in here:
        set_equipment(store, key, duty_group=GROUP, **fields)
    return plant, here


def seen_under_load(store: Store, plant: Plant, at: int, day: date) -> None:
    moment = datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
    for point in plant.point_ids[3 * at : 3 * at + 3]:
        judged(store, point, at=moment)


def visit_of(facts: EquipmentFacts, loaded_on: date | None = None, **change: Any) -> Visit:
    fields: dict[str, Any] = {
        "facts": facts, "points": 3, "due_on": date(2026, 12, 1), "reason": "12 months", "early": False,
        "must": "", "worth": 100, "loaded_on": loaded_on,
    } | change  # fmt: skip
    return Visit(**fields)


@pytest.fixture
def two(store: Store) -> list[EquipmentFacts]:
    _, here = pumps(store)
    with store.look() as unit:
        facts = round_facts.equipment_facts(unit, here)
    return [facts[key] for key in here]


@pytest.mark.parametrize(
    ("days", "first"),
    [((date(2026, 3, 1), date(2026, 9, 1)), 0), ((date(2026, 9, 1), date(2026, 3, 1)), 1), ((date(2026, 3, 1), None), 1)],
    ids=["the first", "the second", "never seen goes first"],
)  # fmt: skip
def test_the_one_seen_under_load_longest_ago_is_read(
    two: list[EquipmentFacts], days: tuple[date | None, ...], first: int
) -> None:
    told = in_turn([visit_of(facts, day) for facts, day in zip(two, days, strict=True)], two)
    assert told[first].stands_by == ""
    assert "longest ago" in told[first].turn
    assert told[1 - first].stands_by.startswith(two[first].tag)


def test_what_is_due_goes_before_what_is_only_early(two: list[EquipmentFacts]) -> None:
    visits = [visit_of(two[0], date(2026, 3, 1), early=True), visit_of(two[1], date(2026, 9, 1))]
    assert [bool(one.stands_by) for one in in_turn(visits, two)] == [True, False]


def test_what_cannot_wait_never_stands_by(two: list[EquipmentFacts]) -> None:
    visits = [visit_of(facts, date(2026, 1, 1), must="its twelve months end") for facts in two]
    assert not any(one.stands_by for one in in_turn(visits, two))


def test_a_group_of_one_takes_no_turns(two: list[EquipmentFacts]) -> None:
    (only,) = in_turn([visit_of(two[0])], two[:1])
    assert (only.turn, only.stands_by) == ("", "")


def test_groups_of_one_name_at_two_sites_are_two(store: Store) -> None:
    plant = planning_plant(store, sites=2, boards=1)
    for key in plant.equipment_ids:
        set_equipment(store, key, duty_group=GROUP)
    assert drawn(store, plant).sums.stops == 2


def test_a_plan_reads_one_of_two_and_says_why(any_store: Store) -> None:
    plant, (first, second) = pumps(any_store)
    seen_under_load(any_store, plant, 0, date(2026, 5, 1))
    seen_under_load(any_store, plant, 1, date(2026, 3, 1))
    for key in (first, second):
        set_equipment(any_store, key, interval_months=6)
    page = drawn(any_store, plant)
    assert page.body.walk_of(first) is None
    walk = page.body.walk_of(second)
    assert walk is not None
    stop = next(one for one in walk.stops if one.equipment_id == second)
    assert "was seen under load longest ago: ask the site at once (asking was due 24 Nov)" in stop.why
    (left,) = page.body.put_off
    assert (left.equipment_id, left.code) == (first, "runs in turn")
    assert "S1-MCC2, seen under load last on 1 Mar 2026" in left.said


def test_both_are_read_where_the_site_runs_them_when_asked(store: Store) -> None:
    plant, here = pumps(store, run_on_request=True)
    assert all(drawn(store, plant).body.walk_of(key) is not None for key in here)


def test_by_hand_the_other_may_be_read_all_the_same(store: Store) -> None:
    plant, here = pumps(store)
    page = drawn(store, plant)
    (left,) = page.body.put_off
    walk = next(one for one in page.body.walks if one.open and not one.reserve)
    edit = placing(Placing(left.equipment_id, walk.key))
    change_plan(store, plant.actor(), page.plan.id, edit, version=page.plan.version, now=NOW)
    body = read_plan(store, plant.actor(), page.plan.id).body
    assert all(body.walk_of(key) is not None for key in here)


def test_a_place_is_offered_to_the_one_that_waits_and_its_walk_is_still_changed_by_hand(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=3)
    page = drawn(store, plant)
    first, second = plant.equipment_ids[:2]
    for key in (first, second):  # named a group after both were planned
        set_equipment(store, key, duty_group=GROUP)
    engineer = browser_as(open_app(store, lambda: NOW), store, plant, Role.ENGINEER, NOW)
    for key in (first, second):
        told = engineer.get(f"/rounds/plans/{page.plan.id}/place/{key}")
        assert told.status_code == 200
        assert "at 08:" in told.text
    walk = page.body.walk_of(second)
    assert walk is not None
    order = [stop.equipment_id for stop in walk.stops][::-1]
    change_plan(
        store, plant.actor(), page.plan.id, ordering(walk.key, order), version=page.plan.version, now=NOW
    )


def test_the_permit_list_asks_the_site_to_run_it(store: Store) -> None:
    plant, _ = pumps(store)
    page = drawn(store, plant)
    make_rounds(store, plant.actor(), page.plan.id, version=page.plan.version, now=NOW)
    span = {"first": date(2026, 12, 1), "last": date(2026, 12, 31)}
    found = list_permit_requests(store, plant.actor(), **span, lead_days=5, now=NOW)
    (site,) = found.sites
    assert (site.to_run, site.covers, site.waiting) == (1, 0, 0)
    engineer = browser_as(open_app(store, lambda: NOW), store, plant, Role.ENGINEER, NOW)
    told = engineer.get("/rounds/permits?first=2026-12-01&last=2026-12-31").text
    assert "One machine to be run for a visit; no cover is opened" in told
    assert f"of {GROUP}" in told
    rows = engineer.get("/rounds/permits.csv?first=2026-12-01&last=2026-12-31").text.splitlines()
    assert rows[0].rstrip().endswith("run_for_the_visit,run_request")
    assert rows[1].rstrip().endswith(f"{GROUP},to be asked for")


def test_the_field_stands_in_the_form_the_file_and_the_api(store: Store) -> None:
    plant, here = pumps(store)
    app = open_app(store, lambda: NOW)
    assert column_of("Duty group") is not None
    assert column_of("Runs on request")[0] is Noun.EQUIPMENT  # type: ignore[index]
    told = program_as(app, store, plant, Role.ENGINEER, NOW).get(f"/api/v1/equipment/{here[0]}").json()
    assert (told["duty_group"], told["run_on_request"]) == (GROUP, False)
    page = browser_as(app, store, plant, Role.ENGINEER, NOW).get(f"/equipment/{here[0]}").text
    assert f"{GROUP}, one at a time" in page


def bearing(**change: Any) -> SeenPoint:
    fields: dict[str, Any] = {
        "point_id": 1, "kind": PointKind.BEARING, "temperature_c": 24.0, "reference": ReferenceKind.BASELINE,
        "baseline_k": 20.0,
    } | change  # fmt: skip
    return SeenPoint(**fields)


@pytest.mark.parametrize(
    ("point", "said"),
    [
        (bearing(in_turn=True), "runs in turn, not said that it ran"),
        (bearing(in_turn=True, boxes={"speed_rpm": 0}), "not running"),
        (bearing(boxes={"speed_rpm": 0}), "not running"),
        (bearing(kind=PointKind.MOTOR, boxes={"load_share_percent": 0}), "not running"),
    ],
)
def test_a_standing_machine_could_not_be_cleared(point: SeenPoint, said: str) -> None:
    (verdict,) = judge_view(SeenView(points=(point,), ambient_c=20.0), TWO_COLUMN)
    assert verdict.level is None
    assert f"could not clear ({said})" in verdict.sentence
    assert not verdict.trended


def test_it_may_still_accuse(store: Store) -> None:
    hot = bearing(in_turn=True, temperature_c=95.0)
    (verdict,) = judge_view(SeenView(points=(hot,), ambient_c=20.0), TWO_COLUMN)
    assert verdict.at_least
    assert verdict.level is not None
    assert verdict.level > Level.NOTHING_FOUND


def test_one_that_ran_is_cleared_as_any_other() -> None:
    ran = bearing(in_turn=True, boxes={"speed_rpm": 1480})
    (verdict,) = judge_view(SeenView(points=(ran,), ambient_c=20.0), TWO_COLUMN)
    assert verdict.level is Level.NOTHING_FOUND
