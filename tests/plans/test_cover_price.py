"""An opened cover may weigh minutes of reading in the choice of a month; no rule is ever broken for it."""

from dataclasses import replace

import pytest
from sqlalchemy import update

from service.domain.cover_price import priced
from service.domain.plans import PlanBody
from service.domain.words import Access, Role
from service.storage.tables.register import ClientRow
from service.storage.unit import Store
from service.usecases.plans.candidates import Ground
from service.usecases.plans.draw_up import Wish, drawn_up
from service.usecases.plans.planned import planned_days_of
from service.usecases.plans.work import work_of
from tests.doors import browser_as, open_app, program_as
from tests.planning.day_checker import broken_rules
from tests.plans.builders import NOW, drawn, planning_plant, set_equipment
from tests.plans.worlds import facts_of, ground_of, random_month, visit_of

PRICES = (0.0, 15.0, 90.0, 600.0)


def with_price(ground: Ground, cover_minutes: float) -> Ground:
    return replace(ground, visits=priced(ground.visits, cover_minutes), cover_minutes=cover_minutes)


def opened(body: PlanBody, ground: Ground) -> int:
    covered = {visit.facts.id for visit in ground.visits if visit.facts.access.behind_cover}
    return len(body.on_walks & covered)


def test_a_minute_is_worth_what_the_due_visits_tell_a_minute() -> None:
    """Worked by hand: 300 for 30 minutes is 10 a minute; 12 minutes are 120."""
    visits = [
        visit_of(facts_of(1, 1, minutes=10), worth=100),
        visit_of(facts_of(2, 1, minutes=20, access=Access.HINGED_COVER), worth=200),
        visit_of(facts_of(3, 1, minutes=10), worth=9000, early=True),
    ]
    assert [one.cover_price for one in priced(visits, 12.0)] == [0, 120, 0]
    assert [one.score for one in priced(visits, 12.0)] == [100, 80, 9000]


def test_without_a_price_nothing_changes() -> None:
    _, ground = random_month(1)
    assert priced(ground.visits, 0.0) == ground.visits


@pytest.mark.parametrize("seed", range(40))
def test_no_rule_is_broken_for_a_price_and_what_cannot_wait_keeps_its_place(seed: int) -> None:
    body, ground = random_month(seed)
    musts = {visit.facts.id for visit in ground.visits if visit.must}
    placed = []
    for price in PRICES:
        weighed = with_price(ground, price)
        found = drawn_up(body, weighed, Wish("property", steps=20))
        assert broken_rules(work_of(found, weighed), planned_days_of(found)) == []
        assert not any(left.must and left.code == "not worth its cover" for left in found.left_out)
        named = found.on_walks | {left.equipment_id for left in found.left_out}
        assert named == {visit.facts.id for visit in ground.visits}, "each is on a walk or told why not"
        placed.append(len(found.on_walks & musts))
    assert min(placed) >= placed[0] - 1, "the search may differ by one, the price takes none away"


def test_the_higher_the_price_the_fewer_covers_are_opened() -> None:
    totals = dict.fromkeys(PRICES, 0)
    for seed in range(20):
        body, ground = random_month(seed)
        for price in PRICES:
            weighed = with_price(ground, price)
            totals[price] += opened(drawn_up(body, weighed, Wish("price", steps=20)), ground)
    counts = list(totals.values())
    assert counts == sorted(counts, reverse=True)
    assert counts[-1] < counts[0]


def test_by_hand_a_cover_is_opened_whatever_it_weighs() -> None:
    facts = facts_of(1, 1, access=Access.HINGED_COVER)
    visit = visit_of(facts, worth=100)
    ground = with_price(ground_of((visit, visit_of(facts_of(2, 1)))), 600.0)
    body, _ = random_month(3)
    body = replace(body, site_ids=(1,), walks=tuple(replace(walk, qualified=True) for walk in body.walks))
    free = drawn_up(body, ground, Wish("free", steps=0))
    assert [(one.equipment_id, one.code) for one in free.left_out] == [(1, "not worth its cover")]
    (left,) = free.left_out
    assert left.figures["price"] > left.figures["worth"]


def test_the_plan_shows_what_a_cover_weighs(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=2)
    set_equipment(store, plant.equipment_ids[0], access=Access.BOLTED_COVER.value)
    with store.begin() as unit:
        unit.session.execute(update(ClientRow).values(cover_minutes=240.0))
    page = drawn(store, plant)
    app = open_app(store, lambda: NOW)
    told = browser_as(app, store, plant, Role.ENGINEER, NOW).get(f"/rounds/plans/{page.plan.id}").text
    assert "each weighs as 4" in told
    assert "Tells less than its cover weighs" in told
    reply = program_as(app, store, plant, Role.ENGINEER, NOW).get(f"/api/v1/plans/{page.plan.id}").json()
    assert reply["cover_minutes"] == 240.0
    assert [one["code"] for one in reply["left_out"]] == ["not worth its cover"]
