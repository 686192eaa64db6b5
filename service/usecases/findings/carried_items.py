"""What was carried over so often that somebody should change something: lines of the Desk."""

from service.domain.carried_over import CarriedOver, better_time, carried_over
from service.domain.desk import DeskItem, Waiting
from service.domain.stop_facts import EquipmentFacts
from service.storage import carried_over as unread
from service.storage import round_facts
from service.storage.desk import MOST, Sight
from service.storage.unit import Unit


def carried_items(unit: Unit, sight: Sight) -> list[DeskItem]:
    """Equipment without a usable reading for as many visits in a row as its client wants to hear of."""
    most = unread.most_carried_over(unit)
    least = min(most.values(), default=0)
    found = carried_over(unread.unread_in_sight(unit, sight))
    found = {key: one for key, one in found.items() if one.times >= least}
    if not found:
        return []
    facts = round_facts.equipment_facts(unit, found)
    often = [one for one in found.values() if one.times >= most[facts[one.equipment_id].site_id]]
    often.sort(key=lambda one: (-one.times, one.equipment_id))
    return [_item(one, facts[one.equipment_id]) for one in often[:MOST]]


def _item(one: CarriedOver, facts: EquipmentFacts) -> DeskItem:
    said = one.said[0].upper() + one.said[1:]
    points = "1 point" if one.points == 1 else f"{one.points} points"
    return DeskItem(
        Waiting.CARRIED_OVER,
        one.visits[-1].on,
        facts.site_id,
        facts.site_name,
        f"{facts.name} ({facts.tag}), {points}",
        f"{said}. Better: {better_time(one, facts)}.",
        equipment_id=one.equipment_id,
    )
