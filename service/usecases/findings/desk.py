"""The Desk: what waits for a decision, gravest and oldest first."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.desk import DeskItem, Waiting, in_order
from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.storage import desk
from service.storage.unit import Store
from service.usecases.findings.carried_items import carried_items


@dataclass(frozen=True, slots=True)
class Desk:
    """Items in order; ``more`` are undecided points beyond those read."""

    items: tuple[DeskItem, ...]
    more: int

    def of(self, waiting: Waiting) -> tuple[DeskItem, ...]:
        return tuple(item for item in self.items if item.waiting is waiting)


def see_desk(store: Store, actor: Actor, *, now: datetime) -> Desk:
    """Everything that waits within the sites (and, for technicians, the rounds) of the actor."""
    require(actor, Verb.SEE)
    sight = desk.Sight(actor.site_ids, actor.person_id if own_rounds_only(actor) else None)
    with store.look() as unit:
        undecided, total = desk.undecided_points(unit, sight)
        items = [
            *undecided,
            *desk.finding_items(unit, sight, now),
            *desk.held_items(unit, sight),
            *desk.double_items(unit, sight),
            *desk.round_items(unit, sight),
            *desk.question_items(unit, sight),
            *carried_items(unit, sight),
        ]
    told = {item.finding_id for item in undecided if item.finding_id is not None}
    items = [item for item in items if item.waiting is not Waiting.REVIEW or item.finding_id not in told]
    return Desk(tuple(in_order(items)), max(0, total - len(undecided)))
