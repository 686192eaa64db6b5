"""A hand moves, pins, freezes, leaves out and loses days; what it breaks is told with what would mend it."""

import shutil
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import update

from service.domain.plans import PlanBody, Walk
from service.domain.words import Access, Role, RoundState
from service.errors import Conflict, Forbidden, Invalid, Stale
from service.storage import plans, rounds
from service.storage.engine import open_engine
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.plans import change, draw_up, make_rounds, see, step, walk_party
from service.usecases.plans.change import Placing, WalkDetails
from service.usecases.plans.draw_up import Wish
from service.usecases.plans.lose import look_at_loss
from service.usecases.plans.offers import read_places
from service.usecases.plans.see import PlanPage
from tests.builders import Plant
from tests.demo_ground import settle
from tests.plans.builders import NOW, drawn, planning_plant, set_equipment, work_off
from tests.statements import knowing_the_statements


class Desk:
    """An engineer with a plan in front of them."""

    def __init__(self, store: Store, plant: Plant, plan_id: int) -> None:
        self.store, self.plant, self.actor = store, plant, plant.actor()
        self.plan_id = plan_id

    @property
    def page(self) -> PlanPage:
        return see.read_plan(self.store, self.actor, self.plan_id)

    def do(self, edit: change.Edit) -> PlanPage:
        version = self.page.plan.version
        change.change_plan(self.store, self.actor, self.plan_id, edit, version=version, now=NOW)
        return self.page

    def draw(self, wish: Wish) -> PlanPage:
        version = self.page.plan.version
        draw_up.ask_for_drawing(self.store, self.actor, self.plan_id, wish, version=version, now=NOW)
        work_off(self.store)
        return self.page

    def said(self, edit: change.Edit) -> str:
        with pytest.raises(Invalid) as told:
            self.do(edit)
        return " ".join(f"{one.message} {one.remedy}" for one in told.value.problems)


@pytest.fixture(scope="module")
def drawn_once(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Plant, int]:
    """A database with a plan that was drawn up once; every test changes a copy of it."""
    path = tmp_path_factory.mktemp("drawn") / "drawn.db"
    shutil.copy(sqlite_template, path)
    engine = knowing_the_statements(open_engine(f"sqlite:///{path}"))
    plant = planning_plant(Store(engine))
    plan_id = drawn(Store(engine), plant).plan.id
    settle(engine)
    return path, plant, plan_id


@pytest.fixture
def desk(drawn_once: tuple[Path, Plant, int], tmp_path: Path) -> Iterator[Desk]:
    path, plant, plan_id = drawn_once
    own = tmp_path / "own.db"
    shutil.copy(path, own)
    engine = knowing_the_statements(open_engine(f"sqlite:///{own}"))
    yield Desk(Store(engine), deepcopy(plant), plan_id)
    engine.dispose()


def full(body: PlanBody) -> Walk:
    return next(walk for walk in body.walks if len(walk.stops) > 1)


def empty(body: PlanBody) -> Walk:
    return next(walk for walk in body.walks if not walk.stops)


def keys(walk: Walk | None) -> list[int]:
    assert walk is not None
    return [stop.equipment_id for stop in walk.stops]


def test_a_stop_moves_to_another_walk_and_stays_there_when_planned_again(desk: Desk) -> None:
    body = desk.page.body
    stop, target = full(body).stops[0], empty(body)
    moved = desk.do(change.placing(Placing(stop.equipment_id, target.key)))
    assert keys(moved.body.walk(target.key)) == [stop.equipment_id]
    again = desk.draw(Wish("again", steps=60))
    assert stop.equipment_id in keys(again.body.walk(target.key))


def test_a_pinned_stop_begins_at_its_minute(desk: Desk) -> None:
    stop, target = full(desk.page.body).stops[0], empty(desk.page.body)
    page = desk.do(change.placing(Placing(stop.equipment_id, target.key, pinned_min=600.0)))
    placed = page.body.walk(target.key)
    assert placed is not None
    assert placed.stops[0].start_min == 600.0


def test_an_order_by_hand_is_kept_and_frozen(desk: Desk) -> None:
    walk = full(desk.page.body)
    backwards = keys(walk)[::-1]
    page = desk.do(change.ordering(walk.key, backwards))
    held = page.body.walk(walk.key)
    assert keys(held) == backwards
    assert held is not None
    assert held.frozen
    assert keys(desk.draw(Wish("again", steps=60)).body.walk(walk.key)) == backwards


def test_load_hours_that_are_missed_say_which_stop_and_what_would_mend_it(desk: Desk) -> None:
    walk = full(desk.page.body)
    last = walk.stops[-1].equipment_id
    set_equipment(desk.store, last, load_hours="daily 08:00-08:05")
    told = desk.said(change.ordering(walk.key, keys(walk)))
    assert "would be reached at" in told
    assert "read all the same" in told


def test_a_reason_keeps_a_stop_against_its_load_hours(desk: Desk) -> None:
    body = desk.page.body
    stop, target = full(body).stops[0], empty(body)
    set_equipment(desk.store, stop.equipment_id, load_hours="daily 05:00-05:30")
    wish = Placing(stop.equipment_id, target.key, anyway="the plant manager wants it seen")
    placed = desk.do(change.placing(wish)).body.walk(target.key)
    assert placed is not None
    assert placed.stops[0].anyway == "the plant manager wants it seen"


def test_no_reason_opens_a_cover_without_a_qualified_person(desk: Desk) -> None:
    body = desk.page.body
    stop, target = full(body).stops[0], empty(body)
    alone = WalkDetails(start_min=target.start_min, end_min=target.end_min, second_id=None)
    edit = change.detailing(target.key, alone, reader_qualified=False, second_qualified=False)
    desk.do(edit)
    set_equipment(desk.store, stop.equipment_id, access=Access.BOLTED_COVER.value)
    wish = Placing(stop.equipment_id, target.key, anyway="it is urgent")
    assert "not to be overruled" in desk.said(change.placing(wish))


def test_a_walk_too_short_says_by_how_much(desk: Desk) -> None:
    walk = full(desk.page.body)
    short = WalkDetails(start_min=walk.start_min, end_min=walk.start_min + 12)
    edit = change.detailing(walk.key, short, reader_qualified=True, second_qualified=False)
    assert "after its shift" in desk.said(edit)


def test_what_is_left_out_needs_a_reason_and_can_come_back(desk: Desk) -> None:
    stop = full(desk.page.body).stops[0].equipment_id
    assert "needs a reason" in desk.said(change.excluding(stop, " "))
    page = desk.do(change.excluding(stop, "shutdown until spring"))
    assert page.body.excluded == {stop: "shutdown until spring"}
    assert stop not in page.body.on_walks
    again = desk.draw(Wish("again", steps=20))
    assert stop not in again.body.on_walks
    assert stop in desk.do(change.excluding(stop, "")).body.equipment_ids
    assert stop in desk.draw(Wish("again", steps=20)).body.on_walks


def test_a_lost_day_puts_its_stops_off_until_they_find_another_place(desk: Desk) -> None:
    walk = full(desk.page.body)
    lost = desk.do(change.losing(walk.key, "flooded road"))
    assert {one.code for one in lost.body.left_out} == {"walk lost"}
    assert {one.equipment_id for one in lost.body.left_out} == set(keys(walk))
    others = {one.key: keys(one) for one in lost.body.walks if one.stops}
    filled = desk.draw(Wish("filled", steps=0))
    assert filled.body.left_out == ()
    for key, before in others.items():
        assert set(before) <= set(keys(filled.body.walk(key)))


def test_a_loss_is_looked_at_before_it_is_taken(desk: Desk) -> None:
    walk = full(desk.page.body)
    look = look_at_loss(desk.store, desk.actor, desk.plan_id, walk.key, now=NOW)
    assert look.waiting == len(walk.stops)
    assert look.filled_back == look.anew_back == look.waiting
    assert desk.page.body.walk(walk.key) == walk


def test_fifty_steps_back_and_forth(desk: Desk) -> None:
    walk = full(desk.page.body)
    first = desk.page.body
    for turn in range(50):
        desk.do(change.freezing(walk.key, frozen=turn % 2 == 0))
    newest = desk.page.body
    for _ in range(50):
        step.undo(desk.store, desk.actor, desk.plan_id, version=desk.page.plan.version, now=NOW)
    assert desk.page.body == first
    for _ in range(50):
        step.redo(desk.store, desk.actor, desk.plan_id, version=desk.page.plan.version, now=NOW)
    assert desk.page.body == newest


def test_what_if_draws_beside_the_plan_and_changes_nothing_of_it(desk: Desk) -> None:
    before = desk.page
    wish: dict[str, Any] = {"kind": "hours", "hours": -20.0}
    draw_up.ask_what_if(desk.store, desk.actor, desk.plan_id, wish, version=before.plan.version, now=NOW)
    work_off(desk.store)
    after = desk.page
    assert after.number == before.number
    assert after.body == before.body
    beside = after.versions[0]
    assert (beside.aside, beside.what) == (True, "what if: 20 hours fewer")
    found = see.compare_versions(desk.store, desk.actor, desk.plan_id, before.number, beside.number, now=NOW)
    assert found.after.body.walks[0].end_min < found.before.body.walks[0].end_min


def test_an_order_taken_back_leaves_the_plan_as_it_was(desk: Desk) -> None:
    before = desk.page
    draw_up.ask_for_drawing(
        desk.store, desk.actor, desk.plan_id, Wish("again"), version=before.plan.version, now=NOW
    )
    with pytest.raises(Conflict):
        desk.do(change.freezing(full(before.body).key, frozen=True))
    draw_up.stop_drawing(desk.store, desk.actor, desk.plan_id, version=desk.page.plan.version)
    work_off(desk.store)
    assert desk.page.body == before.body
    assert desk.page.plan.newest == before.plan.newest


def test_walks_become_drafts_and_the_drafts_follow_the_plan(desk: Desk) -> None:
    page = desk.page
    made = make_rounds.make_rounds(desk.store, desk.actor, desk.plan_id, version=page.plan.version, now=NOW)
    walk = full(page.body)
    round_ = desk.page.rounds[walk.key]
    assert round_.code in made.made
    assert (round_.state, round_.planned_on, round_.person_id) == (RoundState.DRAFT, walk.day, walk.person_id)
    assert stops_of(desk, round_.id) == keys(walk)
    desk.do(change.ordering(walk.key, keys(walk)[::-1]))
    make_rounds.make_rounds(desk.store, desk.actor, desk.plan_id, version=desk.page.plan.version, now=NOW)
    assert stops_of(desk, round_.id) == keys(walk)[::-1]
    assert desk.page.rounds[walk.key].id == round_.id


def test_a_walk_whose_round_has_gone_out_is_planned_over_no_more(desk: Desk) -> None:
    page = desk.page
    make_rounds.make_rounds(desk.store, desk.actor, desk.plan_id, version=page.plan.version, now=NOW)
    walk = full(page.body)
    with desk.store.begin() as unit:
        issued = {"state": RoundState.ISSUED.value}
        round_id = plans.rounds_of(unit, desk.plan_id)[walk.key]
        unit.session.execute(update(RoundRow).where(RoundRow.id == round_id).values(**issued))
    again = desk.draw(Wish("afresh", steps=30, afresh=True))
    assert keys(again.body.walk(walk.key)) == keys(walk)
    with pytest.raises(Conflict):
        desk.do(change.ordering(walk.key, keys(walk)[::-1]))
    assert desk.do(change.losing(walk.key, "flooded")).body.walk(walk.key).lost == "flooded"  # type: ignore[union-attr]


def stops_of(desk: Desk, round_id: int) -> list[int]:
    with desk.store.look() as unit:
        return [stop.equipment_id for stop in rounds.stops_of(unit, round_id)]


def test_every_walk_says_what_it_would_cost_to_take_a_stop_in(desk: Desk) -> None:
    stop = full(desk.page.body).stops[0].equipment_id
    places = read_places(desk.store, desk.actor, desk.plan_id, stop, now=NOW)
    assert [one.check.fits for one in places.offers] == sorted(
        (one.check.fits for one in places.offers), reverse=True
    )
    assert sum(one.here for one in places.offers) == 1
    assert all(one.check.change_min >= 0 for one in places.offers if one.check.fits)


def test_a_change_on_an_old_page_is_refused(desk: Desk) -> None:
    walk = full(desk.page.body)
    stale = desk.page.plan.version
    desk.do(change.freezing(walk.key, frozen=True))
    with pytest.raises(Stale):
        change.change_plan(
            desk.store,
            desk.actor,
            desk.plan_id,
            change.freezing(walk.key, frozen=False),
            version=stale,
            now=NOW,
        )


def test_a_technician_sees_rounds_not_plans(desk: Desk) -> None:
    with pytest.raises(Forbidden):
        see.read_plan(desk.store, desk.plant.actor(Role.TECHNICIAN), desk.plan_id)


def test_somebody_who_may_not_walk_there_does_not_go_along(desk: Desk) -> None:
    walk = full(desk.page.body)
    wish = WalkDetails(start_min=walk.start_min, end_min=walk.end_min, second_id=987_654)
    with pytest.raises(Invalid):
        walk_party.detail_walk(
            desk.store,
            desk.actor,
            desk.plan_id,
            walk.key,
            wish,
            version=desk.page.plan.version,
            now=NOW,
        )
