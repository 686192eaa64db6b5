"""Crew days: no hard rule is ever broken, every reason is true, and a replan never loses."""

from dataclasses import replace

import numpy as np
import pytest

from service.planning.day_routes import (
    Candidate,
    Code,
    CrewDay,
    Gate,
    Pin,
    Place,
    PlannedDays,
    Work,
    orders_of,
    plan_days,
)
from service.planning.ground import Ground
from service.planning.order_checks import check_order, try_on_day
from service.planning.reasons import fits_when
from service.planning.recreate import Search
from service.planning.replanning import lose_day
from service.planning.what_ifs import what_if
from tests.planning.changed_work import add_qualified_person, change_hours, close_site, pin_visit
from tests.planning.day_checker import broken_rules

WINDOWS = ((), ((420, 600),), ((780, 900),), ((430, 500), (700, 800)), ((1320, 480),), ((600, 605),))
BASE = 99
REGISTERS = 500


def small_work(seed: int) -> Work:
    """Up to 11 candidates at 3 sites on up to 3 crew days, with every rule in use."""
    rng, hours = np.random.default_rng(seed), np.random.default_rng((seed, 1))
    gates = [
        Gate(
            site,
            50 + float(rng.uniform(-0.1, 0.1)),
            9 + float(rng.uniform(-0.1, 0.1)),
            sign_in_min=(None, 0.0, 25.0)[int(rng.integers(3))],
            opens=((), ((480, 720),))[int(rng.random() < 0.2)],
            closed_days=frozenset({1} if rng.random() < 0.1 else ()),
            opens_on={1: ((), ((540, 600), (660, 800)))[int(hours.integers(2))]}
            if hours.random() < 0.2
            else {},
        )
        for site in range(3)
    ]
    days = [
        CrewDay(
            key=10 + k,
            day=k // 2,
            start_min=float(rng.choice([360, 420, 480])),
            end_min=float(rng.choice([600, 720, 900])),
            crew=k % 2,
            begins=BASE if rng.random() < 0.7 else None,
            ends=BASE if rng.random() < 0.7 else None,
            has_qualified_person=bool(rng.random() < 0.5),
            category=int(rng.integers(3)),
            closed_sites=frozenset({int(rng.integers(3))} if rng.random() < 0.2 else ()),
            indoors_only=bool(rng.random() < 0.2),
        )
        for k in range(int(rng.integers(1, 4)))
    ]
    candidates = [one_candidate(k, rng, [day.key for day in days]) for k in range(int(rng.integers(1, 12)))]
    return Work(candidates, days, [*gates, Gate(BASE, 50.0, 9.0)])


def one_candidate(key: int, rng: np.random.Generator, days: list[int]) -> Candidate:
    pin = None
    if rng.random() < 0.1:
        pin = Pin(int(rng.choice(days)), 500.0 if rng.random() < 0.5 else None)
    return Candidate(
        key=key,
        place=Place(int(rng.integers(3)), float(rng.uniform(0, 500)), float(rng.uniform(0, 500))),
        minutes=float(rng.integers(5, 90)),
        score=int(rng.integers(0, 100)),
        windows=WINDOWS[int(rng.integers(len(WINDOWS)))],
        windows_on={0: WINDOWS[int(rng.integers(len(WINDOWS)))]} if rng.random() < 0.1 else {},
        needs_qualified_person=bool(rng.random() < 0.25),
        category=int(rng.integers(3)),
        outdoor=bool(rng.random() < 0.2),
        must=bool(rng.random() < 0.1),
        pin=pin,
        closed_days=frozenset({0} if rng.random() < 0.1 else ()),
    )


def search_of(work: Work, plan: PlannedDays) -> Search:
    """The finished plan, ready to be asked what would fit beside it."""
    ground = Ground(work)
    return Search(ground, seed=0, orders=orders_of(ground, plan))


@pytest.mark.parametrize("part", range(10))
def test_no_hard_rule_is_broken_and_every_reason_is_true(part):
    """500 random registers; a reason holds when nothing fits as it is and all fits with it lifted."""
    for seed in range(part, REGISTERS, 10):
        work = small_work(seed)
        plan = plan_days(work, seed=seed, steps=6)
        assert broken_rules(work, plan) == [], seed
        assert [reason.key for reason in plan.reasons] == sorted(one.key for one in work.candidates)
        assert plan.value <= plan.bound, seed
        placed = plan.day_of
        search = search_of(work, plan)
        for reason in plan.reasons:
            if reason.key in placed:
                assert reason.code in (Code.SCHEDULED, Code.MUST, Code.PINNED)
                assert reason.crew_day == placed[reason.key]
                continue
            lifted = (reason.code, *reason.also)
            assert fits_when(search, reason.key) is None, (seed, reason)
            assert fits_when(search, reason.key, lifted=lifted) is not None, (seed, reason)
            for rule in lifted:
                spared = tuple(other for other in lifted if other != rule)
                assert fits_when(search, reason.key, lifted=spared) is None, (seed, reason, rule)


@pytest.mark.parametrize("seed", range(12))
def test_a_plan_repeats_to_the_bit_whatever_the_order_of_its_input(seed):
    work = small_work(seed)
    turned = replace(work, candidates=work.candidates[::-1], crew_days=work.crew_days[::-1])
    assert plan_days(work, seed=3, steps=15) == plan_days(turned, seed=3, steps=15)


def day(key: int, *, start: float = 480, end: float = 540, **more) -> CrewDay:
    return CrewDay(key, more.pop("day", key), start, end, **more)


def visit(key: int, minutes: float = 20, score: int = 10, **more) -> Candidate:
    """At one site, without ways; a day that begins nowhere signs in for 10 minutes."""
    return Candidate(key, more.pop("place", Place(1, 0, 0)), minutes, score, **more)


def reason_for(work: Work, key: int, **more):
    return next(reason for reason in plan_days(work, **more).reasons if reason.key == key)


CASES = {
    Code.NO_QUALIFIED_PERSON: (visit(1, needs_qualified_person=True), day(1)),
    Code.NO_CERTIFICATE: (visit(1, category=2), day(1, category=1)),
    Code.LOCK_OUT: (visit(1, closed_days=frozenset({1})), day(1)),
    Code.WEATHER: (visit(1, outdoor=True), day(1, indoors_only=True)),
    Code.FROZEN: (visit(1), day(1, frozen=True)),
    Code.LOAD_HOURS: (visit(1, windows=((420, 470),)), day(1)),
    Code.HOURS: (visit(1, minutes=65), day(1)),
}


@pytest.mark.parametrize("code", CASES, ids=lambda code: code.value)
def test_reason_names_the_one_rule_that_stands_in_the_way(code):
    one, crew_day = CASES[code]
    found = reason_for(Work([one], [crew_day]), 1)
    assert (found.code, found.also) == (code, ())


def test_reason_of_hours_tells_what_is_needed_and_what_is_left():
    """Worked by hand: signing in 10, 30 read, 20 left of the hour; another 30 are needed."""
    work = Work([visit(1, 30, 90), visit(2, 30, 60)], [day(1)])
    found = reason_for(work, 2)
    assert (found.code, found.needs_min, found.free_min) == (Code.HOURS, 30.0, 20.0)
    assert (found.worth, found.worth_per_min, found.last_worth_per_min) == (60.0, 2.0, pytest.approx(90 / 40))


def test_reason_of_load_hours_tells_when_they_close_and_when_the_crew_could_be_there():
    work = Work([visit(1, 20, windows=((420, 505),))], [day(1)])
    found = reason_for(work, 1)
    assert (found.code, found.closes_min, found.arrive_min) == (Code.LOAD_HOURS, 485.0, 490.0)


def test_reason_of_a_site_that_is_not_visited_tells_its_entry_and_how_many_wait_there():
    """Worked by hand: 20 by road there, 20 back, 10 at the gate, in an hour that has 40 left."""
    far = [visit(k, 10, 5, place=Place(2, 0, 0)) for k in (2, 3)]
    work = Work(
        [visit(1, 20, 90), *far], [day(1, begins=1, ends=1, end=550)], drive_min={(1, 2): 20, (2, 1): 20}
    )
    found = reason_for(work, 2)
    assert (found.code, found.entry_min, found.at_site) == (Code.SITE_NOT_VISITED, 50.0 - 0.0, 2)


def test_musts_go_before_what_is_worth_more():
    work = Work([visit(1, 40, 1, must=True), visit(2, 40, 900)], [day(1)])
    plan = plan_days(work, steps=20)
    assert plan.day_of == {1: 1}
    assert [reason.code for reason in plan.reasons] == [Code.MUST, Code.HOURS]


def test_a_pin_stays_on_its_day_and_at_its_minute():
    ones = [visit(1, 20, 1, pin=Pin(2, 510.0)), visit(2, 20, 50), visit(3, 20, 40)]
    plan = plan_days(Work(ones, [day(1), day(2)]), steps=40)
    pinned = next(v for d in plan.days for v in d.visits if v.key == 1)
    assert (plan.day_of[1], pinned.start_tenths) == (2, 5100)


def test_a_frozen_day_is_taken_over_as_it_is():
    work = Work([visit(k, 20, k) for k in range(1, 5)], [day(1), day(2)])
    plan = plan_days(work, steps=0)
    frozen = replace(work, crew_days=[replace(work.crew_days[0], frozen=True), work.crew_days[1]])
    changed = replace(frozen, candidates=[*frozen.candidates, visit(9, 20, 500)])
    again = plan_days(changed, steps=30, incumbent=plan)
    assert again.days[0] == plan.days[0]
    assert again.day_of[9] == 2


def test_a_replan_is_never_worse_than_the_plan_it_begins_from():
    for seed in range(25):
        work = small_work(seed)
        plan = plan_days(work, seed=seed, steps=10)
        again = plan_days(work, seed=seed + 1, steps=3, incumbent=plan)
        musts = {one.key for one in work.candidates if one.must}
        assert len(musts & set(again.day_of)) >= len(musts & set(plan.day_of))
        assert again.value >= plan.value or musts


def test_a_lost_day_offers_both_ways_and_tells_what_moves():
    """Two days of an hour hold two visits each; the lost day's better one is worth a move."""
    ones = [visit(1, 20, 50), visit(2, 20, 40), visit(3, 20, 30), visit(4, 20, 20)]
    work = Work(ones, [day(1), day(2)])
    plan = plan_days(work, steps=20)
    worth = {one.key: one.score for one in ones}
    first = next(d for d in plan.days if 1 in d.keys)
    lost = lose_day(work, plan, crew_day=first.key, steps=30)
    assert lost.lost == tuple(sorted(first.keys))
    assert lost.inserted_back == 0
    assert set(lost.inserted.day_of) == set(plan.day_of) - set(first.keys)
    assert set(lost.reworked.day_of) == {1, 2}
    assert lost.reworked_back == 90 - sum(worth[key] for key in lost.inserted.day_of)
    assert set(lost.moved) == set(lost.inserted.day_of) - {1, 2}
    dear = lose_day(work, plan, crew_day=first.key, steps=30, stay_price=1_000)
    assert (dear.moved, dear.reworked_back) == ((), 0)


def test_a_day_that_the_plan_does_not_have_cannot_be_lost():
    work = Work([visit(1)], [day(1)])
    with pytest.raises(ValueError, match="no crew day 5"):
        lose_day(work, plan_days(work, steps=0), crew_day=5)


def test_an_order_is_told_what_breaks_first_and_what_would_mend_it():
    ones = [visit(1, 10, windows=((480, 505),)), visit(2, 20), visit(3, 15)]
    work = Work(ones, [day(9)])
    good = check_order(work, crew_day=9, keys=[1, 2, 3], before=[1, 2])
    assert (good.fits, good.finish_min, good.change_min) == (True, 535.0, 15.0)
    late = check_order(work, crew_day=9, keys=[2, 1, 3])
    assert (late.broken, late.rule, late.arrive_min, late.over_min) == (1, Code.LOAD_HOURS, 510.0, 15.0)
    assert late.fits_at == 1
    full = Work([*ones, visit(4, 20)], [day(9)])
    over = check_order(full, crew_day=9, keys=[1, 2, 3, 4])
    assert (over.broken, over.rule, over.over_min, over.fits_at) == (4, Code.HOURS, 15.0, None)


def test_an_order_without_a_qualified_person_is_refused_by_name():
    work = Work([visit(1), visit(2, needs_qualified_person=True)], [day(9)])
    found = check_order(work, crew_day=9, keys=[1, 2])
    assert (found.fits, found.broken, found.rule) == (False, 2, Code.NO_QUALIFIED_PERSON)


def test_a_visit_is_tried_at_its_best_place_on_another_day():
    ones = [visit(1, 20, windows=((480, 515),)), visit(2, 20), visit(3, 20, score=0)]
    work = Work(ones, [day(1), day(2)])
    plan = plan_days(pin_visit(pin_visit(work, 1, pin=Pin(1)), 2, pin=Pin(2)), steps=0)
    held = try_on_day(work, plan, key=1, crew_day=2)
    assert held.fits
    assert held.keys[0] == 1


def test_a_what_if_begins_from_the_plan_and_shows_a_range():
    work = small_work(7)
    plan = plan_days(work, seed=1, steps=20)
    longer = what_if(change_hours(work, 240), plan, steps=10)
    shorter = what_if(change_hours(work, -240), plan, steps=10)
    assert plan.value <= longer.low <= longer.high
    assert shorter.low <= shorter.high <= longer.high
    for changed, found in ((change_hours(work, 240), longer), (change_hours(work, -240), shorter)):
        assert all(broken_rules(changed, one) == [] for one in found.plans)


def test_a_qualified_person_more_and_a_closed_site_change_what_may_go_where():
    work = Work([visit(1, needs_qualified_person=True)], [day(1)])
    plan = plan_days(work, steps=0)
    assert plan.value == 0
    helped = add_qualified_person(work, [1])
    assert what_if(helped, plan, steps=1).low == 10
    assert what_if(close_site(helped, 1, days=[1]), plan, steps=1).high == 0


def test_work_tells_its_progress_in_steps():
    told: list[tuple[int, int, int]] = []
    plan_days(small_work(3), steps=10, progress=lambda *row: told.append(row))
    assert [row[:2] for row in told] == [(k, 10) for k in range(1, 11)]


@pytest.mark.parametrize(
    ("work", "words"),
    [
        (lambda: Work([visit(1), visit(1)], [day(1)]), "candidate 1 is named twice"),
        (lambda: Work([visit(1, -1)], [day(1)]), "takes -1 minutes"),
        (lambda: Work([visit(1, 5, -3)], [day(1)]), "is worth -3"),
        (lambda: Work([visit(1)], [day(1, start=600, end=500)]), "lasts from 600 to 500"),
    ],
)
def test_impossible_work_is_refused(work, words):
    with pytest.raises(ValueError, match=words):
        work()
