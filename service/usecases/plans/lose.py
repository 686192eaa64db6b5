"""A day is lost: what filling free time would win back, and what planning the others anew would."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.plans import Walk
from service.errors import NotFound
from service.planning.replanning import DayLost, lose_day
from service.storage import plans
from service.storage.unit import Store
from service.usecases.plans.candidates import read_ground
from service.usecases.plans.draw_up import STAY_PRICE
from service.usecases.plans.issued import held_by_rounds
from service.usecases.plans.planned import planned_days_of
from service.usecases.plans.see import PlanPage, plan_page
from service.usecases.plans.sight import plan_to_see
from service.usecases.plans.work import work_of

#: steps of the look ahead: enough to choose by; the order itself searches longer
LOOK_STEPS = 120


@dataclass(frozen=True, slots=True)
class LostLook:
    """The walk that would be lost and both ways to go on, side by side."""

    page: PlanPage
    walk: Walk
    lost: DayLost

    @property
    def waiting(self) -> int:
        return len(self.lost.lost)

    @property
    def filled_back(self) -> int:
        """Stops that find a place in free time, nobody else moving."""
        return self._placed(self.lost.inserted.day_of)

    @property
    def anew_back(self) -> int:
        return self._placed(self.lost.reworked.day_of)

    def _placed(self, day_of: dict[int, int]) -> int:
        return sum(key in day_of for key in self.lost.lost)


def look_at_loss(store: Store, actor: Actor, plan_id: int, key: str, *, now: datetime) -> LostLook:
    """What losing a walk would cost, before it is lost.

    Raises
    ------
    NotFound, Forbidden
        The plan or the walk is absent or out of sight; or not this role's.
    """
    with store.look() as unit:
        plan = plan_to_see(unit, actor, plan_id)
        require(actor, Verb.KEEP_REGISTER)
        page = plan_page(unit, actor, plan)
        own = plans.rounds_of(unit, plan_id).values()
        held = held_by_rounds(unit, plan_id, page.body)
        ground = read_ground(unit, client_id=plan.client_id, body=held, own_rounds=own, today=now.date())
    walk = page.walk(key)
    at = next(
        (n for n, one in enumerate(one for one in page.body.walks if not one.lost) if one.key == key), None
    )
    if at is None:
        raise NotFound("This walk is lost already")
    lost = lose_day(
        work_of(held, ground),
        planned_days_of(held),
        crew_day=at,
        steps=LOOK_STEPS,
        stay_price=STAY_PRICE,
    )
    return LostLook(page, walk, lost)
