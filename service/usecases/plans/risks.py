"""The risk that a plan leaves: what is not seen this month, and what its walks would not show."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.plan_risks import RiskThatStays, risks_of
from service.domain.stop_facts import EquipmentFacts
from service.storage import plan_risks, round_facts
from service.storage.unit import Store
from service.usecases.plans.candidates import month_span
from service.usecases.plans.see import PlanPage, plan_page
from service.usecases.plans.sight import plan_to_see

#: rows of each half of the table
MOST_ROWS = 25


@dataclass(frozen=True, slots=True)
class PlanRisks:
    """The table with the names of what is in it."""

    page: PlanPage
    risks: RiskThatStays
    facts: dict[int, EquipmentFacts]


def read_risks(
    store: Store, actor: Actor, plan_id: int, *, number: int | None = None, now: datetime
) -> PlanRisks:
    """What may happen before the next visit, of what a plan does not see and of what it does.

    Raises
    ------
    NotFound, Forbidden
        Absent or out of sight; or not this role's.
    """
    with store.look() as unit:
        page = plan_page(unit, actor, plan_to_see(unit, actor, plan_id), number=number)
        equipment = plan_risks.equipment_at_risk(unit, page.body.site_ids)
        seen_on = {stop.equipment_id: walk.day for walk in page.body.walks for stop in walk.stops}
        last = month_span(page.body.month_on)[1]
        risks = risks_of(equipment, seen_on, last=last, today=now.date())
        told = (*risks.unseen[:MOST_ROWS], *risks.seen[:MOST_ROWS])
        facts = round_facts.equipment_facts(unit, {risk.at.equipment_id for risk in told})
    return PlanRisks(page, risks, facts)
