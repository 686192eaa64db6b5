"""The table of what a plan leaves: the greatest chance first, told by a trend where there is one."""

from dataclasses import replace
from datetime import date

import pytest

from service.domain.plan_risks import AtRisk, risks_of
from service.domain.words import Access
from service.storage.unit import Store
from service.usecases.plans import change
from service.usecases.plans.risks import read_risks
from tests.plans.builders import NOW, drawn, planning_plant

TODAY, LAST = date(2026, 11, 25), date(2026, 12, 31)
CALM = AtRisk(
    equipment_id=1,
    equipment_class="switchboard",
    condition="average",
    access=Access.CLOSED_FRONT,
    outdoor=False,
    pf_months=None,
    made_on=date(2021, 1, 4),
    last_full_on=date(2026, 6, 1),
    due_on=date(2026, 12, 1),
    chance_12=None,
    smallest_fault_k=8.0,
    load_share=0.6,
    faults=0,
)


def test_a_trend_of_its_own_tells_the_chance_until_the_next_visit() -> None:
    rising = replace(CALM, equipment_id=2, chance_12=0.9)
    told = risks_of([CALM, rising], {}, last=LAST, today=TODAY)
    first = told.unseen[0]
    assert (first.at.equipment_id, first.by_trend) == (2, True)
    # 1 − 0.1^(Δ/12) with Δ from 25 November to 30 January (worked by hand)
    assert first.chance == pytest.approx(1 - 0.1 ** (66 / 30.4375 / 12), abs=0.01)
    assert told.expected == pytest.approx(sum(risk.chance for risk in told.unseen))


def test_equipment_unseen_for_longer_or_with_faults_on_record_is_likelier_to_fail() -> None:
    long_ago = replace(CALM, equipment_id=2, last_full_on=date(2025, 6, 1))
    failing = replace(CALM, equipment_id=3, faults=4)
    told = {
        risk.at.equipment_id: risk.chance
        for risk in risks_of([CALM, long_ago, failing], {}, last=LAST, today=TODAY).unseen
    }
    assert told[2] > told[1]
    assert told[3] > told[1]


def test_what_is_seen_is_listed_by_what_would_still_hide(store: Store) -> None:
    hiding = replace(CALM, equipment_id=2, smallest_fault_k=30.0)
    seen = risks_of([CALM, hiding], {1: LAST, 2: LAST}, last=LAST, today=TODAY).seen
    assert [risk.at.equipment_id for risk in seen] == [2, 1]


def test_what_is_taken_off_a_plan_is_told_as_unseen(any_store: Store) -> None:
    plant = planning_plant(any_store, sites=1)
    page = drawn(any_store, plant)
    left = page.body.walks[0].stops[0].equipment_id if page.body.walks[0].stops else plant.equipment_ids[0]
    change.change_plan(
        any_store,
        plant.actor(),
        page.plan.id,
        change.excluding(left, "spare"),
        version=page.plan.version,
        now=NOW,
    )
    found = read_risks(any_store, plant.actor(), page.plan.id, now=NOW)
    assert [risk.at.equipment_id for risk in found.risks.unseen] == [left]
